/* door_rows.c - see door_rows.h. A good table image in EEPROM (FORMAT.md) comes before the header in flash. */
#include "door_rows.h"

#include "door_board.h"
#include "door_site.h"
#include "door_table.h"

/* The image begins at EEPROM's byte 0: an "address" here is a place in EEPROM, read by the board. */
#define SUNSCHED_READ(address) board_kept((uint16_t)(uintptr_t)(address))
#define SUNSCHED_WITH_PLAIN
#define SUNSCHED_WITH_BLOCKS
#define SUNSCHED_WITH_SLOPES
#define SUNSCHED_WITH_CURVES
#define SUNSCHED_WITH_YEARS
#include "sunsched_table.h"
#include "sunsched_facts.h"

#define IMAGE ((const uint8_t *)0)

static uint8_t renewed;
static uint16_t first_year, last_year;

void door_rows_start(void)
{
    renewed = (uint8_t)((sunsched_check(IMAGE, DOOR_MEMORY_AT) == SUNSCHED_GOOD) &&
                        (sunsched_keeps(IMAGE) != SUNSCHED_KEEPS_CIVIL));
    first_year = (renewed != 0u) ? sunsched_first_year(IMAGE) : DOOR_YEAR;
    last_year = (renewed != 0u) ? sunsched_last_year(IMAGE) : DOOR_YEAR;
}

static int16_t told(uint8_t number, int16_t otherwise) { return sunsched_setting(IMAGE, number, otherwise); }

void door_rows_settings(door_settings_t *s)
{
    if (renewed == 0u) { return; }
    s->morning_from_min = told(SUNSCHED_MORNING_CELL_FROM_MIN, s->morning_from_min);
    s->morning_until_min = told(SUNSCHED_MORNING_CELL_UNTIL_MIN, s->morning_until_min);
    s->evening_from_min = told(SUNSCHED_EVENING_CELL_FROM_MIN, s->evening_from_min);
    s->evening_until_min = told(SUNSCHED_EVENING_CELL_UNTIL_MIN, s->evening_until_min);
    s->dark_counts = told(SUNSCHED_DARK_COUNTS, s->dark_counts);
    s->bright_counts = told(SUNSCHED_LIGHT_COUNTS, s->bright_counts);
    s->confirm_s = (uint16_t)told(SUNSCHED_CONFIRM_S, (int16_t)s->confirm_s);
}

static uint16_t days_before(uint16_t year) { return door_day_number((uint8_t)(year - 2000u), 1u, 1u); }

uint16_t door_rows_first_day(void) { return days_before(first_year); }
uint16_t door_rows_days(void) { return (uint16_t)(days_before((uint16_t)(last_year + 1u)) - days_before(first_year)); }
int16_t door_rows_utc_offset_min(void) { return (renewed != 0u) ? sunsched_offset_min(IMAGE) : DOOR_UTC_OFFSET_MIN; }

static void look_up(uint16_t year, uint8_t month, uint8_t date, door_row_t *row)
{
    if (renewed != 0u) {
        row->open_min = sunsched_open_min_of(IMAGE, year, month, date);
        row->close_min = sunsched_close_min_of(IMAGE, year, month, date);
        row->midnight_min = sunsched_midnight_min(IMAGE, year, month, date);
        row->facts = sunsched_facts(IMAGE, year, month, date);
    } else {
        row->open_min = door_open_min(month, date);
        row->close_min = door_close_min(month, date);
        row->midnight_min = door_midnight_min(month, date);
        row->facts = door_facts(month, date);
    }
}

uint8_t door_rows_read(uint16_t day, door_row_t *row)
{
    uint16_t year = (uint16_t)(first_year - 1u);
    uint8_t month = 1u;
    if ((uint16_t)(day + 1u) < days_before(first_year)) { return 0u; }
    while ((year <= last_year) && (day >= days_before((uint16_t)(year + 1u)))) { year++; }
    day = (uint16_t)(day - days_before(year));
    while ((month < 12u) && (day >= sunsched_month_days(year, month))) {
        day = (uint16_t)(day - sunsched_month_days(year, month));
        month++;
    }
    if (day >= 31u) { return 0u; } /* past the year after the last */
    day++;
    if (year < first_year) { year = first_year; }
    if (year > last_year) { year = last_year; }
    if (day > sunsched_month_days(year, month)) { day--; } /* a 29 February whose row is not there */
    look_up(year, month, (uint8_t)day, row);
    return 1u;
}
