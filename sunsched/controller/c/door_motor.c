/* door_motor.c - rules G: one run at a time, from rest, never past what the spool holds. */
#include "door_inner.h"

#define SOONER_S 2u         /* G7: a lowering so much sooner than the last has not ended; so much longer: held up */
#define FALL_S 2u           /* a plate whose cord has broken is down sooner than any motor lowers it */
#ifndef GLITCHES_AT_ONCE    /* shortened by the state-space test only */
#define GLITCHES_AT_ONCE 8u /* in one wish: a worn switch must not make the motor stutter all day */
#endif

static uint8_t rest(door_t *d, uint16_t seconds)
{
    d->phase = PHASE_IDLE;
    d->wait_s = seconds;
    d->lift = 0;
    d->starts_lost = 0;         /* this start has not ended in a reset */
    return DOOR_HALT;
}

static uint8_t halt_for_good(door_t *d, const door_settings_t *s, uint16_t alarm)
{
    d->alarms |= alarm;
    d->blocked = 1;
    d->place = PLACE_UNKNOWN;
    d->left = PLACE_UNKNOWN;
    d->paid_s = s->down_budget_s;
    return rest(d, s->retry_s);
}

/* The rest before the next try after `tries` of them: a minute, then longer, to spare battery and driver. */
uint16_t door_wait_after(const door_settings_t *s, uint8_t tries)
{
    uint16_t late_s = s->late_retry_s;
    if (tries < s->tries) { return s->retry_s; }
    if (s->late_tries == 0u) { return DOOR_FULL; }
    tries = (uint8_t)(tries - s->tries);
    if (tries >= s->late_tries) { late_s = (uint16_t)(late_s * 2u); }
    if (tries >= 2u * s->late_tries) { late_s = (uint16_t)(late_s * 2u); }
    return late_s;
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
    return rest(d, door_wait_after(s, d->attempts));
}

/* Not down: lift and try again; the last try leaves it lowered, the plate rests on whatever is there. */
static uint8_t not_down(door_t *d, const door_settings_t *s)
{
    d->clear = (uint8_t)(d->attempts + 1u < s->tries);
    (void)failed_try(d, s, DOOR_ALARM_NOT_DOWN);
    if (d->clear == 0u) { d->place = PLACE_DOWN; d->seat = SEAT_NONE; }
    return rest(d, s->retry_s);
}

static uint8_t by_time(door_t *d, uint16_t seconds, uint8_t place, uint16_t alarm)
{
    d->alarms |= alarm;
    d->place = place;
    return rest(d, seconds);
}

/* A switch has stopped the run: it counts when it has held, at rest. */
static uint8_t at_switch(door_t *d, const door_settings_t *s, uint8_t place)
{
    uint16_t wait_s = (uint16_t)(d->lift ? s->retry_s : s->dead_s);
    if (wait_s + 1u < s->seat_s) { wait_s = (uint16_t)(s->seat_s - 1u); }
    d->place = place;
    d->seat = SEAT_FRESH;
    return rest(d, wait_s);
}

/* Whether a made switch shows the end: one made from the start must have been open for longer than a glitch. */
static uint8_t proves(uint8_t first, uint16_t open_s, const door_settings_t *s)
{
    return (uint8_t)(open_s >= (first ? s->seat_s : 1u));
}

/* The far switch was made in a run: wires reversed if it holds, else a glitch. */
static uint8_t suspect(door_t *d, const door_settings_t *s, uint8_t top)
{
    if (d->phase == PHASE_RAISING && top) { take_in(d, s); }    /* made from the start: the next run ends by time */
    d->suspect = d->phase;
    d->place = PLACE_UNKNOWN;
    return rest(d, s->dead_s > s->moved_s ? s->dead_s : s->moved_s);
}

