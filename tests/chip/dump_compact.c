/* dump_compact.c - prints a packed table day by day: open, close, facts, solar midnight, all in hex; then what the
 * check says of the whole image and of one byte less room, how many impossible dates were refused, the image's own
 * words (clock, offset, first and last year, ten settings, and one never carried), and on an ATmega328P the cycles and the bytes of stack
 * of the slowest and the deepest look-up.
 *
 * Years to print: YEARS; years that must be refused: OUTSIDE (the first year less one, and so on).
 * TABLE_HEADER: a generated header, its image where that lies by default or by SUNSCHED_IMAGE_IN_...; MANY_YEARS if
 * its functions take a year. IMAGE_FILE: an image as bytes, copied to RAM. Neither: an image of ROOM bytes that is
 * put into the EEPROM afterwards. */
#if defined(TABLE_HEADER)
#include TABLE_HEADER
#define IMAGE door_image
#define ROOM ((uint16_t)DOOR_IMAGE_BYTES)
#else
#include "sunsched_table.h"
#if defined(IMAGE_FILE)
static const uint8_t kept[] = {
#include IMAGE_FILE
};
static uint8_t image_room[sizeof(kept)];
#define IMAGE ((const uint8_t *)image_room)
#define ROOM ((uint16_t)sizeof(kept))
#else
extern const uint8_t image_room[ROOM];
const uint8_t image_room[ROOM] SUNSCHED_IMAGE_MEMORY = {0xFFu};
#define IMAGE image_room
#endif
#endif
#include "console.h"

static const uint16_t years[] = {YEARS};
static const uint16_t outside[] = {OUTSIDE};
#define COUNT(list) ((uint8_t)(sizeof(list) / sizeof((list)[0])))

/* The functions that a door's program would call. */
static __attribute__((noinline)) int16_t asked(uint8_t side, uint16_t year, uint8_t month, uint8_t day)
{
#if defined(TABLE_HEADER) && defined(MANY_YEARS)
    return side == 0u ? door_open_min(year, month, day) : door_close_min(year, month, day);
#elif defined(TABLE_HEADER)
    (void)year;
    return side == 0u ? door_open_min(month, day) : door_close_min(month, day);
#else
    return side == 0u ? sunsched_open_min_of(IMAGE, year, month, day) : sunsched_close_min_of(IMAGE, year, month, day);
#endif
}

static uint8_t facts_asked(uint16_t year, uint8_t month, uint8_t day) { return sunsched_facts(IMAGE, year, month, day); }

#ifdef __AVR_ATmega328P__
extern uint8_t __heap_start;
static uint16_t slowest, deepest;

/* Paints the memory under the stack before a look-up, and finds afterwards how far down the paint is gone. */
static uint16_t timed(uint8_t side, uint16_t year, uint8_t month, uint8_t day)
{
    uint8_t *const top = (uint8_t *)SP;
    uint8_t *at;
    uint16_t begun, cycles;
    int16_t minute;
    if (day == 1u) {
        for (at = &__heap_start; at < top; at++) { *at = 0xC5u; }
    }
    TCCR1B = 1u;
    TIFR1 = (uint8_t)(1u << TOV1);
    TCNT1 = 0u;
    begun = TCNT1;
    minute = asked(side, year, month, day);
    cycles = (uint16_t)(TCNT1 - begun);
    if ((TIFR1 & (1u << TOV1)) != 0u) { cycles = 0xFFFFu; }
    if (cycles > slowest) { slowest = cycles; }
    if (day == 1u) {
        for (at = &__heap_start; *at == 0xC5u; at++) {}
        if ((uint16_t)(top - at) + 1u > deepest) { deepest = (uint16_t)(top - at) + 1u; }
    }
    return (uint16_t)minute;
}
#else
static uint16_t timed(uint8_t side, uint16_t year, uint8_t month, uint8_t day)
{
    return (uint16_t)asked(side, year, month, day);
}
#endif

static void print_year(uint16_t year, uint16_t *refused)
{
    uint8_t month, day;
    for (month = 0u; month <= 13u; month++) {
        for (day = 0u; day <= 32u; day++) {
            if (sunsched_day_of_year(year, month, day) == SUNSCHED_NO_DAY) {
                const uint8_t none = (uint8_t)(asked(0u, year, month, day) == SUNSCHED_ERR_DATE
                    && asked(1u, year, month, day) == SUNSCHED_ERR_DATE && facts_asked(year, month, day) == 0u
                    && sunsched_midnight_min(IMAGE, year, month, day) == SUNSCHED_ERR_DATE);
                *refused = (uint16_t)(*refused + none);
                continue;
            }
            put_hex(timed(0u, year, month, day), 4u);
            put_hex(timed(1u, year, month, day), 4u);
            put_hex(facts_asked(year, month, day), 2u);
            put_hex((uint16_t)sunsched_midnight_min(IMAGE, year, month, day), 4u);
            end_line();
        }
    }
}

/* How many real dates of a year are refused, both sides. */
static uint16_t refused_days(uint16_t year)
{
    uint8_t month, day;
    uint16_t refused = 0u;
    for (month = 1u; month <= 12u; month++) {
        for (day = 1u; day <= sunsched_month_days(year, month); day++) {
            const uint8_t none = (uint8_t)(sunsched_open_min_of(IMAGE, year, month, day) == SUNSCHED_ERR_DATE
                && sunsched_close_min_of(IMAGE, year, month, day) == SUNSCHED_ERR_DATE);
            refused = (uint16_t)(refused + none);
        }
    }
    return refused;
}

int main(void)
{
    uint8_t n;
    uint16_t refused = 0u;
    console_start();
#ifdef IMAGE_FILE
    {
        uint16_t at;
        for (at = 0u; at < ROOM; at++) { image_room[at] = kept[at]; }
    }
#endif
    for (n = 0u; n < COUNT(years); n++) { print_year(years[n], &refused); }
    put('#');
    put_hex(sunsched_check(IMAGE, ROOM), 2u);
    put_hex(sunsched_check(IMAGE, (uint16_t)(sunsched_word(IMAGE + SUNSCHED_AT_LENGTH) - 1u)), 2u);
    put_hex(refused, 4u);
    for (n = 0u; n < COUNT(outside); n++) { put_hex(refused_days(outside[n]), 4u); }
    end_line();
    put('#');
    put_hex(sunsched_keeps(IMAGE), 2u);
    put_hex((uint16_t)sunsched_offset_min(IMAGE), 4u);
    put_hex(sunsched_first_year(IMAGE), 4u);
    put_hex(sunsched_last_year(IMAGE), 4u);
    for (n = 0u; n < 11u; n++) { put_hex((uint16_t)sunsched_setting(IMAGE, n, -2), 4u); }
    end_line();
#ifdef __AVR_ATmega328P__
    put('#');
    put_hex(slowest, 4u);
    put_hex(deepest, 4u);
    end_line();
#endif
    console_end();
    return 0;
}
