/* door_rows.h - the table as the decision core asks for it: a row for a day. */
#ifndef DOOR_ROWS_H
#define DOOR_ROWS_H

#include "door_decision.h"

#ifdef __cplusplus
extern "C" {
#endif

void door_rows_start(void); /* looks for a renewed table in EEPROM; else the one compiled in serves */

/* A door_row_reader. Serves the table's year, the day before it (whose night ends in it) and, by month and day, the
 * year after it: a keeper who forgets the renewal gets minutes that are a few off, not a door that stands still. */
uint8_t door_rows_read(uint16_t day, door_row_t *row);

void door_rows_settings(door_settings_t *settings); /* what a renewed image says of the light cell and its windows */

uint16_t door_rows_first_day(void); /* days since 2000-01-01 */
uint16_t door_rows_days(void);
int16_t door_rows_utc_offset_min(void);

#ifdef __cplusplus
}
#endif
#endif