static uint8_t raising(door_t *d, const door_settings_t *s, uint8_t want, uint8_t top, uint8_t bottom)
{
    uint16_t need_s = (uint16_t)(d->paid_s * s->lower_percent / 100u), limit_s = (uint16_t)(need_s + need_s / 2u + 1u);
    uint16_t after_s = (uint16_t)(d->lift ? s->retry_s : s->dead_s);
    if (limit_s < s->up_least_s) { limit_s = s->up_least_s; }
    if (limit_s > s->up_cutoff_s) { limit_s = s->up_cutoff_s; }
    if (top && proves(d->top_first, d->top_open_s, s)) { return at_switch(d, s, PLACE_UP); }
    if (bottom && d->bottom_open_s > 1u) { return suspect(d, s, top); }
    if (want == DOOR_WANT_DOWN && !d->lift) {       /* what was taken in is not counted: it may have been slack */
        d->place = (uint8_t)(bottom && d->bottom_open_s == 0u ? PLACE_DOWN : PLACE_UNKNOWN);
        return rest(d, s->dead_s);
    }
    if (d->bottom_first && !bottom) { d->wiring_proven = 1; }
    if (bottom && !top && ((d->bottom_open_s == 0u && d->run_s > s->leave_s) || (d->bottom_first && d->run_s > limit_s))) {
        if (!d->wiring_proven) { return halt_for_good(d, s, DOOR_ALARM_WRONG_WAY); }
        return failed_try(d, s, DOOR_ALARM_NOT_RISING);
    }
    if (d->run_s > limit_s || (top && d->run_s > (uint16_t)(need_s + 2u))) {
        take_in(d, s);
        return by_time(d, after_s, PLACE_UP, top ? DOOR_ALARM_SWITCHES : DOOR_ALARM_NOT_UP);
    }
    return DOOR_UP;
}

static uint8_t lowering(door_t *d, const door_settings_t *s, uint8_t want, uint8_t top, uint8_t bottom)
{
    if (bottom && proves(d->bottom_first, d->bottom_open_s, s)) { return at_switch(d, s, PLACE_DOWN); }
    if (top && d->top_open_s > 1u) { return suspect(d, s, top); }
    if (top && d->top_open_s == 0u && d->run_s > s->leave_s && !d->wiring_proven) {
        return halt_for_good(d, s, DOOR_ALARM_WRONG_WAY);
    }
    if (d->top_first && !top) { d->wiring_proven = 1; }     /* it left the top on the order to go down */
    if (bottom && d->paid_s >= (uint16_t)(s->down_nominal_s + 2u)) {
        return by_time(d, s->dead_s, PLACE_DOWN, DOOR_ALARM_SWITCHES);
    }
    if (d->paid_s >= s->down_budget_s) { return not_down(d, s); }
    if (want == DOOR_WANT_UP) {
        d->place = (uint8_t)(top && d->top_open_s == 0u ? PLACE_UP : PLACE_UNKNOWN);
        return rest(d, s->dead_s);
    }
    d->paid_s++;
    return DOOR_DOWN;
}

/* ---- at rest: the switches with the motor off ---- */
static void hold(uint8_t *was, uint8_t *held_s, uint8_t now)
{
    if (now != *was) { *was = now; *held_s = 0; }
    if (*held_s < 255u) { (*held_s)++; }
}


static void again_after(door_t *d, uint16_t wait_s)
{
    d->place = PLACE_UNKNOWN;
    d->seat = SEAT_NONE;
    if (d->mends < 255u) { d->mends++; }
    if (d->wait_s < wait_s) { d->wait_s = wait_s; }
}

static void glitch(door_t *d, const door_settings_t *s)
{
    if (d->glitches < 255u) { d->glitches++; }
    again_after(d, d->mends < GLITCHES_AT_ONCE ? 0u : s->late_retry_s);
}

/* Rule G7: the lower switch has come too soon; else this lowering is the usual one, unless it was held up. */
static uint8_t early_down(door_t *d, const door_settings_t *s)
{
    if (d->paid_s < s->down_soon_s) { return 1; }
    if (d->run_s != d->paid_s + 1u) { return 0; }           /* not from the top in one run */
    if (d->paid_s + SOONER_S <= d->usual_down_s) {
        d->usual_down_s--;                                  /* a stronger motor is alarmed for some nights only */
        return 1;
    }
    if (d->usual_down_s == 0u || d->paid_s < d->usual_down_s + SOONER_S) {
        d->usual_down_s = door_cord_at_rest(d);
    }
    return 0;
}

/* Rule G13: what moves by a rod does not come down by itself when the way is free. */
static void jam(door_t *d, const door_settings_t *s)
{
    (void)failed_try(d, s, DOOR_ALARM_NOT_DOWN);
    d->clear = 1;
    d->seat = SEAT_NONE;        /* the end by current still reads made */
}

