/* door_program.c - see door_program.h. */
#include "door_program.h"

#include "door_board.h"
#include "door_calm.h"
#include "door_clock.h"
#include "door_line.h"
#include "door_log.h"
#include "door_memory.h"
#include "door_ring.h"
#include "door_rows.h"
#include "door_site.h"
#include "door_writer.h"

#define BATTERY_EVERY_S 60u /* and never while the motor pulls the voltage down */

static door_t door;
static door_calm_t calm;
static door_settings_t settings;
static door_inputs_t in;
static door_outputs_t out;
static uint16_t logged_min, logged_alarms;
static uint8_t logged_want, logged_drive, battery_s, lamp, switches;
#define NO_SWITCHES 0xFFu /* none read yet: board_switches() has fewer bits */
static uint16_t settings_day; /* the day whose table's settings are in use */

/* Windows and levels are those of the table that serves the day. */
static void settle_settings(uint16_t day)
{
    settings_day = day;
    door_site_settings(&settings);
    door_rows_settings(day, &settings);
}

void door_program_start(void)
{
    door_kept_t kept;
    uint8_t *byte = (uint8_t *)&out;
    uint8_t i;
    for (i = 0u; i < sizeof out; i++) { byte[i] = 0u; }
    door_writer_start();
    door_rows_start();
    door_ring_start();
    door_line_start();
    settle_settings(0u);
    door_boot(&door, &settings, (door_memory_start(&kept) != 0u) ? &kept : (const door_kept_t *)0, board_reset_cause());
    door_calm_start(&calm);
    switches = NO_SWITCHES;
    in.hand = DOOR_HALT;
    in.battery = DOOR_BATTERY_GOOD;
    logged_min = 0xFFFFu;
    logged_alarms = 0u;
    logged_want = DOOR_WANT_STAY;
    logged_drive = DOOR_HALT;
    battery_s = 0u;
    door_clock_start();
    door_log_head();
}

/* This and the next give 1 if their inputs have changed. */
static uint8_t read_switches(void)
{
    const uint8_t now = board_switches();
    if (now == switches) { return 0u; }
    switches = now;
    in.top = (uint8_t)((now & BOARD_TOP) != 0u);
    in.bottom = (uint8_t)((now & BOARD_BOTTOM) != 0u);
    in.keep_shut = (uint8_t)((now & BOARD_KEEP_SHUT) != 0u);
    in.hand = DOOR_HALT;
    if ((now & (BOARD_HAND_UP | BOARD_HAND_DOWN)) == BOARD_HAND_UP) { in.hand = DOOR_UP; }
    if ((now & (BOARD_HAND_UP | BOARD_HAND_DOWN)) == BOARD_HAND_DOWN) { in.hand = DOOR_DOWN; }
    return 1u;
}

static uint8_t read_battery(void)
{
    const uint8_t before = in.battery;
#if DOOR_BATTERY_FITTED
    uint16_t counts;
    if (battery_s != 0u) {
        battery_s--;
    } else if (out.drive == DOOR_HALT) {
        battery_s = BATTERY_EVERY_S - 1u;
        counts = board_battery_counts();
        in.battery = DOOR_BATTERY_GOOD;
        if (counts < DOOR_BATTERY_LOW_COUNTS) { in.battery = DOOR_BATTERY_LOW; }
        if (counts < DOOR_BATTERY_SPENT_COUNTS) { in.battery = DOOR_BATTERY_SPENT; }
    } else {
        /* at the next rest */
    }
#endif
    return (uint8_t)(in.battery != before);
}

static uint8_t within_two_hours(int16_t minutes) { return (uint8_t)((minutes >= -120) && (minutes <= 120)); }

/* Within two hours of this cycle's closing, or of the opening before or after it. */
static uint8_t near_a_move(void)
{
    if (door.cycle_known == 0u) { return 1u; }
    return (uint8_t)((within_two_hours((int16_t)(door.t_min + door.length_min - door.open_t_min)) != 0u) ||
                     (within_two_hours((int16_t)(door.close_t_min - door.t_min)) != 0u) ||
                     (within_two_hours((int16_t)(door.open_t_min - door.t_min)) != 0u));
}

/* The ring first: printing takes longer than a power cut leaves. */
static void log_line(uint8_t event)
{
    if (event != DOOR_LOG_QUARTER) { door_ring_note(event, &in, &out); }
    door_log_line(event, &in, &out, door.second);
}

