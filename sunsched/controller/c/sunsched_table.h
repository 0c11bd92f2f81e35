/* sunsched_table.h - reads the table image that sunsched writes: when the door opens and closes.
 *
 * Use:  if (sunsched_check(image) != SUNSCHED_GOOD) { ... the table is damaged or not for this reader ... }
 *       close_min = sunsched_close_min(image, month, day);              a table of one year
 *       close_min = sunsched_close_min_of(image, year, month, day);     a table of one or many years
 *
 * An image lies in flash (AVR's default), in EEPROM (define SUNSCHED_IMAGE_IN_EEPROM) or in plain memory
 * (default elsewhere, or define SUNSCHED_IMAGE_IN_RAM); anything else: define SUNSCHED_READ(address) as an
 * expression that gives the byte at `address`. Minutes count from the chip's midnight of the date asked for,
 * an opening may be negative and a closing may pass 1439. The bytes are described in sunsched/table/FORMAT.md.
 *
 * C99 and C++11; no heap, no floating point, no division; right with a 16-bit int. Only the decoders asked for
 * are compiled in: define SUNSCHED_WITH_PLAIN, _BLOCKS, _SLOPES, _CURVES, _YEARS; none defined means all.
 *
 * Caution: this tells a minute, it certifies nothing. Look at birds and door daily; keep fingers clear.
 *
 * Departs from MISRA C:2012 in:
 *   2.5   names for the programs that include this.
 *   15.5  what cannot be answered returns at once.
 *   17.8  a parameter counts down in place of a copy of it, which saves stack.
 *   18.4  bytes follow each other in an image that sunsched_check has found whole; SUNSCHED_READ takes an address.
 */
#ifndef SUNSCHED_TABLE_H
#define SUNSCHED_TABLE_H

#include "sunsched_image.h"

#if !defined(SUNSCHED_WITH_PLAIN) && !defined(SUNSCHED_WITH_BLOCKS) && !defined(SUNSCHED_WITH_SLOPES) \
    && !defined(SUNSCHED_WITH_CURVES) && !defined(SUNSCHED_WITH_YEARS)
#define SUNSCHED_WITH_PLAIN
#define SUNSCHED_WITH_BLOCKS
#define SUNSCHED_WITH_SLOPES
#define SUNSCHED_WITH_CURVES
#define SUNSCHED_WITH_YEARS
#endif

/* an image's revision that has a rule of one year; others are still of SUNSCHED_TABLE_REVISION */
#define SUNSCHED_OF_ONE_YEAR 2u

/* what sunsched_check says */
#define SUNSCHED_GOOD 0u
#define SUNSCHED_NOT_A_TABLE 1u
#define SUNSCHED_OTHER_REVISION 2u
#define SUNSCHED_OTHER_LAYOUT 3u
#define SUNSCHED_DAMAGED 4u

/* the clock that the minutes are for: sunsched_keeps */
#define SUNSCHED_KEEPS_STANDARD 0u
#define SUNSCHED_KEEPS_UTC 1u
#define SUNSCHED_KEEPS_CIVIL 2u

/* numbers of the settings: sunsched_setting */
#define SUNSCHED_LATITUDE_CDEG 0u            /* hundredths of a degree, north positive */
#define SUNSCHED_LONGITUDE_CDEG 1u           /* hundredths of a degree, east positive */
#define SUNSCHED_MORNING_CELL_FROM_MIN 2u
#define SUNSCHED_MORNING_CELL_UNTIL_MIN 3u
#define SUNSCHED_EVENING_CELL_FROM_MIN 4u
#define SUNSCHED_EVENING_CELL_UNTIL_MIN 5u
#define SUNSCHED_DARK_COUNTS 6u
#define SUNSCHED_LIGHT_COUNTS 7u
#define SUNSCHED_CONFIRM_S 8u

/* layouts */
#define SUNSCHED_PLAIN 1u
#define SUNSCHED_BLOCKS 2u
#define SUNSCHED_SLOPES 3u
#define SUNSCHED_CURVES 4u
#define SUNSCHED_YEARS 5u

