/* door_trial.c - batches of seconds: the core alone against recorded inputs, and the core with a machine. */
#include "door_trial.h"
#include <string.h>

/* Where each second's inputs and outputs go if somebody wants them; boots: the cause in the second after a reset. */
static door_inputs_t *kept_in;
static door_outputs_t *kept_out;
static uint8_t *kept_boot;
static int32_t kept_n, kept_room;

static const door_row_t *table_rows;
static int32_t table_first, table_n, table_refuses_before, table_ends = 65536;

void trial_table(const door_row_t *rows, int32_t first_day, int32_t n, int32_t refuses_before)
{
    table_rows = rows;
    table_first = first_day;
    table_n = n;
    table_refuses_before = refuses_before;
    table_ends = 65536;
}

/* No table serves this day and those after it. */
void trial_ends(int32_t day) { table_ends = day; }

void trial_record(door_inputs_t *in, door_outputs_t *out, uint8_t *boot, int32_t room)
{
    kept_in = in;
    kept_out = out;
    kept_boot = boot;
    kept_room = room;
    kept_n = 0;
}

int32_t trial_recorded(void) { return kept_n; }

static void record(const door_inputs_t *in, const door_outputs_t *out, uint8_t boot)
{
    if (kept_n >= kept_room) { return; }
    kept_in[kept_n] = *in;
    kept_out[kept_n] = *out;
    kept_boot[kept_n] = boot;
    kept_n++;
}

/* The table serves month and day of every year from its own on: days past its end wrap. */
uint8_t trial_reader(uint16_t day, door_row_t *row)
{
    int32_t i = (int32_t)day - table_first;
    if ((int32_t)day < table_refuses_before) { return DOOR_ROW_NONE; }
    if ((int32_t)day >= table_ends) { return DOOR_ROW_OUTSIDE; }
    while (i >= table_n) { i -= table_n; }
    while (i < 0) { i += table_n; }
    *row = table_rows[i];
    return DOOR_ROW_SERVED;
}

/* The core alone: n seconds of recorded inputs, outputs and states kept for comparison. */
void trial_seconds(door_t *d, const door_settings_t *s, const door_inputs_t *in, int32_t n, door_outputs_t *out,
                   door_t *states)
{
    int32_t i;
    for (i = 0; i < n; i++) {
        memset(&out[i], 0, sizeof out[i]);
        door_step(d, s, trial_reader, &in[i], &out[i]);
        if (states) { states[i] = *d; }
    }
}

static double plate(const machine_t *m, const world_minute_t *w)
{
    double cord = m->cord_mm;
    if (m->broken || w->frozen) { return m->travel_mm; }
    if (cord > m->spool_mm) { cord = 2.0 * m->spool_mm - cord; }        /* winding on backwards raises the plate */
    if (cord < 0.0) { cord = 0.0; }
    if (cord > m->travel_mm) { cord = m->travel_mm; }
    if (m->wedged_mm >= 0 && cord > m->wedged_mm) { cord = m->wedged_mm; }
    if (w->jam_mm >= 0 && cord > w->jam_mm) { cord = w->jam_mm; }
    return cord;
}

static void watch_runs(machine_t *m, uint8_t drive)
{
    if (drive > DOOR_DOWN) { m->both_s++; }                     /* its bits are the two directions */
    if (drive != DOOR_HALT) {
        if (m->last_drive == DOOR_HALT) {
            if (drive == DOOR_UP) { m->up_moves++; } else { m->down_moves++; }
            m->run_s = 0;
        } else if (m->last_drive != drive) { m->reversals_too_soon++; }
        else { /* runs on */ }
        m->run_s++;
        if (drive == DOOR_UP && m->run_s > m->longest_up_s) { m->longest_up_s = m->run_s; }
        if (drive == DOOR_DOWN && m->run_s > m->longest_down_s) { m->longest_down_s = m->run_s; }
        m->rest_s = 0;
        m->last_run_drive = drive;
    } else if (m->rest_s < 30000) { m->rest_s++; }
    else { /* long at rest */ }
    m->last_drive = drive;
}

