/* clock_chip.h - models of real-time clocks on the two-wire bus, by their data sheets (Maxim DS3231, DS1307; NXP PCF8523
 * Rev. 6, PCF8563 Rev. 10): time in BCD, the mark that the oscillator has stopped, the 1 Hz output, which falls as the
 * second changes. Written from the register pages, not from the program that is tested on them. */
#ifndef CLOCK_CHIP_H
#define CLOCK_CHIP_H
#include <stdint.h>

enum { CLOCK_CHIP_DS3231 = 0, CLOCK_CHIP_DS1307, CLOCK_CHIP_PCF8523, CLOCK_CHIP_PCF8563 };
#define CLOCK_CHIP_REGISTERS 0x40

typedef struct {
    int64_t seconds;     /* since 2000-01-01 00:00:00, what the registers show */
    uint8_t kind;
    uint8_t stopped;     /* the oscillator has stopped since it was set; of a DS1307: is halted (CH) */
    uint8_t cell_low;    /* the backup cell is low; a PCF8523 shows it */
    uint8_t pointer, pointed; /* register the next byte goes to or comes from; whether this write has named it */
    uint8_t halted;      /* the second no longer moves, nor does the output */
    uint8_t absent;      /* does not answer on the bus */
    uint8_t staged[7], touched; /* the time registers, frozen for one access; which of them were written */
    uint8_t other[CLOCK_CHIP_REGISTERS]; /* all that are not of the time */
} clock_chip;

void clock_chip_power_up(clock_chip *clock, uint8_t kind); /* registers as after a first power-up */
uint8_t clock_chip_address(const clock_chip *clock);       /* shifted beside the read bit */
void clock_chip_set(clock_chip *clock, int64_t seconds);
void clock_chip_tick(clock_chip *clock);
void clock_chip_begin(clock_chip *clock, int reading);
void clock_chip_put(clock_chip *clock, uint8_t value);
uint8_t clock_chip_take(clock_chip *clock);
void clock_chip_end(clock_chip *clock);
int clock_chip_pulses(const clock_chip *clock);
#endif
