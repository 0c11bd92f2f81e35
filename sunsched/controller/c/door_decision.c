/* door_decision.c - the step itself, the keeper's orders above all rules, alarms, and what survives a power cut. */
#include "door_inner.h"

#define LONG_WAITS 32u      /* G12: 8 h are so many of the first longer rests */

static void count_up(uint8_t *counter, uint8_t cause, uint8_t bit)
{
    if ((cause & bit) != 0u && *counter < 255u) { (*counter)++; }
}

static void count_reset(door_t *d, uint8_t cause)
{
    count_up(&d->power_ups, cause, DOOR_RESET_POWER_UP);
    count_up(&d->brown_outs, cause, DOOR_RESET_BROWN_OUT);
    count_up(&d->hangs, cause, DOOR_RESET_HANG);
    count_up(&d->buttons, cause, DOOR_RESET_BUTTON);
}

static void boot_kept(door_t *d, const door_settings_t *s, const door_kept_t *kept)
{
    const int16_t least = (int16_t)(s->shift_two_min * 2 / 3);
    d->shift_min = kept->shift_min;
    if (d->shift_min > DOOR_HALF_DAY_MIN || d->shift_min < -DOOR_HALF_DAY_MIN || door_size(d->shift_min) < least) {
        d->shift_min = 0;               /* no night can have taught this */
    }
    d->wiring_proven = (uint8_t)((kept->bits & DOOR_KEPT_WIRING_PROVEN) != 0);
    d->odd_days = (uint8_t)((kept->bits & DOOR_KEPT_ODD_DAY) != 0);
    if (kept->bits & DOOR_KEPT_CELL_GOOD) { d->age_dark = 0; d->age_bright = 0; }
    else { d->cell_bad = 1; }
    if (kept->bits & DOOR_KEPT_STAMP) {
        d->own_day = kept->stamp_day;
        d->own_min = (uint16_t)(kept->stamp_hour * (DOOR_DAY_MIN / 24u));
        d->estimated = 1;
    }
    d->alarms = (uint16_t)(kept->alarms & DOOR_ALARMS_KEPT);
    d->starts_lost = kept->starts_lost;
    d->moved = kept->moved;
    d->glitches = kept->glitches;
    d->power_ups = kept->power_ups;
    d->brown_outs = kept->brown_outs;
    d->hangs = kept->hangs;
    d->buttons = kept->buttons;
    d->usual_down_s = kept->usual_down_s <= s->down_budget_s ? kept->usual_down_s : 0u;
    d->cord_s = kept->starts_lost > 0u ? 255u : kept->cord_s;  /* the run that was lost has changed it */
}

/* Rule G12: the rest after so many starts in a row that have ended in resets. */
static uint16_t wait_for_power(const door_settings_t *s, uint8_t lost)
{
    if (lost < (uint16_t)(s->tries + s->late_tries)) { return door_wait_after(s, lost); }
    return (uint16_t)(s->late_retry_s * LONG_WAITS);
}

void door_boot(door_t *d, const door_settings_t *s, const door_kept_t *kept, uint8_t cause)
{
    uint8_t *byte = (uint8_t *)d;
    uint16_t i;
    for (i = 0; i < sizeof *d; i++) { byte[i] = 0; }
    d->time = DOOR_BY_LIGHT;
    d->last_clock_min = 65535u;
    d->plan = DOOR_WANT_STAY;
    d->wish = DOOR_WANT_STAY;
    d->asked = DOOR_WANT_STAY;
    d->flat_ref_counts = -DOOR_FULL;
    d->keep_shut = 1;
    d->age_dark = 255u;
    d->age_bright = 255u;
    d->wait_s = s->start_rest_s;
    d->paid_s = s->down_budget_s;       /* how much cord is out is not known: count on the most */
    if (kept) { boot_kept(d, s, kept); }
    count_reset(d, cause);
    if (d->starts_lost >= 2u || (d->starts_lost == 1u && (cause & DOOR_RESET_BROWN_OUT))) { d->alarms |= DOOR_ALARM_POWER; }
    if (d->starts_lost >= 2u) { d->wait_s = wait_for_power(s, d->starts_lost); }
}

