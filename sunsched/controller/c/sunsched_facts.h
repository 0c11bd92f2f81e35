/* sunsched_facts.h - what the chip is told beside the minutes: solar midnight and four facts a day.
 * Part of sunsched_table.h.
 *
 * Facts of an image: mean solar midnight less 17 min (16 bits, quarter minutes); one byte: low half the facts of
 * 1 January, bit 4: two bytes of weekdays follow on which twilight does not decide the opening, the closing (bit 0
 * Monday); then a byte for each change: high 6 bits the days since the change before, low 2 bits which fact turns
 * (0 dark expected .. 3 closing by twilight); 63 days: no change, the days just pass.
 *
 * Departs from MISRA C:2012 in:
 *   8.9   the nodes stand beside the macro that reads them.
 *   10.1  a negative number is shifted right; sunsched_image.h refuses compilers on which that loses the sign.
 *   15.5  what cannot be answered returns at once.
 *   18.4  bytes follow each other in an image that sunsched_check has found whole; SUNSCHED_READ takes an address.
 */
#ifndef SUNSCHED_FACTS_H
#define SUNSCHED_FACTS_H

#include "sunsched_date.h"
#include "sunsched_image.h"

/* How late solar noon is, plus 17 min [quarter minutes], on 1 January and every 16 days after; lines between.
 * Within 0.93 min of every noon from 2020 to 2049. */
#if defined(__AVR__)
#include <avr/pgmspace.h>
#define SUNSCHED_LATE_IN PROGMEM
#define SUNSCHED_LATE(node) pgm_read_byte(&sunsched_late[node])
#else
#define SUNSCHED_LATE_IN
#define SUNSCHED_LATE(node) (sunsched_late[node])
#endif
static const uint8_t sunsched_late[24] SUNSCHED_LATE_IN = {
    84, 110, 124, 124, 113, 95, 76, 60, 53, 55, 66, 80, 92, 95, 88, 72, 50, 27, 9, 1, 7, 27, 57, 89
};

static inline const uint8_t *sunsched_facts_at(const uint8_t *image)
{
    return image + SUNSCHED_HEAD_BYTES + SUNSCHED_READ(image + SUNSCHED_AT_SETTINGS);
}

/* Solar midnight after the noon of a date [chip minutes], within 1.3 min; it may pass 1439. A chip that keeps
 * civil time must add its summer time. */
static inline int16_t sunsched_midnight_min(const uint8_t *image, uint16_t year, uint8_t month, uint8_t day)
{
    const uint16_t at = sunsched_day_of_year(year, month, day);
    const uint16_t node = (uint16_t)(at >> 4);
    const unsigned int part = (unsigned int)at & 15u;
    unsigned int late;
    if (at == SUNSCHED_NO_DAY) {
        return SUNSCHED_ERR_DATE;
    }
    late = (unsigned int)SUNSCHED_LATE(node) * (16u - part);
    late += ((unsigned int)SUNSCHED_LATE(node + 1u) * part) + 8u;
    return (int16_t)(((int16_t)sunsched_word(sunsched_facts_at(image)) + (int16_t)(late >> 4) + 2) >> 2);
}

/* The facts of a date, SUNSCHED_DARK_EXPECTED and so on, added up; 0 if there is no such date. */
static inline uint8_t sunsched_facts(const uint8_t *image, uint16_t year, uint8_t month, uint8_t day)
{
    const uint8_t *at = sunsched_facts_at(image) + 2;
    const uint8_t *const end = at + ((unsigned int)SUNSCHED_READ(image + SUNSCHED_AT_FACTS) - 2u);
    const uint16_t today = sunsched_day_of_year(year, month, day);
    const uint8_t head = SUNSCHED_READ(at);
    uint8_t facts = (uint8_t)(head & 15u);
    uint16_t from = 0;
    if (today == SUNSCHED_NO_DAY) {
        return 0;
    }
    for (at += ((head & 16u) != 0u) ? 3 : 1; at < end; at++) {
        const uint8_t change = SUNSCHED_READ(at);
        from = (uint16_t)(from + ((unsigned int)change >> 2));
        if ((from <= today) && ((change >> 2) != 63u)) {
            facts = (uint8_t)(facts ^ (1u << (change & 3u)));
        }
    }
    if ((head & 16u) != 0u) {
        const uint8_t weekday = sunsched_weekday(year, today);
        at = sunsched_facts_at(image) + 3;
        if ((((unsigned int)SUNSCHED_READ(at) >> weekday) & 1u) != 0u) {
            facts = (uint8_t)(facts & ~SUNSCHED_OPEN_BY_TWILIGHT);
        }
        if ((((unsigned int)SUNSCHED_READ(at + 1) >> weekday) & 1u) != 0u) {
            facts = (uint8_t)(facts & ~SUNSCHED_CLOSE_BY_TWILIGHT);
        }
    }
    return facts;
}

#endif /* SUNSCHED_FACTS_H */