#if defined(SUNSCHED_WITH_BLOCKS)
#include "sunsched_blocks.h"
#endif
#if defined(SUNSCHED_WITH_SLOPES)
#include "sunsched_slopes.h"
#endif
#if defined(SUNSCHED_WITH_CURVES) || defined(SUNSCHED_WITH_YEARS)
#include "sunsched_curves.h"
#endif
#include "sunsched_date.h"
#include "sunsched_facts.h"
#include "sunsched_rules.h"

static inline uint8_t sunsched_layout(const uint8_t *image)
{
    return (uint8_t)(SUNSCHED_READ(image + 2) & 15u);
}

/* Which clock the minutes are for: SUNSCHED_KEEPS_STANDARD and so on. */
static inline uint8_t sunsched_keeps(const uint8_t *image)
{
    return (uint8_t)(SUNSCHED_READ(image + 2) >> 4);
}

/* The chip's clock minus UTC [minutes], without summer time. */
static inline int16_t sunsched_offset_min(const uint8_t *image)
{
    return (int16_t)sunsched_word(image + SUNSCHED_AT_OFFSET);
}

static inline uint16_t sunsched_first_year(const uint8_t *image)
{
    return (uint16_t)(2000u + (unsigned int)SUNSCHED_READ(image + SUNSCHED_AT_YEAR));
}

static inline uint16_t sunsched_last_year(const uint8_t *image)
{
    return (uint16_t)(sunsched_first_year(image) + (unsigned int)SUNSCHED_READ(image + SUNSCHED_AT_YEARS) - 1u);
}

static inline uint8_t sunsched_has_layout(uint8_t layout)
{
    uint8_t has = 0;
#ifdef SUNSCHED_WITH_PLAIN
    has = (layout == SUNSCHED_PLAIN) ? 1u : has;
#endif
#ifdef SUNSCHED_WITH_BLOCKS
    has = (layout == SUNSCHED_BLOCKS) ? 1u : has;
#endif
#ifdef SUNSCHED_WITH_SLOPES
    has = (layout == SUNSCHED_SLOPES) ? 1u : has;
#endif
#ifdef SUNSCHED_WITH_CURVES
    has = (layout == SUNSCHED_CURVES) ? 1u : has;
#endif
#ifdef SUNSCHED_WITH_YEARS
    has = (layout == SUNSCHED_YEARS) ? 1u : has;
#endif
    return has;
}

/* CRC-16 of `length` bytes: polynomial 0x1021, start 0xFFFF, no reflection. */
static inline uint16_t sunsched_crc(const uint8_t *at, uint16_t length)
{
    unsigned int crc = 0xFFFFu;
    uint8_t bit;
    while (length > 0u) {
        crc ^= (unsigned int)SUNSCHED_READ(at) << 8;
        for (bit = 0; bit < 8u; bit++) {
            crc = (((crc & 0x8000u) != 0u) ? ((crc << 1) ^ 0x1021u) : (crc << 1)) & 0xFFFFu;
        }
        at++;
        length--;
    }
    return (uint16_t)crc;
}

/* Whether an image is whole and for this reader; `room` is how many bytes it may fill. Reads every byte:
 * call it at start-up and once a day, not at every look-up. */
static inline uint8_t sunsched_check(const uint8_t *image, uint16_t room)
{
    const uint16_t length = sunsched_word(image + SUNSCHED_AT_LENGTH);
    if ((SUNSCHED_READ(image) != 0xD5u) || (length < (SUNSCHED_HEAD_BYTES + 2u)) || (length > room)) {
        return SUNSCHED_NOT_A_TABLE;
    }
    if ((SUNSCHED_READ(image + 1) != SUNSCHED_TABLE_REVISION) && (SUNSCHED_READ(image + 1) != SUNSCHED_OF_ONE_YEAR)) {
        return SUNSCHED_OTHER_REVISION;
    }
    if (sunsched_crc(image, (uint16_t)(length - 2u)) != sunsched_word(image + (length - 2u))) {
        return SUNSCHED_DAMAGED;
    }
    return (sunsched_has_layout(sunsched_layout(image)) != 0u) ? SUNSCHED_GOOD : SUNSCHED_OTHER_LAYOUT;
}

