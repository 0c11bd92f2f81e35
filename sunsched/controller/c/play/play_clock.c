/* play_clock.c - the program's clock files as they are built for one kind of clock, PLAY_CLOCK, under names of their own.
 *
 * A site's program holds one kind; this one is compiled once for each, and play_clocks.c calls the site's. */
#if PLAY_CLOCK == 4
#define DOOR_CLOCK_CHIP 0
#define DOOR_CLOCK_REGISTERS 0
#else
#define DOOR_CLOCK_CHIP 1
#define DOOR_CLOCK_REGISTERS PLAY_CLOCK
#endif

#define PLAY_PASTE(name, kind) name##kind
#define PLAY_NAMED(name, kind) PLAY_PASTE(name, kind)
#define PLAY_OWN(name) PLAY_NAMED(name##_, PLAY_CLOCK)

#define door_clock_start PLAY_OWN(door_clock_start)
#define door_clock_second PLAY_OWN(door_clock_second)
#define door_clock_seconds PLAY_OWN(door_clock_seconds)
#define door_clock_write PLAY_OWN(door_clock_write)
#define door_clock_forget PLAY_OWN(door_clock_forget)
#define door_clock_said PLAY_OWN(door_clock_said)
#define door_clock_chip_start PLAY_OWN(door_clock_chip_start)
#define door_clock_chip_read PLAY_OWN(door_clock_chip_read)
#define door_clock_chip_set PLAY_OWN(door_clock_chip_set)
#define door_clock_chip_cell_low PLAY_OWN(door_clock_chip_cell_low)

#include "door_clock_chip.c"

#include "door_clock.c"
