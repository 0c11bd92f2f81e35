/* door_time.c - rules T: the clock, the chip's own count of seconds, and the cycle from solar noon to solar noon. */
#include "door_inner.h"

#define DAYS_IN_FULL 21 /* this many days and a day's minutes still fit 16 bits; one more passes 30000 in any case */

/* Minutes from one time to another, held within +-30000. An 8-bit chip does this each second: no 32-bit product. */
int16_t door_minutes_between(uint16_t day, uint16_t minute, uint16_t from_day, int16_t from_minute)
{
    int32_t days = (int32_t)day - (int32_t)from_day;
    int16_t apart;
    if (days > DAYS_IN_FULL) { return DOOR_FULL; }
    if (days < -DAYS_IN_FULL) { return -DOOR_FULL; }
    apart = (int16_t)((int16_t)days * DOOR_DAY_MIN + (int16_t)minute - from_minute);
    if (apart > DOOR_FULL) { return DOOR_FULL; }
    return apart < -DOOR_FULL ? -DOOR_FULL : apart;
}

int16_t door_half_day_wrap(int32_t minutes)
{
    while (minutes >= DOOR_HALF_DAY_MIN) { minutes -= DOOR_DAY_MIN; }
    while (minutes < -DOOR_HALF_DAY_MIN) { minutes += DOOR_DAY_MIN; }
    return (int16_t)minutes;
}

void door_move_time(uint16_t *day, uint16_t *minute, int16_t by_min)
{
    int32_t at = (int32_t)*minute + by_min;
    while (at < 0) { at += DOOR_DAY_MIN; (*day)--; }
    while (at >= DOOR_DAY_MIN) { at -= DOOR_DAY_MIN; (*day)++; }
    *minute = (uint16_t)at;
}

static uint8_t clock_good(door_t *d, door_row_reader reader, const door_inputs_t *in)
{
    door_row_t row;
    if (!in->clock_valid || in->clock_min >= DOOR_DAY_MIN) { return 0; }
    if (!d->checked_ok || d->checked_day != in->clock_day) {    /* the table is asked once a day, not once a second */
        d->checked_day = in->clock_day;
        d->checked_ok = (uint8_t)(reader(in->clock_day, &row) != DOOR_ROW_NONE);
    }
    return d->checked_ok;
}

static void take_clock(door_t *d, const door_inputs_t *in)
{
    d->own_day = in->clock_day;
    d->own_min = in->clock_min;
    d->known = 1;
    d->time = DOOR_BY_CLOCK;
    d->stepped = 0;
}

static void follow_clock(door_t *d, const door_settings_t *s, const door_inputs_t *in)
{
    int16_t ahead = door_minutes_between(in->clock_day, in->clock_min, d->own_day, (int16_t)d->own_min);
    uint8_t moved = (uint8_t)(in->clock_min != d->last_clock_min);
    uint8_t near_own = (uint8_t)(door_size(ahead) <= s->step_min);
    uint8_t ask = (uint8_t)(in->clock_set && d->known && d->proven && door_size(ahead) > s->question_min
                            && d->question_s == 0u);
    d->last_clock_min = in->clock_min;
    if (ask) { d->question_s = s->question_s; }
    if (!d->known || (in->clock_set && !ask)) {
        if (in->clock_set) { d->shift_min = 0; }
        d->taught = 0;
        d->proven = 0;
        d->question_s = 0;
        take_clock(d, in);
    } else if (near_own) {
        if (moved) {            /* only a moving clock is followed: a standing one would drag the own count with it */
            if (d->time == DOOR_BY_CLOCK) { d->second = 0; }
            take_clock(d, in);
        }
    } else if (d->time == DOOR_BY_OWN_COUNT && !d->stepped && !d->proven) {
        take_clock(d, in);      /* the clock is back and the own count was never better */
    } else {
        d->stepped = 1;
        d->time = DOOR_BY_OWN_COUNT;
        d->clock_ahead_min = ahead;
    }
}