uint8_t door_starts_lost(const door_t *d)
{
    return (uint8_t)(d->starts_lost + (d->phase != PHASE_IDLE && d->starts_lost < 255u ? 1u : 0u));
}

void door_keep(const door_t *d, door_kept_t *kept)
{
    kept->shift_min = d->shift_min;
    kept->stamp_day = d->own_day;
    kept->stamp_hour = (uint8_t)(d->own_min / (DOOR_DAY_MIN / 24u));
    kept->bits = (uint8_t)((d->cell_bad ? 0 : DOOR_KEPT_CELL_GOOD) | (d->wiring_proven ? DOOR_KEPT_WIRING_PROVEN : 0)
                           | (d->known || d->estimated ? DOOR_KEPT_STAMP : 0)
                           | (d->odd_days + d->odd_today > 0 ? DOOR_KEPT_ODD_DAY : 0));
    kept->alarms = d->alarms;
    kept->starts_lost = door_starts_lost(d);
    kept->moved = d->moved;
    kept->glitches = d->glitches;
    kept->power_ups = d->power_ups;
    kept->brown_outs = d->brown_outs;
    kept->hangs = d->hangs;
    kept->buttons = d->buttons;
    kept->cord_s = door_cord_at_rest(d);
    kept->usual_down_s = d->usual_down_s;
}

/* Rules O2 and O3: no glitch is an order. 1 in the second in which a hand counts. */
static uint8_t hand_counts(door_t *d, const door_settings_t *s, const door_inputs_t *in)
{
    if (in->hand != d->last_hand) { d->hand_held_s = 0; }
    if (d->hand_held_s < 255u) { d->hand_held_s++; }
    d->last_hand = in->hand;
    if ((in->keep_shut != 0u) == (d->keep_shut != 0u)) { d->keep_other_s = 0; }
    else if (++d->keep_other_s >= s->moved_s) { d->keep_shut = (uint8_t)!d->keep_shut; d->keep_other_s = 0; }
    else { /* not for long enough */ }
    return (uint8_t)(in->hand != DOOR_HALT && d->hand_held_s == s->hand_hold_s);
}

static void hand_order(door_t *d, const door_settings_t *s, const door_inputs_t *in, uint8_t changed)
{
    if (hand_counts(d, s, in)) {                             /* a hand is never blocked by a fault: it gets a fresh try */
        d->hand = in->hand;
        d->hand_min = 0;
        d->attempts = 0;
        d->mends = 0;
        d->blocked = 0;
        d->reopen_left_s = 0;
        d->alarms &= (uint16_t)~DOOR_ALARMS_HAND;
    } else if (d->hand != DOOR_HALT) {
        if (d->new_minute) { door_count(&d->hand_min, 1); }
        if (changed) { d->hand = DOOR_HALT; }
        else if (d->hand == DOOR_UP && (d->plan == DOOR_WANT_DOWN || d->keep_shut) && d->hand_min >= s->hand_min) {
            d->hand = DOOR_HALT;
            d->wish = DOOR_WANT_DOWN;   /* with keep-shut, back down */
        } else { /* it still holds */ }
    } else { /* nobody there */ }
}

static uint8_t second_chance(door_t *d, const door_settings_t *s)
{
    if (d->plan != DOOR_WANT_DOWN) { d->reopen_left_s = 0; return 0; }
    if (s->reopen_s > 0u && !d->reopened && d->reason == DOOR_WHY_DUSK && d->since_min >= s->reopen_after_min
        && d->cycle_known && d->t_min <= d->close_t_min + s->evening_until_min) {
        d->reopened = 1;
        d->reopen_left_s = s->reopen_s;
    }
    if (d->reopen_left_s == 0u) { return 0; }
    d->reopen_left_s--;
    return 1;
}