/* A setting by its number, SUNSCHED_LATITUDE_CDEG and so on; `otherwise` if the image does not carry it. */
static inline int16_t sunsched_setting(const uint8_t *image, uint8_t number, int16_t otherwise)
{
    const uint8_t at = (uint8_t)(number * 2u);
    if ((uint8_t)(at + 1u) >= SUNSCHED_READ(image + SUNSCHED_AT_SETTINGS)) {
        return otherwise;
    }
    return (int16_t)sunsched_word(image + SUNSCHED_HEAD_BYTES + at);
}

/* The table's data: after head, settings, facts and rules. */
static inline const uint8_t *sunsched_data(const uint8_t *image)
{
    return image + SUNSCHED_HEAD_BYTES + SUNSCHED_READ(image + SUNSCHED_AT_SETTINGS)
        + SUNSCHED_READ(image + SUNSCHED_AT_FACTS) + SUNSCHED_READ(image + SUNSCHED_AT_RULES);
}

/* A side's minute before the rules: side 0 opens, side 1 closes; day 0 is 1 January of `year`. */
static inline int16_t sunsched_curve_min(const uint8_t *image, uint8_t side, uint16_t year, uint16_t day)
{
    const uint8_t *const data = sunsched_data(image);
    int16_t minute = SUNSCHED_ERR_LAYOUT;
    (void)year;
    switch (sunsched_layout(image)) {
#ifdef SUNSCHED_WITH_PLAIN
    case SUNSCHED_PLAIN:
        minute = (int16_t)sunsched_word(data + (4u * day) + (2u * side));
        break;
#endif
#ifdef SUNSCHED_WITH_BLOCKS
    case SUNSCHED_BLOCKS:
        minute = sunsched_blocks_min(data, side, day);
        break;
#endif
#ifdef SUNSCHED_WITH_SLOPES
    case SUNSCHED_SLOPES:
        minute = sunsched_slopes_min(data, side, day);
        break;
#endif
#ifdef SUNSCHED_WITH_CURVES
    case SUNSCHED_CURVES:
        minute = sunsched_curves_min(data, side, day);
        break;
#endif
#ifdef SUNSCHED_WITH_YEARS
    case SUNSCHED_YEARS:
        minute = sunsched_years_min(data, side, sunsched_quarter_day(year, day));
        break;
#endif
    default:
        break;
    }
    return minute;
}

/* The minute of a side, 0 opening and 1 closing, with the rules applied; or SUNSCHED_NONE or an error. */
static inline int16_t sunsched_minute(const uint8_t *image, uint8_t side, uint16_t year, uint8_t month, uint8_t day)
{
    const uint16_t at = sunsched_day_of_year(year, month, day);
    const uint8_t *const rules
        = image + SUNSCHED_HEAD_BYTES + SUNSCHED_READ(image + SUNSCHED_AT_SETTINGS) + SUNSCHED_READ(image + SUNSCHED_AT_FACTS);
    int16_t minute;
    if ((at == SUNSCHED_NO_DAY) || (year < sunsched_first_year(image)) || (year > sunsched_last_year(image))) {
        return SUNSCHED_ERR_DATE;
    }
    minute = sunsched_curve_min(image, side, year, at);
    if (minute == SUNSCHED_ERR_LAYOUT) {
        return minute;
    }
    return sunsched_ruled(rules, SUNSCHED_READ(image + SUNSCHED_AT_RULES), side, year, at, minute);
}

/* When the door opens on a date of a table of many years [chip minutes]. */
static inline int16_t sunsched_open_min_of(const uint8_t *image, uint16_t year, uint8_t month, uint8_t day)
{
    return sunsched_minute(image, 0u, year, month, day);
}

/* When the door should be down on a date of a table of many years [chip minutes]. */
static inline int16_t sunsched_close_min_of(const uint8_t *image, uint16_t year, uint8_t month, uint8_t day)
{
    return sunsched_minute(image, 1u, year, month, day);
}

/* When the door opens on a date of the table's first year [chip minutes]. */
static inline int16_t sunsched_open_min(const uint8_t *image, uint8_t month, uint8_t day)
{
    return sunsched_minute(image, 0u, sunsched_first_year(image), month, day);
}

/* When the door should be down on a date of the table's first year [chip minutes]. */
static inline int16_t sunsched_close_min(const uint8_t *image, uint8_t month, uint8_t day)
{
    return sunsched_minute(image, 1u, sunsched_first_year(image), month, day);
}

#endif /* SUNSCHED_TABLE_H */
