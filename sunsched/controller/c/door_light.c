/* door_light.c - rules C and M: what the light shows, whether the cell works, and what is learned from the Sun. */
#include "door_inner.h"

#define CREEPING_NIGHTS 5u /* a proven clock can only creep, and clouds or snow delay three dawns in a row */

static void count_levels(door_t *d, const door_settings_t *s, int16_t counts)
{
    uint8_t was_dark = (uint8_t)(d->dark_s > 0u);
    if (counts < s->night_counts) { door_count(&d->night_s, 1); } else { d->night_s = 0; }
    if (counts > s->bright_counts) {
        if (d->bright_s == 0u) { d->rise_natural = (uint8_t)(d->since_dark_s > s->fast_s); }
        door_count(&d->bright_s, 1);
    } else { d->bright_s = 0; }
    if (counts > s->dusk_counts) { d->fall_s = 0; } else { door_count(&d->fall_s, 1); }
    if (counts < s->dark_counts) {
        door_count(&d->dark_s, 1);
        d->since_dark_s = 0;
        if (!was_dark) {
            d->fall = (uint8_t)(d->fall_s >= s->fall_s && d->since_bright_s >= s->fast_s
                                && d->flat_min < s->flat_min ? FALL_NATURAL : FALL_ABRUPT);
        }
    } else {
        d->dark_s = 0;
        door_count(&d->since_dark_s, 1);
    }
    if (counts > s->bright_counts) { d->since_bright_s = 0; } else { door_count(&d->since_bright_s, 1); }
}

static void watch_flatness(door_t *d, const door_settings_t *s, int16_t counts)
{
    uint8_t low = (uint8_t)(counts < s->lamp_counts);
    int16_t within = low ? s->flat_counts : s->flat_high_counts;
    if (door_size((int16_t)(counts - d->flat_ref_counts)) > within) {
        d->flat_ref_counts = counts;
        d->flat_min = 0;
    } else if (d->new_minute) { door_count(&d->flat_min, 1); }
    else { /* within a minute */ }
    d->flat = (uint8_t)(counts >= s->dark_counts
                        && ((low && d->flat_min >= s->flat_min) || d->flat_min >= s->flat_high_min));
}

/* Rule C4: where the Sun itself reads at the rail, a short shows only when there can be no Sun. */
static uint8_t rail_tells(const door_t *d, const door_settings_t *s)
{
    if (!s->sun_at_rail) { return 1; }
    if (d->time == DOOR_BY_LIGHT) { return (uint8_t)(d->estimated && d->flat); }
    return (uint8_t)((d->proven || d->time == DOOR_BY_OWN_COUNT) && (d->facts & DOOR_DARK_EXPECTED)
                     && door_night_by_time(d));
}

void door_light_step(door_t *d, const door_settings_t *s, int16_t counts)
{
    count_levels(d, s, counts);
    watch_flatness(d, s, counts);
    d->age_s++;
    if (d->age_s >= DOOR_AGE_S) {
        d->age_s = 0;
        if (d->age_dark < 255u) { d->age_dark++; }
        if (d->age_bright < 255u) { d->age_bright++; }
    }
    if (d->dark_s >= s->sure_s) { d->age_dark = 0; }
    if (d->bright_s >= s->sure_s) { d->age_bright = 0; }
    if (d->new_minute) {
        if (counts >= s->rail_counts && rail_tells(d, s)) { door_count(&d->rail_min, 1); } else { d->rail_min = 0; }
    }
}

uint8_t door_cell_proven(const door_t *d, const door_settings_t *s)
{
    return (uint8_t)(d->age_dark <= s->age_units && d->age_bright <= s->age_units);
}

uint8_t door_at_rail(const door_t *d) { return (uint8_t)(d->rail_min >= 3u); }

/* Rules C4 to C6: the cell's alarm, and a dark mid-day that contradicts an unproven clock. */
void door_cell_verdict(door_t *d, const door_settings_t *s)
{
    const uint8_t both = DOOR_DARK_EXPECTED | DOOR_LIGHT_EXPECTED;
    const uint8_t dusk = DOOR_DARK_EXPECTED | DOOR_CLOSE_BY_TWILIGHT; /* the first alone: at an hour not in the table */
    uint8_t facts = d->cycle_known ? d->facts : both;
    uint8_t settled = (uint8_t)(d->boot_s >= s->settle_s), bad;
    if (!evening_by_cell(s) && !morning_by_cell(s)) { d->cell_bad = 0; return; }
    bad = (uint8_t)(d->rail_min >= 30u
                    || (settled && d->age_dark > s->age_units && (facts & DOOR_DARK_EXPECTED))
                    || (settled && d->age_bright > s->age_units && (facts & DOOR_LIGHT_EXPECTED)));
    /* an unknown cycle's facts, above, have a dusk at such an hour, and no time is as early as NO_T */
    if (d->time != DOOR_BY_LIGHT && (facts & DOOR_LIGHT_EXPECTED) && (facts & dusk) != DOOR_DARK_EXPECTED
        && d->t_min > DOOR_DAY_MIN / 12 && d->t_min < d->close_t_min - s->early_lead_min - DOOR_DAY_MIN / 16
        && d->dark_s >= 4u * s->dusk_s) {
        if (d->proven || d->fall == FALL_ABRUPT || d->time == DOOR_BY_OWN_COUNT) { bad = 1; }
        else { d->odd_today = 1; }
    }
    if (bad) { d->cell_bad = 1; }
    else if (d->bright_s >= s->sure_s && d->age_dark <= s->age_units) { d->cell_bad = 0; }
    else { /* as it was */ }
}

