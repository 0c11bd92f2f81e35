/* door_clock.h - the time of day: from the clock chip, from the keeper, or kept by the program itself. */
#ifndef DOOR_CLOCK_H
#define DOOR_CLOCK_H

#include "door_decision.h"

#ifdef __cplusplus
extern "C" {
#endif

/* What a line from the keeper asked for. */
enum { DOOR_SAID_MORE = 0, DOOR_SAID_NOTHING, DOOR_SAID_TIME, DOOR_SAID_SHOW, DOOR_SAID_HEAD, DOOR_SAID_WHAT };

void door_clock_start(void);
void door_clock_second(door_inputs_t *in); /* fills in the clock's part of the inputs */
void door_clock_write(void);   /* the keeper's time has been believed: the clock is set to it */
void door_clock_forget(void);  /* it has not */
uint8_t door_clock_command(void); /* takes what has come over the serial line; DOOR_SAID_MORE until a line is whole */

#ifdef __cplusplus
}
#endif
#endif
