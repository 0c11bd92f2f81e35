/* door_model.c - see door_model.h. */
#include "door_model.h"

#define SWITCH_MM 2.0   /* an end switch makes this far from its end */
#define BEYOND_MM 3.0   /* the stop above the upper switch */

double door_model_height_mm(const door_model *d)
{
    double paid = d->paid_mm <= d->cord_mm ? d->paid_mm : 2.0 * d->cord_mm - d->paid_mm;
    double height = d->travel_mm - paid;
    return height < d->jam_mm ? d->jam_mm : height;
}

uint8_t door_model_top(const door_model *d)
{
    if (d->top_stuck) { return d->top_stuck == 2; }
    return door_model_height_mm(d) >= d->travel_mm - SWITCH_MM;
}

uint8_t door_model_bottom(const door_model *d)
{
    if (d->bottom_stuck) { return d->bottom_stuck == 2; }
    return door_model_height_mm(d) <= SWITCH_MM;
}

void door_model_move(door_model *d, int direction, double duty, double seconds)
{
    if (direction == 0 || duty <= 0.0) { return; }
    if (d->wires_swapped) { direction = -direction; }
    d->driven_s += seconds;
    d->held = 0;
    d->paid_mm -= direction * d->raise_mm_s * duty * seconds;
    if (d->paid_mm < -BEYOND_MM) {
        d->paid_mm = -BEYOND_MM;
        d->stalled_s += seconds;
    }
    if (d->frozen && direction > 0 && d->paid_mm < d->travel_mm) {
        d->paid_mm = d->travel_mm;
        d->stalled_s += seconds;
    }
    if (d->rigid && d->paid_mm > d->travel_mm - d->jam_mm) {
        d->paid_mm = d->travel_mm - d->jam_mm;
        d->stalled_s += seconds;
        d->held = 1;
    }
    if (d->paid_mm > 2.0 * d->cord_mm + BEYOND_MM) {
        d->paid_mm = 2.0 * d->cord_mm + BEYOND_MM;
        d->stalled_s += seconds;
    }
    if (d->paid_mm > d->most_paid_mm) { d->most_paid_mm = d->paid_mm; }
}
