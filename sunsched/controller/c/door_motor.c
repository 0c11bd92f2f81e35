/* door_motor.c - rules G: one run at a time, from rest, never past what the spool holds. */
#include "door_inner.h"

static uint8_t rest(door_t *d, uint16_t seconds)
{
    d->phase = PHASE_IDLE;
    d->wait_s = seconds;
    d->lift = 0;
    return DOOR_HALT;
}

static uint8_t wrong_way(door_t *d, const door_settings_t *s)
{
    d->alarms |= DOOR_ALARM_WRONG_WAY;
    d->blocked = 1;
    d->place = PLACE_UNKNOWN;
    d->paid_s = s->down_budget_s;
    return rest(d, s->retry_s);
}

/* What `run_s` seconds of raising took in, counted in seconds of lowering. */
static void take_in(door_t *d, const door_settings_t *s)
{
    uint16_t taken = (uint16_t)((uint16_t)(d->run_s - 1u) * 100u / s->lower_percent);
    if (taken > d->paid_s) { taken = d->paid_s; }
    d->paid_s = (uint16_t)(d->paid_s - taken);
}

static uint8_t failed_try(door_t *d, const door_settings_t *s, uint16_t alarm)
{
    d->alarms |= alarm;
    if (d->attempts < 255u) { d->attempts++; }
    d->place = PLACE_UNKNOWN;
    return rest(d, d->attempts < s->tries ? s->retry_s : s->late_retry_s);
}

static uint8_t arrived_up(door_t *d, const door_settings_t *s)
{
    uint16_t wait_s = (uint16_t)(d->lift ? s->retry_s : s->dead_s);
    d->place = PLACE_UP;
    return rest(d, wait_s);
}

static uint8_t raising(door_t *d, const door_settings_t *s, uint8_t want, uint8_t top, uint8_t bottom)
{
    uint16_t need_s = (uint16_t)(d->paid_s * s->lower_percent / 100u), limit_s = (uint16_t)(need_s + need_s / 2u + 1u);
    if (limit_s < s->up_least_s) { limit_s = s->up_least_s; }
    if (limit_s > s->up_cutoff_s) { limit_s = s->up_cutoff_s; }
    if (top && d->top_open_s > 0u) {
        d->paid_s = 0;
        d->wiring_proven = 1;
        d->alarms &= (uint16_t)~(DOOR_ALARM_NOT_UP | DOOR_ALARM_NOT_RISING);
        if (bottom) { d->alarms |= DOOR_ALARM_SWITCHES; } else { d->alarms &= (uint16_t)~DOOR_ALARM_SWITCHES; }
        return arrived_up(d, s);
    }
    if (bottom && d->bottom_open_s > 1u) { return wrong_way(d, s); }
    if (want == DOOR_WANT_DOWN && !d->lift) {       /* what was taken in is not counted: it may have been slack */
        d->place = (uint8_t)(bottom && d->bottom_open_s == 0u ? PLACE_DOWN : PLACE_UNKNOWN);
        return rest(d, s->dead_s);
    }
    if (d->bottom_first && !bottom) { d->wiring_proven = 1; }
    if (bottom && d->bottom_open_s == 0u && !top && d->run_s > s->leave_s) {
        if (!d->wiring_proven) { return wrong_way(d, s); }
        return failed_try(d, s, DOOR_ALARM_NOT_RISING);
    }
    if (d->run_s > limit_s || (top && d->run_s > (uint16_t)(need_s + 2u))) {
        take_in(d, s);
        if (top) { d->alarms |= DOOR_ALARM_SWITCHES; } else { d->alarms |= DOOR_ALARM_NOT_UP; }
        return arrived_up(d, s);
    }
    return DOOR_UP;
}

