/* sunsched_date.h - days of a year and days of the week, 2000 to 2099. Part of sunsched_table.h. *
 * Departs from MISRA C:2012 in:
 *   10.5  a comparison is 0 or 1 in C and in C++; an expression that says so takes 4 bytes more.
 *   15.5  what cannot be answered returns at once.
 */
#ifndef SUNSCHED_DATE_H
#define SUNSCHED_DATE_H

#include <stdint.h>

#define SUNSCHED_NO_DAY 0xFFFFu

/* 2000 to 2099 know no exception to every fourth year. */
static inline uint8_t sunsched_is_leap(uint16_t year)
{
    return (uint8_t)((year & 3u) == 0u);
}

static inline uint8_t sunsched_month_days(uint16_t year, uint8_t month)
{
    const unsigned int odd = ((unsigned int)month ^ ((unsigned int)month >> 3)) & 1u;
    return (uint8_t)((month == 2u) ? (28u + sunsched_is_leap(year)) : (30u + odd));
}

/* Days since 1 January; SUNSCHED_NO_DAY if there is no such date. */
static inline uint16_t sunsched_day_of_year(uint16_t year, uint8_t month, uint8_t day)
{
    unsigned int at = day;
    uint8_t m;
    if ((month < 1u) || (month > 12u) || (day < 1u) || (day > sunsched_month_days(year, month))) {
        return SUNSCHED_NO_DAY;
    }
    for (m = 1; m < month; m++) {
        at += sunsched_month_days(year, m);
    }
    return (uint16_t)(at - 1u);
}

/* Day of the week, Monday 0, of a day of a year. 1 January 2000 was a Saturday. */
static inline uint8_t sunsched_weekday(uint16_t year, uint16_t day)
{
    const unsigned int since = (unsigned int)year - 2000u;
    unsigned int n = since + ((since + 3u) >> 2) + 5u + day;
    while (n >= 70u) {
        n -= 70u;
    }
    while (n >= 7u) {
        n -= 7u;
    }
    return (uint8_t)n;
}

#endif /* SUNSCHED_DATE_H */
