/* door_states.c - every state the core can reach with shortened constants, and what must hold in each step.
 *
 * Built with DOOR_DAY_MIN 48, DOOR_MINUTE_S 1: a day of 48 steps. The core is explored in the parts into which its
 * data flow falls, each closed under everything that the others, or the world, may tell it:
 *   plan      light at three levels; a clock that follows, is gone, jumps, or is set; a night that proves the clock;
 *             a reset at any moment
 *   orders    any plan and reason, hand, keep-shut, battery
 *   motor     any wish, any switches, a hand at any moment
 *   learning  any deviation every night
 * A counter is stored no further than the largest value any rule tells apart: that changes no decision. */
#include "door_inner.h"
#include "door_light.c"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#ifndef MOTOR_BITS
#define MOTOR_BITS 24
#endif
#ifndef PLAN_BITS
#define PLAN_BITS 22
#endif
static door_settings_t S;
static const char *broken_rule = NULL;
static void must(int holds, const char *rule) { if (!holds && !broken_rule) { broken_rule = rule; } }

/* ---- a set of 64-bit fingerprints: two different of 10^8 states share one with a chance of 3 in 10 000 ---- */
static uint64_t *seen;
static uint64_t seen_mask, seen_n;
static uint64_t lately[1u << 14];               /* most states come again at once: the whole set is not in the cache */

/* The word is stirred before it meets h: else a difference in its last byte could be undone by the next word, and was,
 * for 842 of 1,472,870 states of the motor. */
static uint64_t mixed(uint64_t h, uint64_t word)
{
    word *= 0xC2B2AE3D27D4EB4Fu;
    word = (word ^ word >> 32) * 0x9E3779B185EBCA87u;
    h = (h ^ word) * 0xFF51AFD7ED558CCDu;
    return h ^ h >> 32;
}

/* Eight bytes at a time, in four rows that do not wait for each other: one row took a third of the run. */
static uint64_t fingerprint(const void *what, size_t n)
{
    const uint8_t *byte = what;
    uint64_t h[4] = { 1469598103934665603u ^ n, 0x9E3779B97F4A7C15u, 0xC2B2AE3D27D4EB4Fu, 0x165667B19E3779F9u };
    uint64_t word[4];
    unsigned k;
    for (; n >= sizeof word; n -= sizeof word, byte += sizeof word) {
        memcpy(word, byte, sizeof word);
        for (k = 0; k < 4u; k++) { h[k] = mixed(h[k], word[k]); }
    }
    memset(word, 0, sizeof word);
    memcpy(word, byte, n);
    for (k = 0; k < 4u; k++) { h[k] = mixed(h[k], word[k]); }
    h[0] = mixed(mixed(mixed(h[0], h[1]), h[2]), h[3]) * 0x9E3779B97F4A7C15u;
    return h[0] ? h[0] : 1u;
}

static void seen_start(unsigned bits)
{
    free(seen);
    seen = calloc((size_t)1 << bits, sizeof *seen);
    seen_mask = ((uint64_t)1 << bits) - 1u;
    seen_n = 0;
    memset(lately, 0, sizeof lately);
}

static int fresh(uint64_t h)
{
    uint64_t at = (h >> 7) & seen_mask;
    while (seen[at]) {
        if (seen[at] == h) { return 0; }
        at = (at + 1u) & seen_mask;
    }
    seen[at] = h;
    seen_n++;
    if (seen_n * 10u > seen_mask * 8u) { fprintf(stderr, "the set of states is full\n"); exit(2); }
    return 1;
}

/* ---- a queue of states of one size, first in first out ---- */
typedef struct { uint8_t *data; size_t size, room, n; } list_t;

static void push(list_t *list, const void *what)
{
    if (list->n == list->room) {
        list->room = list->room ? list->room * 2u : 4096u;
        list->data = realloc(list->data, list->room * list->size);
        if (!list->data) { fprintf(stderr, "out of memory\n"); exit(2); }
    }
    memcpy(list->data + list->n * list->size, what, list->size);
    list->n++;
}

typedef void (*expand_t)(const void *state, list_t *next);
static uint64_t transitions;

