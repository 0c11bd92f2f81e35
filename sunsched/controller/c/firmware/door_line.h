/* door_line.h - lines that come in over the serial line: LINE.md describes them and their answers. */
#ifndef DOOR_LINE_H
#define DOOR_LINE_H

#include "door_decision.h"

#ifdef __cplusplus
extern "C" {
#endif

/* What a line asked for that the program has to do. */
enum { DOOR_SAID_MORE = 0, DOOR_SAID_NOTHING, DOOR_SAID_TIME, DOOR_SAID_SHOW, DOOR_SAID_HEAD, DOOR_SAID_WHAT,
       DOOR_SAID_DONE };

/* The state that identifies, read only. */
typedef struct {
    const door_t *door;
    const door_inputs_t *in;
    const door_outputs_t *out;
} door_view_t;

void door_line_start(void);
uint8_t door_line_take(const door_view_t *view); /* at most one line; DOOR_SAID_MORE until one is whole */
uint8_t door_line_waits(void);   /* a line waits for the writer */
uint8_t door_line_written(void); /* the writer has ended: answers; 1 if the tables in use have changed */

#ifdef __cplusplus
}
#endif
#endif
