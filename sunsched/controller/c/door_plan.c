/* door_plan.c - rules E, D, X and A: where clock and light want the door, for any minute, never from an edge. */
#include "door_inner.h"

typedef struct {            /* the light as this second's rules use it */
    int16_t counts;
    uint8_t usable, rail, veto, early, stale;
} sight_t;

static void held(door_t *d, sight_t sight, const door_settings_t *s)
{
    if (d->new_minute) { door_count(sight.counts < s->lamp_counts ? &d->hold_dim_min : &d->hold_day_min, 1); }
    d->plan = DOOR_WANT_UP;
    d->reason = DOOR_WHY_HELD_UP;
    if (d->hold_dim_min + d->hold_day_min >= 10u) { d->odd_today = 1; }
}

static void decide(door_t *d, uint8_t plan, uint8_t reason, uint8_t latch)
{
    d->plan = plan;
    d->reason = reason;
    if (latch != LATCH_NONE) { d->latch = latch; }
}

static sight_t look(const door_t *d, const door_settings_t *s, int16_t counts)
{
    sight_t sight;
    uint8_t held_already = (uint8_t)(d->hold_dim_min + d->hold_day_min > 0u);
    uint8_t room = (uint8_t)(counts < s->lamp_counts ? d->hold_dim_min < s->hold_dim_min
                                                     : d->hold_day_min < s->hold_day_min);
    uint8_t armed = (uint8_t)(!d->proven && evening_by_cell(s) && (d->facts & DOOR_CLOSE_BY_TWILIGHT));
    sight.counts = counts;
    sight.rail = door_at_rail(d);
    sight.usable = (uint8_t)(door_cell_proven(d, s) && !sight.rail);
    sight.stale = (uint8_t)(d->dark_s >= s->stale_s);
    sight.veto = (uint8_t)(armed && d->known && (d->facts & DOOR_DARK_EXPECTED) && d->age_bright <= s->age_units && !sight.rail
                           && !d->flat && room
                           && (counts > s->hold_counts || (held_already && counts >= s->dark_counts)));
    sight.early = (uint8_t)(armed && sight.usable && d->fall == FALL_NATURAL && !sight.stale
                            && d->night_s >= s->early_s);
    return sight;
}

static void evening(door_t *d, const door_settings_t *s, sight_t sight, int16_t from_t, int16_t until_t)
{
    uint8_t usable = (uint8_t)(sight.usable && evening_by_cell(s));
    uint8_t natural_dark = (uint8_t)(usable && d->fall == FALL_NATURAL && !sight.stale);
    if (d->latch == LATCH_DOWN && d->reason == DOOR_WHY_EARLY_DUSK && d->bright_s >= s->sure_s
        && d->t_min < d->close_t_min - DOOR_DAY_MIN / 24) { d->latch = LATCH_NONE; }  /* it was not dusk after all */
    if (d->latch == LATCH_DOWN) { d->plan = DOOR_WANT_DOWN; return; }
    if (d->t_min < from_t) {
        if (sight.early && d->t_min < d->close_t_min - s->early_lead_min) {
            decide(d, DOOR_WANT_DOWN, DOOR_WHY_EARLY_DUSK, LATCH_DOWN);
            d->odd_today = 1;
        } else { decide(d, DOOR_WANT_UP, DOOR_WHY_DAY, LATCH_NONE); }
    } else if (natural_dark && d->dark_s >= s->confirm_s) {
        decide(d, DOOR_WANT_DOWN, DOOR_WHY_DUSK, LATCH_DOWN);
    } else if (d->t_min >= d->close_t_min && sight.veto && (!usable || d->t_min >= until_t)) {
        held(d, sight, s);
    } else if (d->t_min >= d->close_t_min && (!usable || (d->dark_s > 0u && !natural_dark))) {
        decide(d, DOOR_WANT_DOWN, DOOR_WHY_CLOSE_MINUTE, LATCH_DOWN);
    } else if (d->t_min >= until_t) {
        decide(d, DOOR_WANT_DOWN, DOOR_WHY_DUSK_LIMIT, LATCH_DOWN);
    } else if (d->plan == DOOR_WANT_STAY) {
        if (d->dark_s > 0u) { decide(d, DOOR_WANT_DOWN, DOOR_WHY_NIGHT, LATCH_NONE); }
        else { decide(d, DOOR_WANT_UP, DOOR_WHY_DAY, LATCH_NONE); }
    } else { /* wait for the dusk */ }
}

static void morning(door_t *d, const door_settings_t *s, sight_t sight, int16_t from_t, int16_t until_t)
{
    uint8_t usable = (uint8_t)(sight.usable && morning_by_cell(s));
    uint8_t armed = (uint8_t)(!d->proven && usable && (d->facts & DOOR_OPEN_BY_TWILIGHT));
    if (d->latch == LATCH_UP) {
        d->plan = DOOR_WANT_UP;
        if (sight.early && sight.counts < s->deep_counts && d->since_min >= DOOR_DAY_MIN / 24) { /* half a day wrong */
            decide(d, DOOR_WANT_DOWN, DOOR_WHY_EARLY_DUSK, LATCH_DOWN);
            d->odd_today = 1;
        }
    } else if (d->t_min < from_t || (d->latch == LATCH_DOWN && d->reason == DOOR_WHY_EARLY_DUSK && d->dark_s > 0u)) {
        if (d->latch != LATCH_DOWN && d->plan != DOOR_WANT_DOWN && sight.veto) { held(d, sight, s); }
        else {
            if (d->plan != DOOR_WANT_DOWN) { d->reason = DOOR_WHY_NIGHT; }
            decide(d, DOOR_WANT_DOWN, d->reason, LATCH_DOWN);
        }
    } else if (usable && d->bright_s >= s->confirm_s) {
        decide(d, DOOR_WANT_UP, DOOR_WHY_DAWN, LATCH_UP);
    } else if (!usable && d->t_min >= d->open_t_min) {
        decide(d, DOOR_WANT_UP, DOOR_WHY_OPEN_MINUTE, LATCH_UP);
    } else if (d->t_min >= until_t) {
        if (armed && !d->cell_bad && !(d->dark_s > 0u && d->fall == FALL_ABRUPT) && sight.counts < s->deep_counts
            && d->morning_hold_min < s->morning_hold_min) {
            if (d->new_minute) { door_count(&d->morning_hold_min, 1); }
            decide(d, DOOR_WANT_DOWN, DOOR_WHY_HELD_DOWN, LATCH_NONE);
            if (d->morning_hold_min >= 10u) { d->odd_today = 1; }
        } else { decide(d, DOOR_WANT_UP, DOOR_WHY_DAWN_LIMIT, LATCH_UP); }
    } else if (d->plan == DOOR_WANT_STAY) { decide(d, DOOR_WANT_DOWN, DOOR_WHY_NIGHT, LATCH_NONE); }
    else { /* wait for the dawn */ }
}