/* States whose place in the set is on its way from memory; they are looked for in the order in which they came. */
static struct { uint64_t h; uint8_t state[256]; } waiting[16];
static unsigned n_waiting, first_waiting;

static void look(list_t *next)
{
    if (fresh(waiting[first_waiting].h)) { push(next, waiting[first_waiting].state); }
    first_waiting = (first_waiting + 1u) % 16u;
    n_waiting--;
}

static void visit(list_t *next, const void *state, size_t size)
{
    uint64_t h = fingerprint(state, size), *last = &lately[h >> 50];
    unsigned at;
    transitions++;
    if (*last == h) { return; }
    *last = h;
    if (n_waiting == 16u) { look(next); }
    __builtin_prefetch(&seen[(h >> 7) & seen_mask]);
    at = (first_waiting + n_waiting++) % 16u;
    waiting[at].h = h;
    if (size > sizeof waiting[0].state) { fprintf(stderr, "too large a state\n"); exit(2); }
    memcpy(waiting[at].state, state, size);
}

static void explore(void *first, size_t size, unsigned bits, expand_t expand, const char *name)
{
    list_t now = { NULL, size, 0, 0 }, next = { NULL, size, 0, 0 }, swap;
    unsigned depth = 0;
    size_t i;
    seen_start(bits);
    transitions = 0;
    visit(&next, first, size);
    while (n_waiting) { look(&next); }
    while (next.n && !broken_rule) {
        swap = now; now = next; next = swap;
        next.n = 0;
        for (i = 0; i < now.n; i++) { expand(now.data + i * size, &next); }
        while (n_waiting) { look(&next); }
        depth++;
        if (getenv("DOOR_STATES_TELL")) { fprintf(stderr, "%u: %zu of %llu\n", depth, now.n, (unsigned long long)seen_n); }
    }
    printf("%s: states %llu, transitions %llu, steps to the farthest %u\n", name, (unsigned long long)seen_n,
           (unsigned long long)transitions, depth);
    if (broken_rule) { printf("BROKEN: %s\n", broken_rule); }
    free(now.data);
    free(next.data);
}

/* ---- shortened constants ---- */
static void shorten(void)
{
    door_settings_t s = { 0 };
    s.dark_counts = 10; s.bright_counts = 20; s.night_counts = 5; s.deep_counts = 5; s.hold_counts = 30; s.dusk_counts = 40;
    s.lamp_counts = 100; s.rail_counts = 32767;
    s.evening_from_min = -2; s.evening_until_min = 2; s.morning_from_min = -2; s.morning_until_min = 2;
    s.flat_counts = 0; s.flat_high_counts = 0; s.flat_min = 2; s.flat_high_min = 3;
    s.confirm_s = 3; s.fall_s = 2; s.fast_s = 1; s.stale_s = 4; s.sure_s = 3; s.dusk_s = 1;
    s.age_units = 1; s.early_s = 3; s.hold_dim_min = 1; s.hold_day_min = 1; s.morning_hold_min = 1;
    s.night_least_min = 30000; s.night_most_min = 30000;       /* the learning is explored by itself */
    s.shift_one_min = 6; s.shift_two_min = 3; s.shift_proven_min = 4; s.shift_spread_min = 2;
    s.step_min = 2; s.question_min = 4; s.question_s = 1; s.own_trust_min = 2; s.settle_s = 3;
    s.alone_dark_s = 3; s.alone_abrupt_s = 4; s.alone_bright_s = 3; s.alone_open_min = 2; s.alone_shut_min = 2;
    s.longest_shut_min = 3; s.hand_min = 3; s.spent_min = 4; s.reopen_after_min = 2; s.reopen_s = 0;
    s.start_rest_s = 2; s.dead_s = 1; s.retry_s = 2; s.late_retry_s = 3;
    s.down_budget_s = 4; s.down_nominal_s = 3; s.up_least_s = 2; s.up_cutoff_s = 4; s.leave_s = 1;
    s.tries = 2; s.late_tries = 1; s.lower_percent = 50; s.up_duty = 255; s.down_duty = 128;
    s.clock_fitted = 1; s.sun_at_rail = 0; s.down_by_current = 0; s.seat_s = 2; s.moved_s = 2; s.hand_hold_s = 2; s.down_soon_s = 1; s.up_soon_s = 0;
    S = s;
}

