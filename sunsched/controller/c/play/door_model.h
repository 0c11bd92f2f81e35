/* door_model.h - motor, spool, cord, plate and end switches, in steps of a tenth of a second. */
#ifndef DOOR_MODEL_H
#define DOOR_MODEL_H
#include <stdint.h>

typedef struct {
    /* the machine */
    double travel_mm, raise_mm_s; /* cord speed at full duty */
    double cord_mm;               /* on the spool when the door is up; paid out beyond it, the cord winds backwards */
    uint8_t top_stuck, bottom_stuck; /* 0 works, 1 never makes, 2 always made */
    uint8_t wires_swapped;
    double jam_mm;                /* the plate comes no lower than this; 0: free */
    uint8_t rigid;                /* a rod, not a cord: the motor is held where the plate is */
    uint8_t frozen;               /* the plate cannot leave the sill */
    /* its state */
    double paid_mm;               /* cord paid out since the door was up; more than the travel is slack */
    double most_paid_mm, stalled_s, driven_s;
    uint8_t held;                 /* the motor was held in the last step */
} door_model;

double door_model_height_mm(const door_model *door); /* 0: on the sill */
uint8_t door_model_top(const door_model *door);
uint8_t door_model_bottom(const door_model *door);
void door_model_move(door_model *door, int direction, double duty, double seconds); /* +1 raises, -1 lowers */
#endif
