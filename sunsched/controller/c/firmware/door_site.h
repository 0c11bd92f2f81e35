/* door_site.h - what is this site's own, beside its table: see door_site.c. */
#ifndef DOOR_SITE_H
#define DOOR_SITE_H

#include "door_decision.h"
#include "door_values.h"

#ifdef __cplusplus
extern "C" {
#endif

#define DOOR_MEMORY_AT 960u /* EEPROM: the last 64 bytes are the program's; the table's image begins at 0 */

void door_site_settings(door_settings_t *settings);

#ifdef __cplusplus
}
#endif
#endif