static void log_second(void)
{
    const uint8_t new_minute = (uint8_t)(out.own_min != logged_min);
    logged_min = out.own_min;
    if (out.want != logged_want) { log_line(DOOR_LOG_MOVE); }
    if ((logged_drive != DOOR_HALT) && (out.drive == DOOR_HALT)) { log_line(DOOR_LOG_ENDED); }
    if (out.alarms != logged_alarms) { log_line(DOOR_LOG_ALARM); }
    logged_want = out.want;
    logged_drive = out.drive;
    logged_alarms = out.alarms;
    if ((new_minute != 0u) && ((out.own_min % 15u) == 0u) && (near_a_move() != 0u)) { log_line(DOOR_LOG_QUARTER); }
    if ((new_minute != 0u) && (out.own_min == 720u)) { door_log_renew(&out); }
}

/* The keeper's own setting comes to the core as a question first: it may ask for a second one before it believes
 * a change that no proven clock can need. Only what it has taken is written into the clock. */
static void settle_setting(void)
{
    if (door.question_s == 0u) {
        door_clock_write();
        log_line(DOOR_LOG_CLOCK);
    } else {
        door_clock_forget();
        door_log_remark(DOOR_REMARK_SURE);
    }
}

static void blink(void)
{
    if ((out.alarms == 0u) && (lamp == 0u)) { return; }
    lamp = (uint8_t)((out.alarms != 0u) && (lamp == 0u));
    board_alarm_lamp(lamp);
}

static void step(void)
{
    const uint8_t first = (uint8_t)(door.boot_s == 0u);
    if (door.own_day != settings_day) { settle_settings(door.own_day); }
    door_calm_step(&calm, &door, &settings, door_rows_read, &in, &out);
    door_memory_start_mark(&door); /* before the motor: its start may brown the chip out */
    board_motor(out.drive, out.duty);
    blink();
    if (first != 0u) { log_line(DOOR_LOG_START); }
    if (in.clock_set != 0u) { settle_setting(); }
    log_second();
}

/* Most seconds are calm: what the step would say stands in `out` already, and no minute begins. */
static void second(void)
{
    uint8_t changed = door_clock_second(&in);
    in.light_counts = (int16_t)board_light_counts();
    changed |= read_switches();
    changed |= read_battery();
    if ((changed == 0u) && (door_calm_second(&calm, &door, in.light_counts) != 0u)) {
        blink();
    } else {
        step();
    }
    door_memory_second(&door);
}

static void command(void)
{
    const door_view_t view = {&door, &in, &out};
    door_calm_settle(&calm, &door);
    switch (door_line_take(&view)) {
    case DOOR_SAID_TIME: break; /* taken up in the next second's step */
    case DOOR_SAID_SHOW: log_line(DOOR_LOG_QUARTER); break;
    case DOOR_SAID_HEAD: door_log_head(); break;
    case DOOR_SAID_NOTHING: door_log_remark(DOOR_REMARK_READY); break;
    case DOOR_SAID_MORE:
    case DOOR_SAID_DONE: break;
    default: door_log_remark(DOOR_REMARK_WHAT); break;
    }
}

/* Other tables serve from the next second on: the cycle at hand is read again and all that it has decided stays. */
static void tables_changed(void)
{
    door_calm_end(&calm, &door);
    door.checked_ok = 0u;
    door.length_min = 0;
    settle_settings(door.own_day);
    log_line(DOOR_LOG_TABLE);
}

/* Goes on with what is on its way into EEPROM, a byte at a time: the events first, then the line that waits for it. */
static void keep_going(void)
{
    while (door_writer_step() == 0u) {
        if (door_line_written() != 0u) { tables_changed(); }
        if (door_ring_write() == 0u) { return; }
    }
}

void door_program_woke(uint8_t woke)
{
    if ((woke & BOARD_SECOND) != 0u) { second(); }
    if (((woke & BOARD_SERIAL) != 0u) && (door_writer_busy() == 0u)) { command(); }
    if ((woke & BOARD_KEPT) != 0u) { door_writer_kept(); }
    if ((door_writer_busy() != 0u) || (door_ring_waits() != 0u) || (door_line_waits() != 0u)) { keep_going(); }
}

#ifdef DOOR_PROGRAM_SHOWN /* on a computer: tests compare the step's inputs and outputs, a play shows them */
const door_inputs_t *door_program_inputs(void);
const door_outputs_t *door_program_outputs(void);
const door_t *door_program_door(void);
const door_inputs_t *door_program_inputs(void) { return &in; }
const door_outputs_t *door_program_outputs(void) { return &out; }
const door_t *door_program_door(void)
{
    door_calm_settle(&calm, &door);
    return &door;
}
#endif