/* Rules O: the wish after the keeper's orders. `changed`: the plan went from up to down or back this second. */
uint8_t door_orders(door_t *d, const door_settings_t *s, const door_inputs_t *in, uint8_t changed, uint8_t *reason)
{
    uint8_t want = d->plan;
    *reason = d->reason;
    hand_order(d, s, in, changed);
    if (second_chance(d, s)) { want = DOOR_WANT_UP; *reason = DOOR_WHY_SECOND_CHANCE; }
    if (in->battery != DOOR_BATTERY_SPENT) { d->spent_min = 0; }
    if (want == DOOR_WANT_UP && d->wish != DOOR_WANT_UP) {
        if (d->keep_shut) { want = d->wish; *reason = DOOR_WHY_KEEP_SHUT; }
        else if (in->battery == DOOR_BATTERY_SPENT && d->spent_min < s->spent_min) {
            want = d->wish;
            *reason = DOOR_WHY_BATTERY;
            if (d->new_minute) { door_count(&d->spent_min, 1); }
        } else { /* nothing against it */ }
    }
    if (d->hand != DOOR_HALT) {
        want = (uint8_t)(d->hand == DOOR_UP ? DOOR_WANT_UP : DOOR_WANT_DOWN);
        *reason = DOOR_WHY_HAND;
    }
    d->wish = want;
    return want;
}

static uint16_t alarms_now(const door_t *d, const door_settings_t *s, const door_inputs_t *in)
{
    uint16_t alarms = d->alarms;
    uint8_t no_table = (uint8_t)(!d->cycle_known && (d->known || d->estimated));
    if ((d->time == DOOR_BY_OWN_COUNT && s->clock_fitted) || d->question_s > 0u) { alarms |= DOOR_ALARM_CLOCK_STEP; }
    if (d->time == DOOR_BY_LIGHT) { alarms |= DOOR_ALARM_CLOCK_LOST; }
    if (d->shift_min != 0) { alarms |= DOOR_ALARM_SUN_SHIFT; }
    if (d->odd_days + d->odd_today >= 2) { alarms |= DOOR_ALARM_CONTRADICTION; }
    if (d->cell_bad) { alarms |= DOOR_ALARM_CELL; }
    if (no_table) { alarms |= DOOR_ALARM_NO_TABLE; }
    if (in->battery != DOOR_BATTERY_GOOD) { alarms |= DOOR_ALARM_BATTERY; }
    if (in->clock_cell_low != 0u) { alarms |= DOOR_ALARM_CLOCK_CELL; }
    return alarms;
}

static uint8_t door_word(const door_t *d, uint8_t drive)
{
    if (drive == DOOR_UP) { return DOOR_IS_MOVING_UP; }
    if (drive == DOOR_DOWN) { return DOOR_IS_MOVING_DOWN; }
    if (d->place == PLACE_UP) { return DOOR_IS_UP; }
    return d->place == PLACE_DOWN ? DOOR_IS_DOWN : DOOR_IS_HALTED;
}

void door_step(door_t *d, const door_settings_t *s, door_row_reader reader, const door_inputs_t *in, door_outputs_t *out)
{
    uint8_t before = d->plan, changed;
    door_time_step(d, s, reader, in);
    door_find_cycle(d, reader);
    door_light_step(d, s, in->light_counts);
    if (door_learn(d, s, in)) { door_find_cycle(d, reader); } /* the last night counts at once */
    door_plan(d, s, in->light_counts);
    door_cell_verdict(d, s);
    changed = (uint8_t)(d->plan != before && before != DOOR_WANT_STAY);
    out->want = door_orders(d, s, in, changed, &out->reason);
    out->drive = door_motor_step(d, s, out->want, (uint8_t)(in->top != 0u), (uint8_t)(in->bottom != 0u));
    out->duty = 0;
    if (out->drive == DOOR_UP) { out->duty = s->up_duty; }
    if (out->drive == DOOR_DOWN) { out->duty = s->down_duty; }
    out->door = door_word(d, out->drive);
    out->alarms = alarms_now(d, s, in);
    out->own_day = d->own_day;
    out->own_min = d->own_min;
    out->time = d->time;
}