static void at_most(uint16_t *counter, uint16_t most) { if (*counter > most) { *counter = most; } }

/* ---- what watches a drive from outside ---- */
typedef struct { uint8_t drive, run_s, rest_s; } watch_t;

static void watch_drive(watch_t *w, uint8_t drive)
{
    must(drive == DOOR_HALT || drive == DOOR_UP || drive == DOOR_DOWN, "one direction or none");
    if (drive == DOOR_HALT) {
        if (w->rest_s < 9u) { w->rest_s++; }
        w->run_s = 0;
    } else {
        must(w->run_s == 0u || w->drive == drive, "no reversal without a rest");
        must(w->run_s > 0u || w->rest_s >= S.dead_s, "dead time before each run");
        w->run_s++;
        w->rest_s = 0;
        must(w->run_s <= (drive == DOOR_UP ? S.up_cutoff_s : S.down_budget_s), "never longer than the cut-off");
        w->drive = drive;
    }
    if (w->run_s == 0u && w->rest_s >= S.dead_s) { w->drive = DOOR_HALT; }
}

/* ---- the plan: time, light and the rules of evening and morning ---- */
static uint8_t one_day(uint16_t day, door_row_t *row)
{
    (void)day;
    row->open_min = 14;
    row->close_min = 34;
    row->midnight_min = 48;
    row->facts = DOOR_DARK_EXPECTED | DOOR_LIGHT_EXPECTED | DOOR_OPEN_BY_TWILIGHT | DOOR_CLOSE_BY_TWILIGHT;
    return 1;
}

static void shorten_state(door_t *d)
{
    d->own_day = (uint16_t)(d->own_day - d->cycle_day + 1u);    /* all days of the table are alike */
    d->cycle_day = 1;
    if (!d->cycle_known) {
        d->t_min = 0; d->own_day = 1; d->own_min = 0; d->noon_min = 0; d->length_min = 0; d->close_t_min = 0; d->open_t_min = 0; d->facts = 0;
    }
    d->last_clock_min = 65535u;
    d->checked_day = 0; d->checked_ok = 0; d->clock_ok = 0; d->new_minute = 0;
    d->clock_ahead_min = 0;
    at_most(&d->since_bright_s, S.fast_s);
    at_most(&d->since_dark_s, (uint16_t)(S.fast_s + 1u));
    at_most(&d->dark_s, (uint16_t)(4u * S.dusk_s));
    at_most(&d->bright_s, S.alone_bright_s);
    at_most(&d->night_s, S.early_s);
    at_most(&d->fall_s, S.fall_s);
    at_most(&d->flat_min, S.flat_high_min);
    at_most(&d->boot_s, S.settle_s);
    at_most(&d->since_min, S.longest_shut_min);
    if (d->age_dark > S.age_units) { d->age_dark = (uint8_t)(S.age_units + 1u); }
    if (d->age_bright > S.age_units) { d->age_bright = (uint8_t)(S.age_units + 1u); }
    d->odd_days = 0; d->odd_today = 0; d->age_s = 0;            /* alarms and learning only; the tick is an input */
    if (d->reason != DOOR_WHY_EARLY_DUSK) { d->reason = DOOR_WHY_START; }  /* no rule tells the others apart */
    d->night_min = 0; d->in_night = 0; d->night_natural = 0; d->rise_natural = 0;
    if (d->dark_s == 0u) { d->fall = FALL_NONE; }
}

