/* door_decision.h - when the pop-hole door goes up and down, one step a second.
 *
 * The rules are the one page RULES.md; sunsched/controller/decision.py is the same core in Python.
 * C99, no heap, no floating point, no globals; right with a 16-bit int. The same text runs on host and chip.
 *
 * Use:  door_boot(&door, &settings, kept_or_NULL, cause);   at reset, after switching the motor off
 *       door_step(&door, &settings, reader, &in, &out);    then once a second, whatever happens
 *       door_keep(&door, &kept);                   hourly and at a change: store `kept`, with a check byte
 *
 * Caution: this advises a motor, it certifies nothing. Isolate power before clearing a jam; support the
 * plate; keep fingers clear; fit end switches that cut the motor in hardware too. Look at birds and door daily.
 */
#ifndef DOOR_DECISION_H
#define DOOR_DECISION_H
#include <stdint.h>
#ifdef __cplusplus
extern "C" {
#endif

/* Shortened by the state-space test only. */
#ifndef DOOR_DAY_MIN
#define DOOR_DAY_MIN 1440
#endif
#ifndef DOOR_MINUTE_S
#define DOOR_MINUTE_S 60
#endif
#ifndef DOOR_AGE_S
#define DOOR_AGE_S 600          /* one unit of the cell's ages [s] */
#endif
#ifndef DOOR_FULL
#define DOOR_FULL 30000         /* every counter stops here */
#endif

#define DOOR_NO_MINUTE (-32767 - 1)             /* in a row: the door stays down that day */
enum { DOOR_HALT = 0, DOOR_UP = 1, DOOR_DOWN = 2 };                /* drive, hand switch */
enum { DOOR_WANT_DOWN = 0, DOOR_WANT_UP = 1, DOOR_WANT_STAY = 2 }; /* STAY: leave the door as it is */
enum { DOOR_IS_HALTED = 0, DOOR_IS_UP, DOOR_IS_DOWN, DOOR_IS_MOVING_UP, DOOR_IS_MOVING_DOWN };
enum { DOOR_BY_CLOCK = 0, DOOR_BY_OWN_COUNT = 1, DOOR_BY_LIGHT = 2 };  /* which witness keeps the time */
enum { DOOR_BATTERY_GOOD = 0, DOOR_BATTERY_LOW = 1, DOOR_BATTERY_SPENT = 2 };

enum {                          /* reasons: why the door is wanted where it is */
    DOOR_WHY_START = 0, DOOR_WHY_DAY, DOOR_WHY_DUSK, DOOR_WHY_CLOSE_MINUTE, DOOR_WHY_DUSK_LIMIT,
    DOOR_WHY_EARLY_DUSK, DOOR_WHY_HELD_UP, DOOR_WHY_NIGHT, DOOR_WHY_DAWN, DOOR_WHY_OPEN_MINUTE,
    DOOR_WHY_DAWN_LIMIT, DOOR_WHY_HELD_DOWN, DOOR_WHY_LIGHT_ALONE, DOOR_WHY_STEADY_LIGHT, DOOR_WHY_LONG_SHUT,
    DOOR_WHY_NO_WITNESS, DOOR_WHY_KEPT_IN, DOOR_WHY_KEEP_SHUT, DOOR_WHY_HAND, DOOR_WHY_SECOND_CHANCE,
    DOOR_WHY_BATTERY, DOOR_WHY_COUNT
};
enum {                          /* alarm bits */
    DOOR_ALARM_CLOCK_STEP = 0x0001,   /* the clock does not run as the chip's own seconds do, or is not there */
    DOOR_ALARM_CLOCK_LOST = 0x0002,   /* nobody knows the time: light alone */
    DOOR_ALARM_SUN_SHIFT = 0x0004,    /* the Sun says the clock is off; the windows are moved, the clock is not */
    DOOR_ALARM_CONTRADICTION = 0x0008,/* clock and light disagree, days running: wrong hour or wrong date */
    DOOR_ALARM_CELL = 0x0010,         /* the light cell is dead, lit, covered or at a rail */
    DOOR_ALARM_NO_WITNESS = 0x0020,   /* neither time nor light */
    DOOR_ALARM_BATTERY = 0x0040,
    DOOR_ALARM_NOT_DOWN = 0x0080,     /* the lower switch was not made: jam, slack, dead switch */
    DOOR_ALARM_NOT_UP = 0x0100,       /* the upper switch was not made */
    DOOR_ALARM_NOT_RISING = 0x0200,   /* raised for seconds and still on the lower switch: ice, cord */
    DOOR_ALARM_SWITCHES = 0x0400,     /* a switch stands made, or both are made at once */
    DOOR_ALARM_WRONG_WAY = 0x0800,    /* the far switch was made: wires reversed, or the cord winds backwards */
    DOOR_ALARM_POWER = 0x1000,        /* motor starts end in resets: supply, battery or wiring too weak */
    DOOR_ALARM_MOVED = 0x2000,        /* the plate has moved with the motor off: lifted, slipped, cord */
    DOOR_ALARM_DRIVER = 0x4000        /* the plate has gone from end to end with the motor off: a driver stuck on */
};
#define DOOR_ALARM_CLOCK_CELL 0x8000u /* the clock chip says that its own battery is low; no enumerator: 16-bit int */
#define DOOR_ALARMS_KEPT 0x7F80u      /* those that survive a reset: of motor and power */
#define DOOR_ALARMS_HAND 0x7800u      /* those that stand until a hand: WRONG_WAY, POWER, MOVED, DRIVER */

/* One day of the table. Minutes count from the chip's midnight of the row's date; they may be negative or
 * past 1439. midnight_min is the solar midnight FOLLOWING the row's solar noon (about 1440). */
typedef struct { int16_t open_min, close_min, midnight_min; uint8_t facts; } door_row_t;
enum { DOOR_DARK_EXPECTED = 1, DOOR_LIGHT_EXPECTED = 2, DOOR_OPEN_BY_TWILIGHT = 4, DOOR_CLOSE_BY_TWILIGHT = 8 };

/* Fills *row for a day (days since 2000-01-01) and returns 1; returns 0 if the table does not serve the date.
 * A date before the table's first year must return 0: that is how a clock reset to 2000 is found out. */
typedef uint8_t (*door_row_reader)(uint16_t day, door_row_t *row);

/* Every constant of the rules. Plain numbers, so the block may live in EEPROM. Counts are of the site's own cell;
 * sunsched/controller/door_settings.py works them out from the configuration. */
typedef struct {
    int16_t dark_counts, bright_counts, night_counts, deep_counts, hold_counts, dusk_counts, lamp_counts, rail_counts;
    int16_t evening_from_min, evening_until_min, morning_from_min, morning_until_min; /* 0 and 0: clock alone */
    int16_t flat_counts, flat_high_counts;
    uint16_t flat_min, flat_high_min;           /* minutes within the counts: a lamp or a stuck reading */
    uint16_t confirm_s, fall_s, fast_s, stale_s, sure_s, dusk_s;
    uint16_t age_units;                         /* the cell's proof lasts this many DOOR_AGE_S */
    uint16_t early_s;
    int16_t early_lead_min;                     /* the plan closes this long after a clear sky's dark */
    uint16_t hold_dim_min, hold_day_min, morning_hold_min;
    uint16_t night_least_min, night_most_min;
    int16_t shift_one_min, shift_two_min, shift_proven_min, shift_spread_min;
    int16_t step_min, question_min;
    uint16_t question_s, own_trust_min, settle_s;
    uint16_t alone_dark_s, alone_abrupt_s, alone_bright_s, alone_open_min, alone_shut_min, longest_shut_min;
    uint16_t hand_min, spent_min;
    uint16_t reopen_after_min, reopen_s;        /* reopen_s 0: no second chance */
    uint16_t start_rest_s, dead_s, retry_s, late_retry_s;
    uint16_t down_budget_s, down_nominal_s, up_least_s, up_cutoff_s, leave_s;
    uint16_t down_soon_s, up_soon_s;            /* no end is reached sooner: 3/4 of the way's time */
    uint8_t tries, late_tries;
    uint8_t seat_s;                             /* an end switch counts after so long */
    uint8_t moved_s;                            /* its place is lost, or the far switch believed, after so long */
    uint8_t lower_percent;   /* lowering speed as a share of raising speed, 1..100 */
    uint8_t up_duty, down_duty;                 /* of 255 */
    uint8_t clock_fitted;                       /* 0: no clock chip; own count and Sun serve */
    uint8_t sun_at_rail;                        /* 1: full Sun itself reads at the rail, so a short shows at night only */
    uint8_t down_by_current;                    /* 1: the lower end is told by the motor's current, not by a switch */
} door_settings_t;

typedef struct {
    uint16_t clock_day, clock_min;      /* days since 2000-01-01, minute of the day */
    int16_t light_counts;
    uint8_t clock_valid;                /* 0: stopped, power lost, not answering, not fitted */
    uint8_t clock_set;                  /* 1 in the one step after the keeper set the clock */
    uint8_t top, bottom;                /* limit switches, 1 = made */
    uint8_t hand;                       /* DOOR_UP or DOOR_DOWN while pressed */
    uint8_t keep_shut;                  /* 1: a lowered door stays down; only the hand raises it */
    uint8_t battery;                    /* DOOR_BATTERY_* */
    uint8_t clock_cell_low;             /* 1: the clock chip says that its own battery is low */
} door_inputs_t;

typedef struct {
    uint16_t alarms;
    uint16_t own_day, own_min;          /* the time the door goes by; meaningless while time is DOOR_BY_LIGHT */
    uint8_t drive, duty;                /* DOOR_HALT, DOOR_UP, DOOR_DOWN; 0..255 */
    uint8_t door;                       /* DOOR_IS_* */
    uint8_t want, reason, time;         /* DOOR_WANT_*, DOOR_WHY_*, DOOR_BY_* */
} door_outputs_t;

/* What survives a reset; store it in rotating slots with a check byte. starts_lost alone must be stored in the second
 * in which it changes, before the motor is switched: it is what a motor start that browns the chip out leaves behind. */
typedef struct {
    int16_t shift_min;          /* by how much the windows are moved for what the Sun has taught */
    uint16_t stamp_day;         /* the own count's day, days since 2000-01-01 */
    uint16_t alarms;            /* motor and power alarms that stand: DOOR_ALARM_*, those of DOOR_ALARMS_KEPT */
    uint8_t stamp_hour;         /* the own count's hour: an estimate after a cut, never fast */
    uint8_t bits;               /* DOOR_KEPT_* */
    uint8_t starts_lost;        /* motor runs begun and never ended, one after the other: each ended in a reset */
    uint8_t moved;              /* times the plate was found moved at rest; stops at 255 */
    uint8_t glitches;           /* times an end switch made and opened again at once; stops at 255 */
    uint8_t power_ups, brown_outs, hangs, buttons;  /* resets by cause: DOOR_RESET_*; each stops at 255 */
    uint8_t cord_s;             /* seconds of lowering paid out where the plate last rested; 255 not known */
} door_kept_t;
enum { DOOR_KEPT_CELL_GOOD = 1, DOOR_KEPT_WIRING_PROVEN = 2, DOOR_KEPT_STAMP = 4, DOOR_KEPT_ODD_DAY = 8 };
/* Why the chip has started, as the board says it; 0: not told. Several may be set. */
enum { DOOR_RESET_POWER_UP = 1, DOOR_RESET_BUTTON = 2, DOOR_RESET_BROWN_OUT = 4, DOOR_RESET_HANG = 8 };

typedef struct {
    /* time: the own count, and what the clock last said */
    uint16_t own_day, own_min, last_clock_min, checked_day, unconfirmed_min, question_s, boot_s;
    int16_t clock_ahead_min;
    uint8_t second, time, known, stepped, proven, estimated, new_minute, clock_ok, checked_ok;
    /* the cycle, from solar noon to solar noon */
    uint16_t cycle_day;
    int16_t t_min, close_t_min, open_t_min, length_min, noon_min;
    uint8_t cycle_known, facts, latch;
    /* light */
    uint16_t dark_s, bright_s, night_s, fall_s, since_bright_s, since_dark_s, age_s, flat_min, rail_min;
    int16_t flat_ref_counts;
    uint8_t fall, rise_natural, flat, age_dark, age_bright, cell_bad;
    /* learning from the Sun */
    uint16_t night_min;
    int16_t shift_min, last_off_min;
    uint8_t in_night, night_natural, taught, creeping, odd_today, odd_days;
    /* wish */
    uint16_t since_min, hold_dim_min, hold_day_min, morning_hold_min;
    uint8_t plan, reason;
    /* orders */
    uint16_t hand_min, spent_min, reopen_left_s;
    uint8_t hand, last_hand, wish, reopened;
    /* motor */
    uint16_t wait_s, run_s, paid_s, top_open_s, bottom_open_s;
    uint8_t phase, place, asked, lift, clear, attempts, top_first, bottom_first, ran, blocked, wiring_proven;
    uint8_t top_was, bottom_was, top_held_s, bottom_held_s;     /* what the switches say, and for how long */
    uint8_t seat, suspect, left, mends, cord_s;
    uint16_t alarms;
    /* told over resets: see door_kept_t */
    uint8_t starts_lost, moved, glitches, power_ups, brown_outs, hangs, buttons;
} door_t;

/* Sets the state of a chip just reset. kept: what was stored, or a null pointer. Nothing moves for confirm_s. */
void door_boot(door_t *door, const door_settings_t *settings, const door_kept_t *kept, uint8_t cause);

/* One second. Fills *out; the caller puts it on the pins at once and never drives without a step. */
void door_step(door_t *door, const door_settings_t *settings, door_row_reader reader,
               const door_inputs_t *in, door_outputs_t *out);

/* What to store now. Changes at most hourly but for a learned shift or a verdict. */
void door_keep(const door_t *door, door_kept_t *kept);

/* Days since 2000-01-01 of a date, 2000..2099. */
uint16_t door_day_number(uint8_t year_of_century, uint8_t month, uint8_t day);

#ifdef __cplusplus
}
#endif
#endif
