/* door_rows.h - the tables as the decision core asks for them: a row for a day.
 *
 * Compiled in are tables of many years; two slots in EEPROM may hold newer ones (door_slots.h). The newest slot that
 * covers a day's year serves it, else flash does. */
#ifndef DOOR_ROWS_H
#define DOOR_ROWS_H

#include "door_decision.h"

#ifdef __cplusplus
extern "C" {
#endif

enum { DOOR_BY_FLASH = 2, DOOR_BY_NO_TABLE = 3 }; /* else a slot's number */

void door_rows_start(void);

/* A door_row_reader. A day after the last table, or in the year before the first, is DOOR_ROW_OUTSIDE. */
uint8_t door_rows_read(uint16_t day, door_row_t *row);
uint8_t door_rows_begun(void);            /* of the last day that was outside: 1 after the last table, 0 before the first */
uint8_t door_rows_serving(uint16_t day);  /* a slot, DOOR_BY_FLASH or DOOR_BY_NO_TABLE */

/* What the table of a day says of the light cell and its windows. */
void door_rows_settings(uint16_t day, door_settings_t *settings);

uint16_t door_rows_first_year(void); /* of the tables compiled in */
uint16_t door_rows_last_year(void);
int16_t door_rows_offset_min(void);  /* the chip's clock minus UTC */
int16_t door_rows_setting(uint8_t number); /* of the tables compiled in: latitude 0, longitude 1 */
uint16_t door_rows_crc(void);              /* of the tables compiled in */

#ifdef __cplusplus
}
#endif
#endif
