/* door_calm.h - seconds in which nothing can happen: their steps are counted, and taken all at once.
 *
 * A step does the same as the step before it, but for counters of seconds, as long as
 *   - that step has changed nothing but those counters (door_calm_step compares the whole state),
 *   - the inputs but the light are the same (the caller's promise),
 *   - the light lies on the same side of every level, and within a flat light's reach unless none is timed,
 *   - no minute begins, and no counter comes within a second of a limit that a rule compares it with.
 * Such seconds are calm: the outputs stay, and the counters follow later, exactly as if each step had been taken.
 * tests/controller/test_calm.py holds this: every field of the state, every second, through all trials, and that each
 * comparison in the rules with a level or a time in seconds stands in door_calm.c.
 *
 * Use:  door_calm_start(&calm);                     after door_boot()
 *       then once a second
 *         if the inputs but the light are those of the last second: door_calm_second(&calm, &door, counts)
 *         if it gave 0, or they are others: door_calm_step(...), which is door_step()
 *       door_calm_settle(&calm, &door);             before anyone else reads `door`
 *       door_calm_end(&calm, &door);                before anyone else changes `door` or the settings, or tables do */
#ifndef DOOR_CALM_H
#define DOOR_CALM_H
#include "door_decision.h"
#ifdef __cplusplus
extern "C" {
#endif

typedef struct {
    int16_t low_counts;         /* the light is calm from here on [counts] */
    uint16_t width_counts;      /* as far as this above it [counts] */
    int16_t flat_counts;        /* reach of a flat light about door_t.flat_ref_counts [counts] */
    uint8_t left_s;             /* seconds that may pass without a step [s] */
    uint8_t owed_s;             /* seconds that have, and that the counters lack [s] */
    door_t expected;            /* what the last step should have made of the state if it was calm */
} door_calm_t;

void door_calm_start(door_calm_t *calm);

/* 1: the second is calm and all outputs stay as they are. 0: it wants a step. */
uint8_t door_calm_second(door_calm_t *calm, door_t *door, int16_t light_counts);

void door_calm_step(door_calm_t *calm, door_t *door, const door_settings_t *settings, door_row_reader reader,
                    const door_inputs_t *in, door_outputs_t *out);
void door_calm_settle(door_calm_t *calm, door_t *door);
void door_calm_end(door_calm_t *calm, door_t *door);

#ifdef __cplusplus
}
#endif
#endif
