/* sunsched_rules.h - the rules that the decoder applies to a table's curve, in their order. Part of sunsched_table.h.
 *
 * A rule: one byte (bits 0-2 what: 1 add, 2 at least, 3 at most, 4 the door stays down; bits 3 and 4: holds for the
 * opening, for the closing; bit 5: on some dates only; bit 6: on some weekdays only; bit 7: in one year only); if in
 * one year: that year less 2000 (one byte); if dates: from and to (16 bits each; `to` is the first day on which it no
 * longer holds; from after to wraps the year's end); if weekdays: one
 * byte, bit 0 Monday; unless the door stays down: minutes (16 bits, signed). A date: bits 0-8 days since 1 January
 * in a leap year, bits 9-11: 0, or a weekday (1 Monday .. 7 Sunday) to move forward to if it is not that day.
 *
 * Departs from MISRA C:2012 in:
 *   17.8  a parameter counts down in place of a copy of it, which saves stack.
 *   18.4  bytes follow each other in an image that sunsched_check has found whole; SUNSCHED_READ takes an address.
 */
#ifndef SUNSCHED_RULES_H
#define SUNSCHED_RULES_H

#include "sunsched_date.h"
#include "sunsched_image.h"

/* The day of the year that a rule's date means in `year`. */
static inline uint16_t sunsched_rule_day(uint16_t date, uint16_t year)
{
    const uint8_t wanted = (uint8_t)((date >> 9) & 7u);
    unsigned int day = (unsigned int)date & 511u;
    if ((day > 59u) && (sunsched_is_leap(year) == 0u)) {
        day--;
    }
    if (wanted != 0u) {
        const uint8_t is = (uint8_t)(sunsched_weekday(year, (uint16_t)day) + 1u);
        day += (unsigned int)wanted - is + ((wanted < is) ? 7u : 0u);
    }
    return (uint16_t)day;
}

static inline int16_t sunsched_ruled(
    const uint8_t *at, uint8_t length, uint8_t side, uint16_t year, uint16_t day, int16_t minute)
{
    const uint8_t *const end = at + length;
    while ((at < end) && (minute != SUNSCHED_NONE)) {
        const uint8_t head = SUNSCHED_READ(at);
        const uint8_t what = (uint8_t)(head & 7u);
        uint8_t holds = (uint8_t)(((unsigned int)head >> 3u >> side) & 1u);
        at++;
        if ((head & 0x80u) != 0u) {
            holds = (uint8_t)((year == (2000u + (unsigned int)SUNSCHED_READ(at))) ? holds : 0u);
            at++;
        }
        if ((head & 0x20u) != 0u) {
            const uint16_t from = sunsched_rule_day(sunsched_word(at), year);
            const uint16_t to = sunsched_rule_day(sunsched_word(at + 2), year);
            const uint8_t after = (day >= from) ? 1u : 0u;
            const uint8_t before = (day < to) ? 1u : 0u;
            if (from <= to) {
                holds = (uint8_t)((unsigned int)holds & after & before);
            } else {
                holds = (uint8_t)((unsigned int)holds & ((unsigned int)after | before));
            }
            at += 4;
        }
        if ((head & 0x40u) != 0u) {
            holds = (uint8_t)(holds & ((unsigned int)SUNSCHED_READ(at) >> sunsched_weekday(year, day)));
            at++;
        }
        if (what == 4u) {
            minute = (holds != 0u) ? (int16_t)SUNSCHED_NONE : minute;
        } else {
            const int16_t value = (int16_t)sunsched_word(at);
            at += 2;
            if ((holds != 0u) && (what == 1u)) {
                minute = (int16_t)(minute + value);
            }
            if ((holds != 0u) && (((what == 2u) && (minute < value)) || ((what == 3u) && (minute > value)))) {
                minute = value;
            }
        }
    }
    return minute;
}

#endif /* SUNSCHED_RULES_H */
