/* door_site.c - the decision core's constants for this site, copied from flash at start. */
#include "door_site.h"

#include "door_text.h"

static const door_settings_t values DOOR_KEPT_IN_FLASH = DOOR_VALUES;

void door_site_settings(door_settings_t *settings)
{
    const uint8_t *from = (const uint8_t *)&values;
    uint8_t *to = (uint8_t *)settings;
    uint8_t i;
    for (i = 0u; i < (uint8_t)sizeof values; i++) { to[i] = DOOR_FLASH_BYTE(&from[i]); }
}
