/* door_memory.h - what survives a power cut, in EEPROM: eight slots used in turn, because cells wear. */
#ifndef DOOR_MEMORY_H
#define DOOR_MEMORY_H

#include "door_decision.h"

#ifdef __cplusplus
extern "C" {
#endif

uint8_t door_memory_start(door_kept_t *kept); /* the newest good slot and the mark; 0 if there is neither */
void door_memory_start_mark(const door_t *door); /* stores a change of starts_lost at once, and waits until it is */
void door_memory_second(const door_t *door);  /* stores what has changed, a byte a second */

#ifdef __cplusplus
}
#endif
#endif