static void what_must_hold(const door_t *was, const door_t *d, uint8_t jumped)
{
    int16_t evening_from = (int16_t)(d->close_t_min + S.evening_from_min);
    int16_t evening_until = (int16_t)(d->close_t_min + S.evening_until_min);
    int16_t morning_from = (int16_t)(d->open_t_min + S.morning_from_min);
    int16_t morning_until = (int16_t)(d->open_t_min + S.morning_until_min);
    uint8_t by_table = (uint8_t)(d->cycle_known && d->known && d->boot_s >= S.confirm_s);
    must(d->boot_s >= S.confirm_s || d->plan == DOOR_WANT_STAY || !d->known, "nothing is wanted before the confirmation");
    if (!by_table || !was->known || jumped || was->boot_s < S.confirm_s) { return; }
    must(d->t_min >= 0 && d->t_min < DOOR_DAY_MIN, "the cycle's minute is within a day");
    if (was->plan == DOOR_WANT_DOWN && was->latch == LATCH_DOWN && was->reason != DOOR_WHY_EARLY_DUSK
        && d->cycle_day == was->cycle_day && d->t_min > was->t_min && d->t_min < morning_from) {
        must(d->plan == DOOR_WANT_DOWN, "once down in the evening, down until the morning's window");
    }
    if (d->proven && was->proven && d->reason != DOOR_WHY_EARLY_DUSK && d->latch != LATCH_UP
        && d->t_min >= evening_until && d->t_min < morning_from) {
        must(d->plan == DOOR_WANT_DOWN, "a proven clock has the door down at the window's end, whatever the lamp");
    }
    if (d->proven && d->t_min > 0 && d->t_min < evening_from && d->reason != DOOR_WHY_EARLY_DUSK
        && was->reason != DOOR_WHY_EARLY_DUSK) {
        must(d->plan == DOOR_WANT_UP, "darkness before the evening's window is ignored");
    }
    if (d->proven && d->t_min >= morning_until && was->t_min < d->t_min && d->reason != DOOR_WHY_EARLY_DUSK
        && was->reason != DOOR_WHY_EARLY_DUSK) {
        must(d->plan == DOOR_WANT_UP, "a proven clock has the door up at the end of the morning's window");
    }
}

static void expand_plan(const void *state, list_t *next)
{
    static const int16_t light[3] = { 2, 15, 60 };
    const door_t *from = state;
    door_t to;
    unsigned i, clock, tick;
    for (tick = 0; tick < 2u; tick++) for (clock = 0; clock < 4u; clock++) {
        for (i = 0; i < 3u; i++) {
            door_inputs_t in = { 0 };
            in.clock_valid = (uint8_t)(clock != 1u);
            in.clock_set = (uint8_t)(clock == 2u);
            in.clock_day = from->own_day;
            in.clock_min = from->own_min;
            door_move_time(&in.clock_day, &in.clock_min, (int16_t)(clock >= 2u ? 7 : 1));
            in.light_counts = light[i];
            to = *from;
            to.age_s = (uint16_t)(tick ? DOOR_AGE_S - 1 : 0);
            door_time_step(&to, &S, one_day, &in);
            door_find_cycle(&to, one_day);
            door_light_step(&to, &S, in.light_counts);
            door_learn(&to, &S, &in);
            door_find_cycle(&to, one_day);
            door_plan(&to, &S, in.light_counts);
            door_cell_verdict(&to, &S);
            what_must_hold(from, &to, (uint8_t)(clock == 2u || !from->known));
            shorten_state(&to);
            visit(next, &to, sizeof to);
        }
    }
    if (from->known && !from->proven) {         /* the night has proven the clock */
        to = *from;
        to.proven = 1;
        visit(next, &to, sizeof to);
    }
    {
        door_kept_t kept;
        door_keep(from, &kept);
        memset(&to, 0, sizeof to);
        door_boot(&to, &S, &kept, 0);
        to.wait_s = 0; to.paid_s = 0; to.cycle_day = from->cycle_day;
        shorten_state(&to);
        visit(next, &to, sizeof to);
    }
}