/* Rules M1 and M2: by last night the clock is off by `off` minutes. Shift the windows, never the clock. */
static void learn_shift(door_t *d, const door_settings_t *s, int16_t off)
{
    int16_t before = d->last_off_min, mean = (int16_t)(((int32_t)off + before) / 2);
    int16_t least = d->proven ? s->shift_proven_min : s->shift_two_min;
    uint8_t first = (uint8_t)!d->taught;
    d->last_off_min = off;
    d->taught = 1;
    if (!d->proven || door_size(off) < least) { d->creeping = 0; }
    else if (d->creeping < CREEPING_NIGHTS) { d->creeping++; }
    else { /* enough of them */ }
    if (first || door_size((int16_t)(off - before)) > s->shift_spread_min) {
        if (!d->proven && door_size((int16_t)(off - d->shift_min)) >= s->shift_one_min) {
            d->shift_min = (int16_t)(door_size(off) >= s->shift_two_min ? off : 0);
        } else if (first && !d->odd_today) { d->proven = 1; }
        else { /* one more night */ }
        return;
    }
    if (d->proven && door_size(mean) >= least && d->creeping < CREEPING_NIGHTS) { return; }
    if (door_size(mean) < least && !(d->shift_min != 0 && door_size(mean) >= s->shift_two_min * 2 / 3)) { mean = 0; }
    if (mean == 0 || d->shift_min == 0 || door_size((int16_t)(mean - d->shift_min)) >= s->shift_two_min / 2) {
        d->shift_min = mean;
    }
    if (!d->odd_today) { d->proven = 1; }
}

static void learn_night(door_t *d, const door_settings_t *s, const door_inputs_t *in, int16_t off)
{
    if (d->time == DOOR_BY_CLOCK) { learn_shift(d, s, off); return; }
    if (d->time == DOOR_BY_LIGHT) {                             /* M4 */
        door_move_time(&d->own_day, &d->own_min, (int16_t)-off);
        d->known = 1;
        d->time = DOOR_BY_OWN_COUNT;
        d->shift_min = 0;
        d->taught = 0;
        d->proven = 1;
    } else if (d->stepped && door_size(d->clock_ahead_min) < DOOR_FULL              /* M3 */
               && door_size(door_half_day_wrap((int32_t)off + d->clock_ahead_min)) + s->shift_two_min < door_size(off)) {
        d->own_day = in->clock_day;
        d->own_min = in->clock_min;
        d->stepped = 0;
        d->time = DOOR_BY_CLOCK;
    } else if (door_size(off) >= s->shift_two_min * 2 / 3) { door_move_time(&d->own_day, &d->own_min, (int16_t)-off); }
    else { /* close enough */ }
    d->unconfirmed_min = 0;
}

/* A natural dusk and a natural dawn: their midpoint is solar midnight, whatever the cell's error or dirt. Returns 1
 * in the second in which a night's deviation is used. */
uint8_t door_learn(door_t *d, const door_settings_t *s, const door_inputs_t *in)
{
    int16_t sure_min = (int16_t)(s->sure_s / DOOR_MINUTE_S), length_min, off;
    uint8_t both = DOOR_DARK_EXPECTED | DOOR_LIGHT_EXPECTED;
    if (!evening_by_cell(s) && !morning_by_cell(s)) { return 0; }
    if (!d->in_night) {
        if (d->dark_s == s->dusk_s) {
            d->in_night = 1;
            d->night_min = (uint16_t)(s->dusk_s / DOOR_MINUTE_S);
            d->night_natural = (uint8_t)(d->fall == FALL_NATURAL);
        }
        return 0;
    }
    if (d->new_minute) { door_count(&d->night_min, 1); }
    if (d->bright_s < s->sure_s) { return 0; }
    d->in_night = 0;
    length_min = (int16_t)((int16_t)d->night_min - sure_min);
    if (!d->night_natural || !d->rise_natural || length_min < (int16_t)s->night_least_min
        || length_min > (int16_t)s->night_most_min || !d->cycle_known || (d->facts & both) != both) { return 0; }
    off = door_half_day_wrap((int32_t)d->t_min + d->shift_min - sure_min - length_min / 2 - DOOR_HALF_DAY_MIN);
    learn_night(d, s, in, off);
    return 1;
}