/* A rod, found at its end by the motor's current: it is not pushed past the plate, and the end stays noted until the next run. */
static void find_end(machine_t *m, const world_minute_t *w)
{
    if (m->cord_mm >= plate(m, w) + 1.0) { m->cord_mm = plate(m, w); m->at_end = 1; }
}

static void move(machine_t *m, const world_minute_t *w, uint8_t drive, const door_settings_t *s)
{
    uint8_t on = drive;
    int takes_in;
    double by;
    if (drive != DOOR_HALT && m->last_drive == DOOR_HALT && m->last_run_drive != (int32_t)drive
        && m->last_run_drive != DOOR_HALT && m->rest_s < (int32_t)s->dead_s) { m->reversals_too_soon++; }
    watch_runs(m, drive);
    if (w->stuck_on && m->last_run_drive == (int32_t)w->stuck_on) {
        if (drive == DOOR_HALT) { on = w->stuck_on; m->stuck_s++; }
    } else if (w->stuck_on && drive != DOOR_HALT && drive != w->stuck_on) { on = DOOR_HALT; }   /* both: it brakes */
    if (on == DOOR_HALT) { return; }
    takes_in = m->reversed ? on == DOOR_DOWN : on == DOOR_UP;
    by = on == DOOR_UP ? m->up_mm_s : m->down_mm_s;
    if (m->run_s == 1) { m->at_end = 0; }
    if (m->broken) { return; }                                  /* the motor turns, nothing hangs on it */
    if (!takes_in) { m->cord_mm += by; if (s->down_by_current) { find_end(m, w); } }
    else {
        if (w->frozen && m->cord_mm - by < m->travel_mm) { m->stall_s += 1.0; by = m->cord_mm - m->travel_mm; }
        if (by < 0.0) { by = 0.0; }
        if (m->cord_mm <= 0.0) { m->stall_s += 1.0; }           /* a whole second against the top stop */
        m->cord_mm = m->cord_mm - by < 0.0 ? 0.0 : m->cord_mm - by;
    }
    if (m->wedged_mm >= 0 && m->cord_mm <= m->wedged_mm) { m->wedged_mm = -1; }
    if (m->cord_mm > 2.0 * m->spool_mm) { m->cord_mm = 2.0 * m->spool_mm; m->stall_s += 1.0; }
    if (m->cord_mm > m->most_cord_mm) { m->most_cord_mm = m->cord_mm; }
}

static void sense(machine_t *m, const world_minute_t *w, const door_settings_t *s, door_inputs_t *in)
{
    double at = plate(m, w);
    in->top = (uint8_t)(w->top_fault < 2u ? w->top_fault : at <= 1.0);
    in->bottom = (uint8_t)(w->bottom_fault < 2u ? w->bottom_fault : at >= m->travel_mm - 1.0);
    if (m->last_drive != DOOR_HALT && w->top_blip_s && m->run_s == (int32_t)w->top_blip_s) { in->top = 1; }
    if (m->last_drive != DOOR_HALT && w->bottom_blip_s && m->run_s == (int32_t)w->bottom_blip_s) { in->bottom = 1; }
    if (m->last_drive == DOOR_DOWN && w->bottom_breaks_s && m->run_s == (int32_t)w->bottom_breaks_s) { m->bottom_broken = 1; }
    if (m->bottom_broken) { in->bottom = 1; }
    if (s->down_by_current) { in->bottom = (uint8_t)m->at_end; }
}

static int by_chance(machine_t *m, uint8_t thousandths)
{
    m->chance ^= m->chance << 13;
    m->chance ^= m->chance >> 17;
    m->chance ^= m->chance << 5;
    return m->chance % 1000u < thousandths;
}

/* Each wire by itself. */
static void disturb(machine_t *m, const world_minute_t *w, door_inputs_t *in)
{
    if (!w->glitch) { return; }
    if (by_chance(m, w->glitch)) { in->top = (uint8_t)!in->top; }
    if (by_chance(m, w->glitch)) { in->bottom = (uint8_t)!in->bottom; }
    if (by_chance(m, w->glitch)) { in->light_counts = (int16_t)(m->chance & 0x100u ? 0 : 1023); }
    if (by_chance(m, w->glitch)) { in->clock_valid = 0; }
    if (by_chance(m, w->glitch)) { in->keep_shut = (uint8_t)!in->keep_shut; }
    if (by_chance(m, w->glitch)) { in->hand = (uint8_t)(m->chance & 0x200u ? DOOR_UP : DOOR_DOWN); }
    if (by_chance(m, w->glitch)) { in->battery = DOOR_BATTERY_SPENT; }
}

