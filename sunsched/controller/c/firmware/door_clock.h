/* door_clock.h - the time of day: from the clock chip, from the keeper, or kept by the program itself. */
#ifndef DOOR_CLOCK_H
#define DOOR_CLOCK_H

#include "door_decision.h"

#ifdef __cplusplus
extern "C" {
#endif

void door_clock_start(void);
uint8_t door_clock_second(door_inputs_t *in); /* the clock's part of the inputs; 0: it is what it was */
uint8_t door_clock_seconds(void); /* of the clock's own minute */
void door_clock_write(void);   /* the keeper's time has been believed: the clock is set to it */
void door_clock_forget(void);  /* it has not */
uint8_t door_clock_said(const char *line, uint8_t n); /* a line of the keeper's: DOOR_SAID_TIME, or DOOR_SAID_WHAT */

#ifdef __cplusplus
}
#endif
#endif
