/* door_ring.h - the last events, in EEPROM, over power cuts: LINE.md describes their bytes. */
#ifndef DOOR_RING_H
#define DOOR_RING_H

#include "door_decision.h"

#ifdef __cplusplus
extern "C" {
#endif

#define DOOR_RING_PLACES 40u
#define DOOR_EVENT_BYTES 9u

void door_ring_start(void); /* finds the newest event */
void door_ring_note(uint8_t event, const door_inputs_t *in, const door_outputs_t *out); /* an event: DOOR_LOG_* */
uint8_t door_ring_waits(void);  /* an event is not yet written */
uint8_t door_ring_write(void);  /* hands the oldest event not yet written to the writer; 0: there is none */
uint8_t door_ring_next(void);   /* the place at which the next event will stand */
uint8_t door_ring_whole(uint8_t place, uint8_t event[DOOR_EVENT_BYTES]); /* reads a place; 0: no event there */

#ifdef __cplusplus
}
#endif
#endif
