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
    int32_t wedged_mm;              /* the plate sticks here until the cord lifts it; -1 free */
    uint32_t chance;                /* state of the glitches' generator */
    int32_t bottom_broken;
    int32_t starts, stuck_s;        /* runs begun; seconds that a driver stuck on has run the motor */
    int32_t at_end;                 /* the motor's current has shown the lower end, or a jam, in this run or the last */
} machine_t;

/* One minute of the world. clock: day * 1440 + minute, or -1 when it is not valid. */
typedef struct {
    int32_t clock;
    int16_t counts, jam_mm;         /* jam_mm: the plate cannot pass this point, -1 none */
    int16_t slip_mm;                /* so much cord runs off the spool at the start of this minute */
    uint8_t power, clock_set, hand, keep_shut, battery;
    uint8_t frozen;                 /* the plate is frozen to the sill */
    uint8_t top_fault, bottom_fault, reversed, broken;
    int16_t wedge_mm;               /* at the start of this minute the plate is lifted to here and sticks, -1 not */
    uint8_t glitch;                 /* thousandths a second, on each wire: it reads what it does not say */
    uint8_t brown_out;              /* 1: every start of the motor resets the chip */
    uint8_t stuck_on;               /* DOOR_UP, DOOR_DOWN: the driver goes on after such a run */
    uint8_t reset_s;                /* a reset in this second, 255 none */
    uint8_t top_blip_s, bottom_blip_s;  /* made for one sample in this second of each run, 0 never */
    uint8_t bottom_breaks_s;        /* its wire breaks in this second of a lowering: reads made from then on, 0 never */
} world_minute_t;

typedef struct { int16_t plate_mm, shift_min; uint16_t alarms; uint8_t want, reason, door, time; } told_minute_t;

uint8_t trial_reader(uint16_t day, door_row_t *row);
#endif