/* Rule G7: the upper switch has come too soon. After a jam by current less than the whole way was left. */
static uint8_t early_up(const door_t *d, const door_settings_t *s)
{
    return (uint8_t)(d->bottom_first && d->paid_s >= s->down_soon_s && d->run_s <= s->up_soon_s);
}

/* Rule G9: the switch has held. */
static void seated(door_t *d, const door_settings_t *s, uint8_t top, uint8_t bottom)
{
    uint8_t up = (uint8_t)(d->place == PLACE_UP);
    uint8_t early = (uint8_t)(up ? early_up(d, s) : early_down(d, s));
    if (early && !up && s->down_by_current) { jam(d, s); return; }
    if (early) {                                            /* it lies: the run goes on by time */
        d->alarms |= DOOR_ALARM_SWITCHES;
        again_after(d, 0);
        return;
    }
    d->seat = SEAT_HELD;
    d->alarms &= (uint16_t)~(up ? DOOR_ALARM_NOT_UP | DOOR_ALARM_NOT_RISING : DOOR_ALARM_NOT_DOWN);
    if (!(top && bottom)) { d->alarms &= (uint16_t)~DOOR_ALARM_SWITCHES; }
    if (up) {
        d->paid_s = 0;
        d->wiring_proven = 1;
        if (bottom) { d->alarms |= DOOR_ALARM_SWITCHES; }
    }
}

/* Rule G10: the plate is not where it was left. A driver stuck on gets the time to show itself. */
static void moved(door_t *d, const door_settings_t *s)
{
    if (d->moved < 255u) { d->moved++; }
    d->alarms |= DOOR_ALARM_MOVED;
    d->left = d->place;
    again_after(d, d->mends < s->tries ? (uint16_t)(s->down_budget_s + s->moved_s) : door_wait_after(s, d->mends));
}

/* Back at the place it was left: nothing is to be done. Rule G11: at the other one, too late for a plate that fell. */
static void left_alone(door_t *d, const door_settings_t *s)
{
    uint8_t up = (uint8_t)(d->left == PLACE_UP);
    uint8_t own = up ? d->top_was : d->bottom_was, own_held_s = up ? d->top_held_s : d->bottom_held_s;
    uint8_t far = up ? d->bottom_was : d->top_was, far_held_s = up ? d->bottom_held_s : d->top_held_s;
    if (own && own_held_s >= s->moved_s) {
        d->place = d->left;
        d->seat = SEAT_HELD;
        d->left = PLACE_UNKNOWN;
    } else if (!own && far && far_held_s == s->moved_s && own_held_s >= far_held_s + FALL_S) {
        (void)halt_for_good(d, s, DOOR_ALARM_DRIVER);
    } else { /* between them */ }
}

/* The wanted end may have been reached in the run that the other switch has stopped. */
static void doubt_ends(door_t *d, const door_settings_t *s)
{
    uint8_t up = (uint8_t)(d->suspect == PHASE_RAISING);
    uint8_t own = up ? d->top_was : d->bottom_was, own_held_s = up ? d->top_held_s : d->bottom_held_s;
    uint16_t open_s = up ? d->top_open_s : d->bottom_open_s;
    glitch(d, s);
    if (own && own_held_s >= s->seat_s && proves(up ? d->top_first : d->bottom_first, open_s, s)) {
        d->place = (uint8_t)(up ? PLACE_UP : PLACE_DOWN);
        d->seat = SEAT_FRESH;
    }
}

static void doubt(door_t *d, const door_settings_t *s)
{
    uint8_t far = d->suspect == PHASE_RAISING ? d->bottom_was : d->top_was;
    uint8_t far_held_s = d->suspect == PHASE_RAISING ? d->bottom_held_s : d->top_held_s;
    if (far && far_held_s >= s->moved_s) { (void)halt_for_good(d, s, DOOR_ALARM_WRONG_WAY); }
    else if (d->wait_s == 0u) { doubt_ends(d, s); }
    else { return; }
    d->suspect = PHASE_IDLE;
}

/* The cord that is out while the plate rests at an end; otherwise the value of the last rest. */
uint8_t door_cord_at_rest(const door_t *d)
{
    if (d->phase != PHASE_IDLE || !d->ran) { return d->cord_s; }
    if (d->place == PLACE_UNKNOWN || d->paid_s >= 255u) { return 255u; }
    return (uint8_t)d->paid_s;
}

