/* bare_table.c - a program that does nothing but check a packed table and ask it for one day, to weigh it: the
 * program without EMPTY less the program with it is the table, its checksum and the look-up of a date. */
#ifndef EMPTY
#if defined(TABLE_HEADER)
#include TABLE_HEADER
#define IMAGE door_image
#define ROOM ((uint16_t)DOOR_IMAGE_BYTES)
#else
#include "sunsched_table.h"
extern const uint8_t image_room[ROOM];
const uint8_t image_room[ROOM] SUNSCHED_IMAGE_MEMORY = {0xFFu};
#define IMAGE image_room
#endif
#endif
#include <stdint.h>

extern volatile uint8_t month, day, good;
extern volatile int16_t open_min, close_min;
extern volatile uint16_t year;
volatile uint8_t month, day, good;
volatile int16_t open_min, close_min;
volatile uint16_t year;

int main(void)
{
    for (;;) {
#ifdef EMPTY
        good = month;
        open_min = day;
        close_min = (int16_t)year;
#else
        good = (uint8_t)(sunsched_check(IMAGE, ROOM) == SUNSCHED_GOOD);
#if defined(TABLE_HEADER) && !defined(MANY_YEARS)
        open_min = door_open_min(month, day);
        close_min = door_close_min(month, day);
#else
        open_min = sunsched_open_min_of(IMAGE, year, month, day);
        close_min = sunsched_close_min_of(IMAGE, year, month, day);
#endif
#endif
    }
}