void door_time_step(door_t *d, const door_settings_t *s, door_row_reader reader, const door_inputs_t *in)
{
    d->new_minute = 0;
    d->second++;
    if (d->second >= DOOR_MINUTE_S) {
        d->second = 0;
        d->new_minute = 1;
        door_move_time(&d->own_day, &d->own_min, 1);
    }
    door_count(&d->boot_s, 1);
    if (d->question_s > 0u) { d->question_s--; }
    d->clock_ok = clock_good(d, reader, in);
    if (d->clock_ok) { follow_clock(d, s, in); }
    else {
        d->stepped = 0;
        d->time = (uint8_t)(d->known ? DOOR_BY_OWN_COUNT : DOOR_BY_LIGHT);
    }
    if (d->time == DOOR_BY_CLOCK) { d->unconfirmed_min = 0; }
    else if (d->time == DOOR_BY_OWN_COUNT) {
        if (d->new_minute) { door_count(&d->unconfirmed_min, 1); }
        if (d->unconfirmed_min > s->own_trust_min) { d->time = DOOR_BY_LIGHT; }
    } else { /* light alone */ }
    if (d->time == DOOR_BY_LIGHT && d->known) {     /* the count is no longer to be relied on, but still a guess */
        d->known = 0;
        d->estimated = 1;
        d->proven = 0;
        d->stepped = 0;
    }
}

static uint8_t read_cycle(door_t *d, door_row_reader reader, uint16_t day, uint16_t minute)
{
    door_row_t row, next;
    if (reader(day, &row) != DOOR_ROW_SERVED) { return 0; }
    next = row;
    if ((int16_t)minute < row.midnight_min - DOOR_HALF_DAY_MIN) {   /* before noon: still yesterday's cycle */
        day--;
        (void)reader(day, &row);        /* the table's first morning: its own day stands in for the one before */
    } else { (void)reader((uint16_t)(day + 1u), &next); }           /* and its last for the one after */
    d->noon_min = (int16_t)(row.midnight_min - DOOR_HALF_DAY_MIN);
    d->length_min = (int16_t)(DOOR_DAY_MIN + next.midnight_min - row.midnight_min);
    d->close_t_min = (int16_t)(row.close_min == DOOR_NO_MINUTE ? NO_T : row.close_min - d->noon_min);
    d->open_t_min = (int16_t)(next.open_min == DOOR_NO_MINUTE ? NO_T : next.open_min + DOOR_DAY_MIN - d->noon_min);
    d->facts = (uint8_t)((row.facts & (DOOR_DARK_EXPECTED | DOOR_CLOSE_BY_TWILIGHT))
                         | (row.facts & next.facts & DOOR_LIGHT_EXPECTED) | (next.facts & DOOR_OPEN_BY_TWILIGHT));
    if (d->cycle_known && day == d->cycle_day) { return 1; }
    d->cycle_day = day;
    d->hold_dim_min = 0;
    d->hold_day_min = 0;
    d->morning_hold_min = 0;
    d->reopened = 0;
    /* an early dusk still dark at its noon: the clock is hours off, and the latch outlives its cycle */
    if (!(d->latch == LATCH_DOWN && d->reason == DOOR_WHY_EARLY_DUSK && d->dark_s > 0u)) { d->latch = LATCH_NONE; }
    d->odd_days = (uint8_t)(d->odd_today ? (d->odd_days < 9u ? d->odd_days + 1u : 9u) : 0u);
    d->odd_today = 0;
    return 1;
}

/* Minutes from the closing to an hour before the opening: surely night if the time is right. */
uint8_t door_night_by_time(const door_t *d)
{
    return (uint8_t)(d->cycle_known && d->close_t_min != NO_T && d->open_t_min != NO_T && d->t_min >= d->close_t_min
                     && d->t_min < d->open_t_min - DOOR_DAY_MIN / 24);
}

/* t_min: minutes since corrected solar noon, 0 .. length_min - 1. */
void door_find_cycle(door_t *d, door_row_reader reader)
{
    uint16_t day = d->own_day, minute = d->own_min;
    if (!d->known && !d->estimated) { d->cycle_known = 0; return; }
    if (d->shift_min != 0) { door_move_time(&day, &minute, (int16_t)-d->shift_min); }
    d->t_min = door_minutes_between(day, minute, d->cycle_day, d->noon_min);
    if (!d->cycle_known || d->t_min < 0 || d->t_min >= d->length_min) {
        d->cycle_known = read_cycle(d, reader, day, minute);
        d->t_min = door_minutes_between(day, minute, d->cycle_day, d->noon_min);
    }
}

uint16_t door_day_number(uint8_t year_of_century, uint8_t month, uint8_t day)
{
    static const uint16_t before[12] = { 0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334 };
    uint16_t days = (uint16_t)(365u * year_of_century + (year_of_century + 3u) / 4u);
    days = (uint16_t)(days + before[(month - 1u) % 12u] + (uint16_t)(day - 1u));
    if (month > 2u && year_of_century % 4u == 0u) { days++; }
    return days;
}
