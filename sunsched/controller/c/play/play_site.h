/* play_site.h - what is one site's own, as data: a program built for one chip has it compiled in.
 *
 * The program played in a page is built once for all sites. Whoever plays it fills this block before power-up. The three
 * texts that a site's program has in flash are marks here (door_values.h), each followed by room; they are written over. */
#ifndef PLAY_SITE_H
#define PLAY_SITE_H

#include "door_decision.h"

#define PLAY_TABLES_ROOM 8192u /* more than a chip's flash has beside the program */

enum { PLAY_CLOCKS = 5, PLAY_NO_CLOCK_CHIP = 4 }; /* kinds 0 to 3: DOOR_REGISTERS_* of door_clock_chip.h */

typedef struct {
    door_settings_t settings;
    int16_t utc_offset_min;                            /* the chip's clock minus UTC */
    uint16_t battery_low_counts, battery_spent_counts; /* 0: the battery is not watched */
    uint16_t tables_bytes;
    uint8_t clock;                                     /* a kind of registers, or PLAY_NO_CLOCK_CHIP */
    uint8_t tables[PLAY_TABLES_ROOM];                  /* images, one behind the other */
} play_site_t;

extern play_site_t play_site;

#endif
