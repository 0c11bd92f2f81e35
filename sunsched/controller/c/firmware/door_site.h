/* door_site.h - what is this site's own, beside its table: see door_site.c. */
#ifndef DOOR_SITE_H
#define DOOR_SITE_H

#include "door_decision.h"
#include "door_values.h"

#ifdef __cplusplus
extern "C" {
#endif

/* EEPROM, 1024 bytes: two slots from 0 on, the ring of events, what is kept (LINE.md) */
#define DOOR_IMAGE_ROOM 300u
#define DOOR_SLOT_SIZE 304u
#define DOOR_RING_AT 608u
#define DOOR_MEMORY_AT 968u

void door_site_settings(door_settings_t *settings);

#ifdef __cplusplus
}
#endif
#endif