static void by_table(door_t *d, const door_settings_t *s, sight_t sight)
{
    int16_t middle_t = DOOR_HALF_DAY_MIN, from_t, least_t;
    uint8_t both = (uint8_t)(d->close_t_min != NO_T && d->open_t_min != NO_T);
    if (d->boot_s < s->confirm_s) { return; }
    if (both) { middle_t = (int16_t)((d->close_t_min + d->open_t_min) / 2); }
    if (d->t_min < middle_t && d->latch != LATCH_UP) {
        if (d->close_t_min == NO_T) { decide(d, DOOR_WANT_DOWN, DOOR_WHY_KEPT_IN, LATCH_NONE); return; }
        least_t = (int16_t)(DOOR_DAY_MIN / 12 < d->close_t_min ? DOOR_DAY_MIN / 12 : d->close_t_min);
        from_t = (int16_t)(d->close_t_min + s->evening_from_min);
        if (from_t < least_t) { from_t = least_t; }         /* dark about noon is never dusk, however wide the window */
        evening(d, s, sight, from_t, (int16_t)(d->close_t_min + s->evening_until_min));
    } else {
        if (d->open_t_min == NO_T) { decide(d, DOOR_WANT_DOWN, DOOR_WHY_KEPT_IN, LATCH_NONE); return; }
        morning(d, s, sight, (int16_t)(d->open_t_min + s->morning_from_min),
                (int16_t)(d->open_t_min + s->morning_until_min));
    }
}

static void by_light_alone(door_t *d, const door_settings_t *s, sight_t sight)
{
    uint8_t seen_bright = (uint8_t)(d->age_bright <= s->age_units);
    uint8_t natural = (uint8_t)(seen_bright && d->dark_s >= s->alone_dark_s && d->fall == FALL_NATURAL);
    uint8_t dusk = (uint8_t)(natural || (seen_bright && d->dark_s >= s->alone_abrupt_s));
    uint8_t lamp = (uint8_t)((d->flat && sight.counts < s->dusk_counts && d->flat_min >= 2u * s->flat_min)
                             || (door_night_by_time(d) && (d->flat || sight.counts < s->lamp_counts)));
    uint8_t airing = (uint8_t)(d->reason == DOOR_WHY_LONG_SHUT && d->since_min < s->alone_open_min);
    uint8_t dawn = (uint8_t)(d->bright_s >= s->alone_bright_s && !sight.rail);
    d->latch = LATCH_NONE;              /* without a time there is no cycle to decide for */
    if (d->plan == DOOR_WANT_STAY) {
        if (d->dark_s >= s->alone_dark_s) { decide(d, DOOR_WANT_DOWN, DOOR_WHY_LIGHT_ALONE, LATCH_NONE); }
        else if (dawn && !lamp) { decide(d, DOOR_WANT_UP, DOOR_WHY_LIGHT_ALONE, LATCH_NONE); }
        else if (lamp && d->boot_s >= s->alone_abrupt_s) { decide(d, DOOR_WANT_DOWN, DOOR_WHY_STEADY_LIGHT, LATCH_NONE); }
        else { /* wait */ }
    } else if (d->plan == DOOR_WANT_UP) {
        if (d->since_min >= s->alone_open_min && dusk) { decide(d, DOOR_WANT_DOWN, DOOR_WHY_LIGHT_ALONE, LATCH_NONE); }
        else if (lamp && !airing) { decide(d, DOOR_WANT_DOWN, DOOR_WHY_STEADY_LIGHT, LATCH_NONE); }
        else { /* day */ }
    } else if (d->since_min >= s->alone_shut_min && dawn && sight.counts > s->dusk_counts && !d->flat && !lamp) {
        decide(d, DOOR_WANT_UP, DOOR_WHY_LIGHT_ALONE, LATCH_NONE);
    } else if (d->since_min >= s->longest_shut_min) {
        decide(d, DOOR_WANT_UP, DOOR_WHY_LONG_SHUT, LATCH_NONE);
    } else { /* night */ }
}

void door_plan(door_t *d, const door_settings_t *s, int16_t counts)
{
    sight_t sight = look(d, s, counts);
    uint8_t before = d->plan;
    uint8_t cell_lost = (uint8_t)(!sight.usable || d->cell_bad);
    if (d->new_minute) { door_count(&d->since_min, 1); }
    if (d->cycle_known && (d->known || cell_lost)) { by_table(d, s, sight); }
    else { by_light_alone(d, s, sight); }
    if (d->plan != before) { d->since_min = 0; }
}