/* ---- the keeper's orders ---- */
static void expand_orders(const void *state, list_t *next)
{
    static const uint8_t reasons[2] = { DOOR_WHY_DUSK, DOOR_WHY_DAY };
    const door_t *from = state;
    unsigned plan, hand, shut, battery, minute, changed, t;
    for (plan = 0; plan < 3u; plan++) for (hand = 0; hand < 3u; hand++) for (shut = 0; shut < 2u; shut++)
    for (battery = 0; battery < 3u; battery++) for (minute = 0; minute < 2u; minute++)
    for (changed = 0; changed < 2u; changed++) for (t = 0; t < 2u; t++) {
        door_t to = *from;
        door_inputs_t in = { 0 };
        uint8_t reason, want;
        in.hand = (uint8_t)hand; in.keep_shut = (uint8_t)shut; in.battery = (uint8_t)battery;
        to.plan = (uint8_t)plan;
        to.reason = reasons[plan != DOOR_WANT_DOWN];
        to.new_minute = (uint8_t)minute;
        to.cycle_known = 1; to.close_t_min = 10; to.t_min = (int16_t)(t ? 12 : 13); to.since_min = 2;
        want = door_orders(&to, &S, &in, (uint8_t)changed, &reason);
        if (hand != DOOR_HALT && hand == from->last_hand && from->hand_held_s + 1u == S.hand_hold_s) {
            must(want == (hand == DOOR_UP ? DOOR_WANT_UP : DOOR_WANT_DOWN), "a hand wins at once");
        }
        if (hand != from->last_hand) { must(to.hand == from->hand || to.hand == DOOR_HALT, "one sample is no hand"); }
        if (shut && from->keep_shut) { must(to.keep_shut, "one sample does not end keep-shut"); }
        if (to.keep_shut && from->wish == DOOR_WANT_DOWN && want == DOOR_WANT_UP) {
            must(reason == DOOR_WHY_HAND, "with keep-shut only a hand raises");
        }
        if (plan == DOOR_WANT_DOWN && want == DOOR_WANT_UP) {
            must(reason == DOOR_WHY_HAND || reason == DOOR_WHY_SECOND_CHANCE, "only hand or second chance against a closing");
            must(reason != DOOR_WHY_SECOND_CHANCE || to.reopen_left_s < S.reopen_s, "the second chance is timed");
        }
        if (plan == DOOR_WANT_UP && want == DOOR_WANT_DOWN) {
            must(to.keep_shut || battery == DOOR_BATTERY_SPENT || reason == DOOR_WHY_HAND, "an opening is only held by an order");
        }
        at_most(&to.hand_min, S.hand_min);
        if (to.hand_held_s > S.hand_hold_s) { to.hand_held_s = (uint8_t)(S.hand_hold_s + 1u); }
        at_most(&to.spent_min, S.spent_min);
        if (to.hand == DOOR_HALT) { to.hand_min = 0; }
        to.plan = 0; to.reason = 0; to.new_minute = 0; to.t_min = 0;
        visit(next, &to, sizeof to);
        if (to.reopened) { to.reopened = 0; visit(next, &to, sizeof to); }      /* the next cycle */
    }
}

/* ---- the motor alone, with switches that lie ---- */
typedef struct { door_t d; watch_t watch; uint8_t lowered; } motor_t;

/* What no rule tells apart: how long a switch has held beyond the longest limit, tries beyond the rarest, counts. */
static void shorten_motor(door_t *d)
{
    const uint8_t rarest = (uint8_t)(S.tries + 2u * S.late_tries);
    if (d->top_held_s > S.moved_s + 3u) { d->top_held_s = (uint8_t)(S.moved_s + 3u); }
    if (d->bottom_held_s > S.moved_s + 3u) { d->bottom_held_s = (uint8_t)(S.moved_s + 3u); }
    if (d->attempts > rarest) { d->attempts = rarest; }
    if (d->mends > rarest) { d->mends = rarest; }
    d->moved = 0;
    d->cord_s = 0;
#ifdef NO_USUAL_DOWN     /* a third of the states */
    d->usual_down_s = 0;
#endif
    d->glitches = 0;
    if (d->phase != PHASE_IDLE) { return; }
    if (d->suspect == PHASE_IDLE) { d->top_open_s = 0; d->bottom_open_s = 0; d->top_first = 0; }
    if (d->seat != SEAT_FRESH) { d->run_s = 0; if (d->suspect == PHASE_IDLE) { d->bottom_first = 0; } }
    at_most(&d->run_s, (uint16_t)(d->place == PLACE_DOWN ? S.down_budget_s + 1u : S.up_soon_s + 1u));
}