static void reset(door_t *d, const door_settings_t *s, machine_t *m, uint8_t cause)
{
    door_kept_t kept;
    door_keep(d, &kept);
    door_boot(d, s, &kept, cause);
    m->last_drive = DOOR_HALT;
    m->rest_s = 30000;                                          /* the dead time is over before a chip starts again */
}

/* n minutes; light runs straight from one minute's counts to the next; world has n + 1 entries.
 * own_ppm: how much faster than true seconds the chip's own count runs. */
void trial_minutes(door_t *d, const door_settings_t *s, machine_t *m, const world_minute_t *world, int32_t n,
                   int32_t own_ppm, told_minute_t *told)
{
    door_inputs_t in;
    door_outputs_t out;
    door_kept_t kept;
    int32_t i, second, slip = 0, powered = 1;
    uint8_t fresh = 0;
    memset(&out, 0, sizeof out);
    door_keep(d, &kept);
    for (i = 0; i < n; i++) {
        const world_minute_t *w = &world[i];
        m->reversed = w->reversed;
        m->broken = w->broken;
        m->cord_mm += w->slip_mm;
        if (w->wedge_mm >= 0) { m->wedged_mm = w->wedge_mm; }
        memset(&in, 0, sizeof in);
        if (!w->power) {
            powered = 0;
            m->last_drive = DOOR_HALT;
            m->rest_s = 30000;
            told[i] = (told_minute_t){ (int16_t)plate(m, w), 0, 0, DOOR_WANT_STAY, DOOR_WHY_START, DOOR_IS_HALTED, 2 };
            continue;
        }
        if (!powered) { door_boot(d, s, &kept, DOOR_RESET_POWER_UP); powered = 1; fresh = DOOR_RESET_POWER_UP; }
        in.clock_valid = (uint8_t)(w->clock >= 0);
        in.clock_day = (uint16_t)(w->clock >= 0 ? w->clock / DOOR_DAY_MIN : 0);
        in.clock_min = (uint16_t)(w->clock >= 0 ? w->clock % DOOR_DAY_MIN : 0);
        in.hand = w->hand;
        in.keep_shut = w->keep_shut;
        in.battery = w->battery;
        for (second = 0; second < 60; second++) {
            int32_t steps = 1;
            in.light_counts = (int16_t)(w->counts + (world[i + 1].counts - w->counts) * second / 60);
            in.clock_set = (uint8_t)(second == 0 ? w->clock_set : 0u);
            slip += own_ppm;
            if (slip >= 1000000) { slip -= 1000000; steps = 2; }
            if (slip <= -1000000) { slip += 1000000; steps = 0; }
            if (second == (int32_t)w->reset_s) { reset(d, s, m, DOOR_RESET_HANG); fresh = DOOR_RESET_HANG; }
            while (steps-- > 0) {
                door_inputs_t told_in = in;
                sense(m, w, s, &told_in);
                disturb(m, w, &told_in);
                door_step(d, s, trial_reader, &told_in, &out);
                record(&told_in, &out, fresh);
                fresh = 0;
                if (out.drive != DOOR_HALT && m->last_drive == DOOR_HALT) { m->starts++; }
                if (w->brown_out && out.drive != DOOR_HALT && m->last_drive == DOOR_HALT) {
                    reset(d, s, m, DOOR_RESET_BROWN_OUT);
                    fresh = DOOR_RESET_BROWN_OUT;
                } else { move(m, w, out.drive, s); }
            }
        }
        door_keep(d, &kept);
        told[i] = (told_minute_t){ (int16_t)plate(m, w), d->shift_min, out.alarms, out.want, out.reason, out.door, out.time };
    }
}