static uint8_t lowering(door_t *d, const door_settings_t *s, uint8_t want, uint8_t top, uint8_t bottom)
{
    if (bottom && d->bottom_open_s > 0u) {
        d->place = PLACE_DOWN;
        d->alarms &= (uint16_t)~DOOR_ALARM_NOT_DOWN;
        if (!top) { d->alarms &= (uint16_t)~DOOR_ALARM_SWITCHES; }
        return rest(d, s->dead_s);
    }
    if (top && (d->top_open_s > 1u || (d->top_open_s == 0u && d->run_s > s->leave_s && !d->wiring_proven))) {
        return wrong_way(d, s);
    }
    if (d->top_first && !top) { d->wiring_proven = 1; }     /* it left the top on the order to go down */
    if (bottom && d->paid_s >= (uint16_t)(s->down_nominal_s + 2u)) {
        d->place = PLACE_DOWN;
        d->alarms |= DOOR_ALARM_SWITCHES;
        return rest(d, s->dead_s);
    }
    if (d->paid_s >= s->down_budget_s) {
        d->clear = (uint8_t)(d->attempts + 1u < s->tries);
        (void)failed_try(d, s, DOOR_ALARM_NOT_DOWN);
        if (d->clear == 0u) { d->place = PLACE_DOWN; }      /* left lowered: the plate rests on whatever is there */
        return rest(d, s->retry_s);
    }
    if (want == DOOR_WANT_UP) {
        d->place = (uint8_t)(top && d->top_open_s == 0u ? PLACE_UP : PLACE_UNKNOWN);
        return rest(d, s->dead_s);
    }
    d->paid_s++;
    return DOOR_DOWN;
}

/* From rest: start a run if the door is wanted elsewhere. A switch made alone tells the place after power-up. */
static uint8_t may_start(door_t *d, const door_settings_t *s, uint8_t want, uint8_t top, uint8_t bottom)
{
    if (!d->ran && top != bottom) {
        d->place = (uint8_t)(top ? PLACE_UP : PLACE_DOWN);
        if (top) { d->paid_s = 0; }
    }
    if (want == DOOR_WANT_STAY || d->blocked || d->attempts >= s->tries + s->late_tries) { return 0; }
    if (want == DOOR_WANT_UP) {
        if (d->place == PLACE_UP) { return 0; }
        d->phase = PHASE_RAISING;
        d->lift = 0;
    } else {
        if (d->place == PLACE_DOWN) { return 0; }
        d->lift = (uint8_t)(d->clear || (d->place == PLACE_UNKNOWN && d->paid_s >= s->down_budget_s));
        d->phase = (uint8_t)(d->lift ? PHASE_RAISING : PHASE_LOWERING);
    }
    d->clear = 0;
    d->run_s = 0;
    d->top_open_s = 0;
    d->bottom_open_s = 0;
    d->top_first = top;
    d->bottom_first = bottom;
    d->ran = 1;
    return 1;
}

uint8_t door_motor_step(door_t *d, const door_settings_t *s, uint8_t want, uint8_t top, uint8_t bottom)
{
    if (want != d->asked) {
        d->asked = want;
        d->attempts = 0;
        d->clear = 0;
        if (d->phase == PHASE_IDLE && d->wait_s > s->dead_s && d->boot_s > s->start_rest_s) { d->wait_s = s->dead_s; }
    }
    if (d->phase == PHASE_IDLE) {
        if (d->wait_s > 0u) { d->wait_s--; return DOOR_HALT; }
        if (!may_start(d, s, want, top, bottom)) { return DOOR_HALT; }
    }
    door_count(&d->run_s, 1);
    if (!top) { door_count(&d->top_open_s, 1); }
    if (!bottom) { door_count(&d->bottom_open_s, 1); }
    if (top && bottom && d->top_open_s > 0u && d->bottom_open_s > 0u) {
        d->alarms |= DOOR_ALARM_SWITCHES;
        d->place = PLACE_UNKNOWN;
        return rest(d, s->retry_s);
    }
    return d->phase == PHASE_RAISING ? raising(d, s, want, top, bottom) : lowering(d, s, want, top, bottom);
}
