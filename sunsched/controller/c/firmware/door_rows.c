/* door_rows.c - see door_rows.h; the table is the plain header door_table.h, in flash. */
#include "door_rows.h"

#include "door_table.h"

static uint16_t first_day;

void door_rows_start(void) { first_day = door_day_number((uint8_t)(DOOR_YEAR % 100), 1u, 1u); }

uint16_t door_rows_first_day(void) { return first_day; }
uint16_t door_rows_days(void) { return DOOR_ROWS; }
int16_t door_rows_utc_offset_min(void) { return DOOR_UTC_OFFSET_MIN; }

#define ROW_28_FEBRUARY 58u

/* The row that stands for a day of the year after the table's. */
static uint16_t next_year_row(uint16_t row)
{
    uint16_t stands = row;
#if DOOR_FEBRUARY_DAYS == 29
    if (row > ROW_28_FEBRUARY) { stands++; }
#elif (DOOR_YEAR % 4) == 3
    if (row > ROW_28_FEBRUARY) { stands--; }
#endif
    return stands;
}

uint8_t door_rows_read(uint16_t day, door_row_t *row)
{
    uint16_t at = (uint16_t)(day - first_day);
    uint8_t month = 1u;
    if (at == 0xFFFFu) { at = (uint16_t)(DOOR_ROWS - 1u); }
    if (at >= DOOR_ROWS) { at = next_year_row((uint16_t)(at - DOOR_ROWS)); }
    if (at >= DOOR_ROWS) { return 0u; }
    while (at >= door_month_days(month)) {
        at = (uint16_t)(at - door_month_days(month));
        month++;
    }
    at++;
    row->open_min = door_open_min(month, (uint8_t)at);
    row->close_min = door_close_min(month, (uint8_t)at);
    row->midnight_min = door_midnight_min(month, (uint8_t)at);
    row->facts = door_facts(month, (uint8_t)at);
    return 1u;
}