/* At power-up a switch made alone shows the place; the upper one not if the plate was last left lowered: it may stand
 * made, and then each reset would pay out the cord once more. */
static void place_by_switch(door_t *d, const door_settings_t *s)
{
    if (d->top_was == d->bottom_was || (d->top_was ? d->top_held_s : d->bottom_held_s) < s->seat_s) { return; }
    if (d->top_was && d->cord_s > 0u) { return; }
    d->place = (uint8_t)(d->top_was ? PLACE_UP : PLACE_DOWN);
    d->seat = SEAT_HELD;
    if (d->top_was) { d->paid_s = 0; }
}

static void look_about(door_t *d, const door_settings_t *s)
{
    uint8_t up = (uint8_t)(d->place == PLACE_UP);
    uint8_t own = up ? d->top_was : d->bottom_was, own_held_s = up ? d->top_held_s : d->bottom_held_s;
    if (d->suspect != PHASE_IDLE) { doubt(d, s); }
    else if (d->left != PLACE_UNKNOWN) { left_alone(d, s); }
    else if (!d->ran && d->seat == SEAT_NONE) { place_by_switch(d, s); }
    else if (d->seat == SEAT_FRESH && own_held_s >= s->seat_s) {
        if (own) { seated(d, s, d->top_was, d->bottom_was); } else { glitch(d, s); }
    } else if (d->seat == SEAT_HELD && !own && own_held_s >= s->moved_s) { moved(d, s); }
    else if (d->seat == SEAT_NONE && d->place == PLACE_DOWN && own && own_held_s == s->moved_s) {
        d->seat = SEAT_HELD;                                /* what lay under the plate has gone */
    } else { /* as it was left */ }
}

/* From rest: start a run if the door is wanted elsewhere. */
static uint8_t may_start(door_t *d, uint8_t want, const door_settings_t *s, uint8_t top, uint8_t bottom)
{
    if (want == DOOR_WANT_STAY || d->blocked || (s->late_tries == 0u && d->attempts >= s->tries)) { return 0; }
    if (want == (d->place == PLACE_UP ? DOOR_WANT_UP : DOOR_WANT_DOWN) && d->place != PLACE_UNKNOWN) { return 0; }
    d->cord_s = door_cord_at_rest(d);
    if (want == DOOR_WANT_UP) {
        d->phase = PHASE_RAISING;
        d->lift = 0;
    } else {
        d->lift = (uint8_t)(d->clear || (d->place == PLACE_UNKNOWN && d->paid_s >= s->down_budget_s));
        d->phase = (uint8_t)(d->lift ? PHASE_RAISING : PHASE_LOWERING);
    }
    d->clear = 0;
    d->left = PLACE_UNKNOWN;
    d->seat = SEAT_NONE;
    d->run_s = 0;
    d->top_open_s = 0;
    d->bottom_open_s = 0;
    d->top_first = top;
    d->bottom_first = bottom;
    d->ran = 1;
    return 1;
}

/* A new wish has a fresh try at once. After starts that have ended in resets only a hand or a real change cuts the wait. */
static void new_wish(door_t *d, const door_settings_t *s, uint8_t want)
{
    const uint8_t changed = (uint8_t)(d->asked != DOOR_WANT_STAY && want != DOOR_WANT_STAY);
    d->asked = want;
    d->attempts = 0;
    d->clear = 0;
    d->mends = 0;
    if (d->phase == PHASE_IDLE && d->wait_s > s->dead_s && d->boot_s > s->start_rest_s
        && (d->starts_lost < s->tries || d->hand != DOOR_HALT || changed)) { d->wait_s = s->dead_s; }
}

uint8_t door_motor_step(door_t *d, const door_settings_t *s, uint8_t want, uint8_t top, uint8_t bottom)
{
    hold(&d->top_was, &d->top_held_s, top);
    hold(&d->bottom_was, &d->bottom_held_s, bottom);
    if (want != d->asked) { new_wish(d, s, want); }
    if (d->phase == PHASE_IDLE) {
        look_about(d, s);
        if (d->wait_s > 0u) { d->wait_s--; return DOOR_HALT; }
        if (!may_start(d, want, s, top, bottom)) { return DOOR_HALT; }
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