static void expand_motor(const void *state, list_t *next)
{
    const motor_t *from = state;
    unsigned want, switches, hand;
    for (want = 0; want < 3u; want++) {
        for (switches = 0; switches < 4u; switches++) {
            for (hand = 0; hand < 2u; hand++) {
                motor_t to = *from;
                uint8_t drive;
                if (hand) { to.d.attempts = 0; to.d.mends = 0; to.d.blocked = 0; to.d.alarms &= (uint16_t)~DOOR_ALARM_WRONG_WAY; }
                if (to.d.boot_s < 3u) { to.d.boot_s++; }
                drive = door_motor_step(&to.d, &S, (uint8_t)want, (uint8_t)(switches & 1u), (uint8_t)(switches >> 1));
                watch_drive(&to.watch, drive);
                must(to.d.boot_s > S.start_rest_s || drive == DOOR_HALT, "rest at the start");
                if (drive == DOOR_DOWN) { to.lowered++; }
                if (drive == DOOR_UP) { to.lowered = 0; }
                must(to.lowered <= S.down_budget_s, "never lowered longer than the budget without raising");
                must(to.d.paid_s <= S.down_budget_s, "the lowering budget holds");
                must(!(to.d.blocked && drive != DOOR_HALT), "halted by a wrong way, until a hand or a reset");
                to.d.alarms &= DOOR_ALARM_WRONG_WAY;
                at_most(&to.d.top_open_s, 2u);
                at_most(&to.d.bottom_open_s, 2u);
                shorten_motor(&to.d);
                visit(next, &to, sizeof to);
            }
        }
    }
}

/* ---- the learning alone ---- */
typedef struct { int16_t shift_min, last_off_min; uint8_t taught, creeping, proven, odd; } lesson_t;

static void expand_lesson(const void *state, list_t *next)
{
    const lesson_t *from = state;
    int16_t off;
    unsigned odd;
    for (off = -24; off < 24; off++) {
        for (odd = 0; odd < 2u; odd++) {
            door_t d;
            lesson_t to;
            int16_t a = off, b = from->last_off_min;
            memset(&d, 0, sizeof d);
            memset(&to, 0, sizeof to);
            d.shift_min = from->shift_min; d.last_off_min = b; d.creeping = from->creeping;
            d.taught = from->taught; d.proven = from->proven; d.odd_today = (uint8_t)odd;
            learn_shift(&d, &S, off);
            must(d.shift_min == 0 || door_size(d.shift_min) >= 2, "a shift is never a trifle");
            must(d.proven || !from->proven, "a night never makes a proven clock unproven");
            must(!(d.proven && !from->proven && odd), "a contradicted night proves nothing");
            must(d.shift_min == from->shift_min || d.shift_min == 0
                 || (d.shift_min >= (a < b || !from->taught ? a : b) && d.shift_min <= (a > b || !from->taught ? a : b))
                 || (!from->proven && !from->taught), "a shift lies between the nights it was learned from");
            must(from->proven == 0u || d.shift_min == from->shift_min
                 || (door_size((int16_t)(a - b)) <= S.shift_spread_min && (door_size(d.shift_min) < S.shift_proven_min || from->creeping >= 4u)),
                 "a proven clock's windows move out only after five nights of it, and back after two alike");
            to.shift_min = d.shift_min; to.last_off_min = d.last_off_min;
            to.taught = d.taught; to.creeping = d.creeping; to.proven = d.proven;
            visit(next, &to, sizeof to);
        }
    }
}

int main(void)
{
    door_t d;
    motor_t motor;
    lesson_t lesson;
    shorten();
    memset(&lesson, 0, sizeof lesson);
    explore(&lesson, sizeof lesson, 19, expand_lesson, "learning");
    memset(&d, 0, sizeof d);
    door_boot(&d, &S, NULL, 0);
    S.reopen_s = 2;
    explore(&d, sizeof d, 20, expand_orders, "orders");
    S.reopen_s = 0;
    memset(&motor, 0, sizeof motor);
    door_boot(&motor.d, &S, NULL, 0);
    explore(&motor, sizeof motor, MOTOR_BITS, expand_motor, "motor");
    memset(&d, 0, sizeof d);
    door_boot(&d, &S, NULL, 0);
    d.wait_s = 0; d.paid_s = 0;
    shorten_state(&d);
    explore(&d, sizeof d, PLAN_BITS, expand_plan, "plan");
    return broken_rule ? 1 : 0;
}
