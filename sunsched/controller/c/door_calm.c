/* door_calm.c - see door_calm.h. */
#include "door_calm.h"
#include "door_inner.h"
#include <stddef.h>
#include <string.h>

#define MOST_REACH 255u
#define MOST_COUNTS (32767u - MOST_REACH) /* so that a reach stays within the type */

/* Counters of seconds: a step sets each to 0 or counts it on, by the side of its level on which the light is. So one
 * that is not 0 goes on. Rules compare the first four with times; the others are only asked when the light changes. */
static const uint8_t counters[] = {
    offsetof(door_t, boot_s), offsetof(door_t, night_s), offsetof(door_t, dark_s), offsetof(door_t, bright_s),
    offsetof(door_t, fall_s), offsetof(door_t, since_dark_s), offsetof(door_t, since_bright_s)
};
#define COMPARED 4u

static uint16_t *counter_at(door_t *d, uint8_t i)
{
    void *counter = (uint8_t *)d + counters[i];
    return counter;
}

/* What `n` calm steps would count. */
static void count_seconds(door_t *d, uint8_t n)
{
    uint8_t i;
    d->new_minute = 0;
    d->second = (uint8_t)(d->second + n);
    d->age_s = (uint16_t)(d->age_s + n);
    for (i = 0; i < sizeof counters; i++) {
        uint16_t *counter = counter_at(d, i);
        if (*counter > 0u && *counter < DOOR_FULL) {
            *counter = (uint16_t)(*counter + n);
            if (*counter > DOOR_FULL) { *counter = DOOR_FULL; }
        }
    }
}

/* The levels and the times in seconds that a rule compares the light and a counter with. Each counter is held against
 * every time: to say which ones its rules mean would take more room than a few steps more are worth. */
static const uint8_t levels[] = {
    offsetof(door_settings_t, dark_counts), offsetof(door_settings_t, bright_counts),
    offsetof(door_settings_t, night_counts), offsetof(door_settings_t, deep_counts),
    offsetof(door_settings_t, hold_counts), offsetof(door_settings_t, dusk_counts),
    offsetof(door_settings_t, lamp_counts), offsetof(door_settings_t, rail_counts)
};
static const uint8_t times[] = {
    offsetof(door_settings_t, confirm_s), offsetof(door_settings_t, stale_s), offsetof(door_settings_t, sure_s),
    offsetof(door_settings_t, dusk_s), offsetof(door_settings_t, early_s), offsetof(door_settings_t, settle_s),
    offsetof(door_settings_t, alone_dark_s), offsetof(door_settings_t, alone_abrupt_s),
    offsetof(door_settings_t, alone_bright_s), offsetof(door_settings_t, start_rest_s)
};

static uint16_t word_at(const door_settings_t *s, uint8_t at)
{
    const void *word = (const uint8_t *)s + at;
    return *(const uint16_t *)word;
}

/* No more than the seconds after which `counter` is still one short of `limit`; past it, it meets it no more. */
static uint8_t before(uint8_t most_s, uint16_t counter, unsigned limit)
{
    const unsigned left = limit - counter;
    if (counter > limit || left > most_s) { return most_s; }
    return (uint8_t)(left > 0u ? left - 1u : 0u);
}

static uint8_t seconds_left(door_t *d, const door_settings_t *s)
{
    uint8_t n = before((uint8_t)(DOOR_MINUTE_S - 1u - d->second), d->age_s, DOOR_AGE_S), i, k;
    for (i = 0; i < COMPARED; i++) {
        const uint16_t counter = *counter_at(d, i);
        if (counter > 0u && counter < DOOR_FULL) {      /* else it stays */
            for (k = 0; k < sizeof times; k++) { n = before(n, counter, word_at(s, times[k])); }
            n = before(n, counter, 4u * s->dusk_s);     /* rule C6 */
        }
    }
    return n;
}

/* How far the light may go either way and still lie on the same side of every level, or as it does on one. */
static void find_reach(door_calm_t *c, const door_settings_t *s, int16_t counts)
{
    uint16_t reach = MOST_REACH;
    uint8_t i;
    for (i = 0; i < sizeof levels; i++) {
        const uint16_t apart = (uint16_t)door_size((int16_t)(counts - (int16_t)word_at(s, levels[i])));
        if (apart <= reach) { reach = (uint16_t)(apart > 0u ? apart - 1u : 0u); }
    }
    c->low_counts = (int16_t)(counts - (int16_t)reach);
    c->width_counts = (uint16_t)(2u * reach);
    c->flat_counts = counts < s->lamp_counts ? s->flat_counts : s->flat_high_counts;
}

void door_calm_start(door_calm_t *c)
{
    c->left_s = 0;
    c->owed_s = 0;
}

void door_calm_settle(door_calm_t *c, door_t *d)
{
    if (c->owed_s > 0u) { count_seconds(d, c->owed_s); }
    c->owed_s = 0;
}

void door_calm_end(door_calm_t *c, door_t *d)
{
    door_calm_settle(c, d);
    c->left_s = 0;
}

uint8_t door_calm_second(door_calm_t *c, door_t *d, int16_t counts)
{
    if (c->left_s == 0u || (uint16_t)(counts - c->low_counts) > c->width_counts) { return 0; }
    if (door_size((int16_t)(counts - d->flat_ref_counts)) > c->flat_counts) {
        if (d->flat_min > 0u || d->flat) { return 0; }
        d->flat_ref_counts = counts;    /* all that rule C3 changes while no flat light is timed */
    }
    c->left_s--;
    c->owed_s++;
    return 1;
}

void door_calm_step(door_calm_t *c, door_t *d, const door_settings_t *s, door_row_reader reader,
                    const door_inputs_t *in, door_outputs_t *out)
{
    door_calm_end(c, d);
    /* only to spare comparing: a switch that has just changed is timed, and a minute changes most states */
    if ((d->top_held_s & d->bottom_held_s) != 255u || d->second >= DOOR_MINUTE_S - 2
        || (uint16_t)in->light_counts > MOST_COUNTS) {
        door_step(d, s, reader, in, out);
        return;
    }
    c->expected = *d;
    count_seconds(&c->expected, 1);
    door_step(d, s, reader, in, out);
    c->expected.flat_ref_counts = d->flat_ref_counts; /* as in door_calm_second() */
    if (memcmp(&c->expected, d, sizeof *d) != 0) { return; }
    find_reach(c, s, in->light_counts);
    c->left_s = seconds_left(d, s);
}
