/* door_trial.h - the decision core with a door, cord, spool and switches, driven through many days at once. */
#ifndef DOOR_TRIAL_H
#define DOOR_TRIAL_H
#include "door_decision.h"

/* The machine. Lengths in mm; per second. A switch fault: 0 or 1 is what it always reads, anything else none. */
typedef struct {
    double travel_mm, up_mm_s, down_mm_s, spool_mm;     /* spool_mm: cord that can be paid out before it winds back */
    double cord_mm;                                     /* paid out now; past spool_mm it winds on backwards */
    double stall_s, most_cord_mm;
    int32_t reversals_too_soon, longest_up_s, longest_down_s, up_moves, down_moves, both_s;
    int32_t run_s, rest_s, last_drive, last_run_drive;
    int32_t top_fault, bottom_fault, reversed, broken;
} machine_t;

/* One minute of the world. clock: day * 1440 + minute, or -1 when it is not valid. */
typedef struct {
    int32_t clock;
    int16_t counts, jam_mm;         /* jam_mm: the plate cannot pass this point, -1 none */
    int16_t slip_mm;                /* so much cord runs off the spool at the start of this minute */
    uint8_t power, clock_set, hand, keep_shut, battery;
    uint8_t frozen;                 /* the plate is frozen to the sill */
    uint8_t top_fault, bottom_fault, reversed, broken;
} world_minute_t;

typedef struct { int16_t plate_mm, shift_min; uint16_t alarms; uint8_t want, reason, door, time; } told_minute_t;
#endif
