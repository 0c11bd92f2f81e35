/* sunsched_curves.h - minutes as two curves whose curvature changes every few days. Part of sunsched_table.h.
 *
 * Data: one byte (low 5 bits: days of a segment less one; high 3 bits: the step of curvature as a power of two);
 * the start of the opening curve (slope 16 bits, curvature 8 bits, value 16 bits), the start of the closing curve;
 * then a byte for each segment, low half for the opening, high half for the closing: the change of curvature, in
 * steps, plus 8. A table of one year steps a day at a time, in units of 1/512 min, its starting value in 1/4 min; a
 * table of many years steps a quarter of a day at a time, in units of 1/4096 min, its starting value in 1/16 min,
 * and is asked for as many quarters later as the Sun is ahead of the calendar. The value is kept as 24 bits.
 *
 * Departs from MISRA C:2012 in:
 *   10.1  a negative number is shifted right; sunsched_image.h refuses compilers on which that loses the sign.
 *   17.8  a parameter counts down in place of a copy of it, which saves stack.
 *   18.4  bytes follow each other in an image that sunsched_check has found whole; SUNSCHED_READ takes an address.
 */
#ifndef SUNSCHED_CURVES_H
#define SUNSCHED_CURVES_H

#include "sunsched_image.h"

/* 24 bits are enough for the value, and shorter where the compiler has them. */
#if defined(__AVR__) && defined(__INT24_MAX__)
__extension__ typedef __int24 sunsched_value;
__extension__ typedef __uint24 sunsched_bits;
#define SUNSCHED_TOP(word) ((sunsched_value)((sunsched_bits)(word) << 8))
#else
typedef int32_t sunsched_value;
typedef uint32_t sunsched_bits;
#define SUNSCHED_TOP(word) ((sunsched_value)(int16_t)(word) * 256)
#endif

/* A program with one table in flash may fix both, for a shorter decoder. */
#ifndef SUNSCHED_CURVES_DAYS
#define SUNSCHED_CURVES_DAYS(data) ((uint8_t)((SUNSCHED_READ(data) & 31u) + 1u))
#define SUNSCHED_CURVES_STEP(data) ((uint8_t)(1u << (SUNSCHED_READ(data) >> 5)))
#endif

/* A side's value after some steps of time; a segment is `length` steps. */
static inline int16_t sunsched_curve(
    const uint8_t *data, uint8_t side, uint16_t steps, uint8_t length, uint8_t unit, uint8_t down, uint8_t shift)
{
    const uint8_t *at = data + ((side != 0u) ? 6 : 1);
    int16_t slope = (int16_t)sunsched_word(at);
    int8_t curvature = (int8_t)SUNSCHED_READ(at + 2);
    sunsched_value value = SUNSCHED_TOP(sunsched_word(at + 3)) >> down;
    uint8_t left = 0;
    at = data + 11;
    while (steps-- != 0u) {
        if (left == 0u) {
            uint8_t change = SUNSCHED_READ(at);
            at++;
            if (side != 0u) {
                change = (uint8_t)(change >> 4);
            }
            change = (uint8_t)((change & 15u) * unit);
            curvature = (int8_t)(curvature + (int8_t)change - (8 * (int8_t)unit));
            left = length;
        }
        left--;
        value += slope;
        slope = (int16_t)(slope + curvature);
    }
    return (int16_t)((int16_t)(uint16_t)((sunsched_bits)value >> 8) >> shift);
}

/* The minute of a side on a day of a table of one year; day 0 is 1 January. */
static inline int16_t sunsched_curves_min(const uint8_t *data, uint8_t side, uint16_t day)
{
    return sunsched_curve(data, side, day, SUNSCHED_CURVES_DAYS(data), SUNSCHED_CURVES_STEP(data), 1u, 1u);
}

/* The minute of a side in a table of many years; see sunsched_quarter_day. */
static inline int16_t sunsched_years_min(const uint8_t *data, uint8_t side, uint16_t quarter_day)
{
    const uint8_t length = (uint8_t)(SUNSCHED_CURVES_DAYS(data) * 4u);
    return sunsched_curve(data, side, quarter_day, length, SUNSCHED_CURVES_STEP(data), 0u, 4u);
}

/* Quarters of a day since 1 January of a leap year, for the Sun of that day of `year`: each year after a leap year
 * the calendar is another quarter behind. */
static inline uint16_t sunsched_quarter_day(uint16_t year, uint16_t day)
{
    return (uint16_t)((day * 4u) + ((0u - year) & 3u));
}

#endif /* SUNSCHED_CURVES_H */
