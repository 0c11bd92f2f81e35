/* door_decision.h - when the pop-hole door goes up and down, one step a second.
 *
 * The rules are the one page RULES.md; sunsched/controller/decision.py is the same core in Python.
 * C99, no heap, no floating point, no globals; correct with a 16-bit int. Host and chip compile the same text.
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
    DOOR_ALARM_CLOCK_LOST = 0x0002,   /* the time is not known: light alone */
    DOOR_ALARM_SUN_SHIFT = 0x0004,    /* by the Sun the clock is off; the windows are moved, the clock is not */
    DOOR_ALARM_CONTRADICTION = 0x0008,/* clock and light disagree, days running: wrong hour or wrong date */
    DOOR_ALARM_CELL = 0x0010,         /* the light cell is dead, lit, covered or at a rail */
    DOOR_ALARM_NO_TABLE = 0x0020,     /* no table serves the day: expired, or not begun; light alone */
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
#define DOOR_ALARM_CLOCK_CELL 0x8000u /* the clock chip reports its own battery as low; no enumerator: 16-bit int */
#define DOOR_ALARMS_KEPT 0x7F80u      /* those that survive a reset: of motor and power */
#define DOOR_ALARMS_HAND 0x7800u      /* those that stand until a hand: WRONG_WAY, POWER, MOVED, DRIVER */

/* One day of the table. Minutes count from the chip's midnight of the row's date; they may be negative or
 * past 1439. midnight_min is the solar midnight FOLLOWING the row's solar noon (about 1440). */
typedef struct { int16_t open_min, close_min, midnight_min; uint8_t facts; } door_row_t;
enum { DOOR_DARK_EXPECTED = 1, DOOR_LIGHT_EXPECTED = 2, DOOR_OPEN_BY_TWILIGHT = 4, DOOR_CLOSE_BY_TWILIGHT = 8 };

/* Fills *row for a day (days since 2000-01-01) and returns DOOR_ROW_SERVED. No table serves the day: *row is left
 * alone, and DOOR_ROW_OUTSIDE says that the date may still be right (after the last table, or in the year
 * before the first). An earlier date must return DOOR_ROW_NONE: that is how a clock reset to 2000 is recognised. */
enum { DOOR_ROW_NONE = 0, DOOR_ROW_SERVED = 1, DOOR_ROW_OUTSIDE = 2 };
typedef uint8_t (*door_row_reader)(uint16_t day, door_row_t *row);

/* Every constant of the rules. Plain numbers, so the block may live in EEPROM. Counts are of the site's own cell;
 * sunsched/controller/door_settings.py works them out from the configuration. */
typedef struct {
    int16_t dark_counts;        /* dark is below this [counts] */
    int16_t bright_counts;      /* bright is above this [counts] */
    int16_t night_counts;       /* E2: as dark as night below this [counts] */
    int16_t deep_counts;        /* D5: darker than a dull sky at the end of the morning's window [counts] */
    int16_t hold_counts;        /* E6: above this the light holds the door up [counts] */
    int16_t dusk_counts;        /* a natural dusk begins below this [counts] */
    int16_t lamp_counts;        /* no lamp gives more than this [counts] */
    int16_t rail_counts;        /* from this on the reading is at the ADC's end [counts] */
    int16_t evening_from_min;   /* the evening's window begins [min after the closing]; both 0: clock alone */
    int16_t evening_until_min;  /* the evening's window ends [min after the closing] */
    int16_t morning_from_min;   /* the morning's window begins [min after the opening]; both 0: clock alone */
    int16_t morning_until_min;  /* the morning's window ends [min after the opening] */
    int16_t flat_counts;        /* C3: a flat light below lamp_counts stays within this [counts] */
    int16_t flat_high_counts;   /* C3: a flat light above lamp_counts stays within this [counts] */
    uint16_t flat_min;          /* C3: it is flat after this time below lamp_counts [min] */
    uint16_t flat_high_min;     /* C3: it is flat after this time at any level [min] */
    uint16_t confirm_s;         /* E3, D2: time of dark or bright that moves the door; and of rest after a reset [s] */
    uint16_t fall_s;            /* C1: least time of a natural fall from dusk_counts to dark_counts [s] */
    uint16_t fast_s;            /* C1: least time of a natural change between bright and dark [s] */
    uint16_t stale_s;           /* C2: dark for longer is stale [s] */
    uint16_t sure_s;            /* C5: time of dark or bright that proves the cell [s] */
    uint16_t dusk_s;            /* M: time of dark that begins a night [s] */
    uint16_t age_units;         /* C5: the cell's proof lasts this long [10 min] */
    uint16_t early_s;           /* E2: time as dark as night that closes early [s] */
    int16_t early_lead_min;     /* E2, C6: the plan closes this long after a clear sky's dark [min] */
    uint16_t hold_dim_min;      /* E6: longest hold in dim light [min] */
    uint16_t hold_day_min;      /* E6: longest hold in daylight [min] */
    uint16_t morning_hold_min;  /* D5: longest hold [min] */
    uint16_t night_least_min;   /* M: shortest night that counts [min] */
    uint16_t night_most_min;    /* M: longest night that counts [min] */
    int16_t shift_one_min;      /* M1: deviation of one night that moves the windows [min] */
    int16_t shift_two_min;      /* M2: mean deviation of two nights that moves the windows [min] */
    int16_t shift_proven_min;   /* M2: the same for a proven time [min] */
    int16_t shift_spread_min;   /* M1, M2: nights agree within this [min] */
    int16_t step_min;           /* T1: the own count follows a clock within this [min] */
    int16_t question_min;       /* T3: a setting further off than this is questioned [min] */
    uint16_t question_s;        /* T3: time in which a second setting is taken [s] */
    uint16_t own_trust_min;     /* T5: longest time on the own count without clock or Sun [min] */
    uint16_t settle_s;          /* C5: the cell is not judged before this time after a reset [s] */
    uint16_t alone_dark_s;      /* A1, A4: time of natural dark that lowers [s] */
    uint16_t alone_abrupt_s;    /* A1: time of abrupt dark that lowers [s] */
    uint16_t alone_bright_s;    /* A2, A4: time of bright that raises [s] */
    uint16_t alone_open_min;    /* A1, A5: least time up [min] */
    uint16_t alone_shut_min;    /* A2: least time down [min] */
    uint16_t longest_shut_min;  /* A5: longest time down [min] */
    uint16_t hand_min;          /* O2: how long a hand's up lasts in the night [min] */
    uint16_t spent_min;         /* O4: longest time that a spent battery keeps the door down [min] */
    uint16_t reopen_after_min;  /* O5: time from a closing by light to the second chance [min] */
    uint16_t reopen_s;          /* O5: how long the second chance lasts [s]; 0: there is none */
    uint16_t start_rest_s;      /* rest after a reset [s] */
    uint16_t dead_s;            /* rest between two runs [s] */
    uint16_t retry_s;           /* G2, G4: rest before a new try [s] */
    uint16_t late_retry_s;      /* G4: first of the longer rests, after `tries` tries [s] */
    uint16_t down_budget_s;     /* G1: longest lowering since the top was last held, over all tries [s] */
    uint16_t down_nominal_s;    /* lowering takes this for the whole way [s] */
    uint16_t up_least_s;        /* G3: raising is given this time at least [s] */
    uint16_t up_cutoff_s;       /* G3: raising is given this time at most [s] */
    uint16_t leave_s;           /* G4: time in which the plate leaves its switch [s] */
    uint16_t down_soon_s;       /* G7: no plate is down sooner: 3/4 of the way's time [s] */
    uint16_t up_soon_s;         /* G7: no plate is up sooner: 3/4 of the way's time [s] */
    uint8_t tries;              /* G2, G4: tries before the plate is left lowered, or the rests grow */
    uint8_t late_tries;         /* G4: tries at each longer rest; 0: no more tries */
    uint8_t seat_s;             /* G9: an end switch counts when it has held this long [s] */
    uint8_t moved_s;            /* G5, G10, O3: a moved plate, made far switch or keep-shut counts after this time [s] */
    uint8_t hand_hold_s;        /* O2: a hand switch counts when it has been held this long [s] */
    uint8_t lower_percent;      /* lowering speed as a share of raising speed, 1 to 100 [%] */
    uint8_t up_duty;            /* duty of the motor's PWM while raising, of 255 */
    uint8_t down_duty;          /* duty of the motor's PWM while lowering, of 255 */
    uint8_t clock_fitted;       /* 0: no clock chip; own count and Sun serve */
    uint8_t sun_at_rail;        /* 1: full Sun itself reads at the rail, so a short shows at night only */
    uint8_t down_by_current;    /* 1: the motor's current shows the lower end, not a switch */
} door_settings_t;

typedef struct {
    uint16_t clock_day;         /* the clock's day [days since 2000-01-01] */
    uint16_t clock_min;         /* the clock's minute of the day, 0 to 1439 */
    int16_t light_counts;       /* the light cell's reading [counts] */
    uint8_t clock_valid;        /* 0: the clock has stopped, lost its power, does not answer or is not fitted */
    uint8_t clock_set;          /* 1 in the one step after the keeper set the clock */
    uint8_t top;                /* upper limit switch, 1: made */
    uint8_t bottom;             /* lower limit switch, 1: made */
    uint8_t hand;               /* hand switch while pressed: none 0, up 1, down 2 */
    uint8_t keep_shut;          /* 1: a lowered door stays down; only the hand raises it */
    uint8_t battery;            /* good 0, low 1, spent 2 */
    uint8_t clock_cell_low;     /* 1: the clock chip reports its own battery as low */
} door_inputs_t;

typedef struct {
    uint16_t alarms;            /* alarms that stand, one bit each */
    uint16_t own_day;           /* day of the time in use [days since 2000-01-01]; without meaning while `time` is 2 */
    uint16_t own_min;           /* minute of the day of the time in use; without meaning while `time` is 2 */
    uint8_t drive;              /* what the motor does: halt 0, up 1, down 2 */
    uint8_t duty;               /* duty of the motor's PWM, 0 to 255 */
    uint8_t door;               /* halted 0, up 1, down 2, moving up 3, moving down 4 */
    uint8_t want;               /* where the door is wanted: down 0, up 1, as it is 2 */
    uint8_t reason;             /* why it is wanted there: the reason's number */
    uint8_t time;               /* witness that keeps the time: clock 0, own count 1, light 2 */
} door_outputs_t;

/* What survives a reset; store it in rotating slots with a check byte. starts_lost alone must be stored in the second
 * in which it changes, before the motor is switched: it is what a motor start that browns the chip out leaves behind. */
typedef struct {
    int16_t shift_min;          /* shift of the windows learned from the Sun [min], positive is later by the clock */
    uint16_t stamp_day;         /* the own count's day [days since 2000-01-01] */
    uint16_t alarms;            /* alarms of motor and power that stand, one bit each */
    uint8_t stamp_hour;         /* the own count's hour, 0 to 23: an estimate after a power cut, never fast */
    uint8_t bits;               /* cell good 1, wiring proven 2, stamp known 4, contradiction in the last cycle 8 */
    uint8_t starts_lost;        /* motor runs in a row that a reset has ended */
    uint8_t moved;              /* times the plate has moved with the motor off; stops at 255 */
    uint8_t glitches;           /* times an end switch has made and opened again at once; stops at 255 */
    uint8_t power_ups;          /* resets by a power-up; stops at 255 */
    uint8_t brown_outs;         /* resets by a low supply voltage; stops at 255 */
    uint8_t hangs;              /* resets of a program that hung; stops at 255 */
    uint8_t buttons;            /* resets by the button; stops at 255 */
    uint8_t cord_s;             /* cord paid out where the plate last rested [s of lowering]; 255: unknown */
    uint8_t usual_down_s;       /* G7: time that a lowering from the top takes [s]; 0: unknown */
} door_kept_t;
enum { DOOR_KEPT_CELL_GOOD = 1, DOOR_KEPT_WIRING_PROVEN = 2, DOOR_KEPT_STAMP = 4, DOOR_KEPT_ODD_DAY = 8 };
/* Why the chip has started, as the board reports it; 0: not known. Several may be set. */
enum { DOOR_RESET_POWER_UP = 1, DOOR_RESET_BUTTON = 2, DOOR_RESET_BROWN_OUT = 4, DOOR_RESET_HANG = 8 };

typedef struct {
    /* ---- time: the own count, and what the clock last gave ---- */
    uint16_t own_day;           /* the own count's day [days since 2000-01-01] */
    uint16_t own_min;           /* the own count's minute of the day, 0 to 1439 */
    uint16_t last_clock_min;    /* the good clock's minute of the day when last read; 65535: none yet */
    uint16_t checked_day;       /* the clock's day that the table was last asked for [days since 2000-01-01] */
    uint16_t unconfirmed_min;   /* time that the own count has run without clock or Sun [min] */
    uint16_t question_s;        /* T3: time left in which a second setting of the clock is taken [s] */
    uint16_t boot_s;            /* time since the reset [s] */
    int16_t clock_ahead_min;    /* clock minus own count when they last disagreed [min] */
    uint8_t second;             /* second of the own count's minute, 0 to 59 */
    uint8_t time;               /* witness that keeps the time: clock 0, own count 1, light 2 */
    uint8_t known;              /* 1: the own count is known */
    uint8_t stepped;            /* 1: the clock has left the own count and is not followed */
    uint8_t proven;             /* 1: a night's light has confirmed the time */
    uint8_t estimated;          /* 1: own_day and own_min are an estimate at least */
    uint8_t new_minute;         /* 1: a minute of the own count begins in this second */
    uint8_t clock_ok;           /* 1: the clock is valid and the table accepts its day */
    uint8_t checked_ok;         /* the table's answer for checked_day, 0: refused */
    /* ---- the cycle, from solar noon to solar noon ---- */
    uint16_t cycle_day;         /* day of the solar noon that begins the cycle [days since 2000-01-01] */
    int16_t t_min;              /* time since that solar noon, corrected by shift_min [min] */
    int16_t close_t_min;        /* planned closing [min since solar noon]; -32000: none */
    int16_t open_t_min;         /* planned opening of the next morning [min since solar noon]; -32000: none */
    int16_t length_min;         /* length of the cycle [min] */
    int16_t noon_min;           /* the cycle's solar noon [min since midnight of cycle_day] */
    uint8_t cycle_known;        /* 1: the fields of the cycle hold */
    uint8_t facts;              /* facts of its evening and the morning after, bits as in a row */
    uint8_t latch;              /* what the cycle has decided for good: nothing 0, down 1, up 2 */
    /* ---- light ---- */
    uint16_t dark_s;            /* time below dark_counts without a break [s] */
    uint16_t bright_s;          /* time above bright_counts without a break [s] */
    uint16_t night_s;           /* time below night_counts without a break [s] */
    uint16_t fall_s;            /* time since the light was last above dusk_counts [s] */
    uint16_t since_bright_s;    /* time since the light was last above bright_counts [s] */
    uint16_t since_dark_s;      /* time since the light was last below dark_counts [s] */
    uint16_t age_s;             /* time towards the next unit of age_dark and age_bright [s] */
    uint16_t flat_min;          /* time for which the light has stayed near flat_ref_counts [min] */
    uint16_t rail_min;          /* time at the rail without a break [min] */
    int16_t flat_ref_counts;    /* reading that flat_min compares with [counts] */
    uint8_t fall;               /* how the light last fell to dark: not yet 0, natural 1, abrupt 2 */
    uint8_t rise_natural;       /* 1: the light last rose to bright as slowly as a dawn */
    uint8_t flat;               /* 1: the light does not change: a lamp or a stuck reading */
    uint8_t age_dark;           /* time since the cell was dark for sure_s [10 min]; 255: longer, or never */
    uint8_t age_bright;         /* time since the cell was bright for sure_s [10 min]; 255: longer, or never */
    uint8_t cell_bad;           /* 1: the alarm CELL stands */
    /* ---- learning from the Sun ---- */
    uint16_t night_min;         /* length of the night so far, by the light [min] */
    int16_t shift_min;          /* shift of the windows learned from the Sun [min], positive is later by the clock */
    int16_t last_off_min;       /* deviation of the last night that counted [min] */
    uint8_t in_night;           /* 1: a night has begun and night_min counts */
    uint8_t night_natural;      /* 1: that night began with a natural fall */
    uint8_t taught;             /* 1: last_off_min holds a night's deviation */
    uint8_t creeping;           /* nights in a row that a proven clock is too far off; stops at 5 */
    uint8_t odd_today;          /* 1: a contradiction in this cycle */
    uint8_t odd_days;           /* cycles in a row with a contradiction, up to the one before; stops at 9 */
    /* ---- plan: where clock and light want the door ---- */
    uint16_t since_min;         /* time since the plan last changed [min] */
    uint16_t hold_dim_min;      /* E6: time held up in dim light in this cycle [min] */
    uint16_t hold_day_min;      /* E6: time held up in daylight in this cycle [min] */
    uint16_t morning_hold_min;  /* D5: time held down in this cycle [min] */
    uint8_t plan;               /* where clock and light want the door: down 0, up 1, as it is 2 */
    uint8_t reason;             /* why they want it there: the reason's number */
    /* ---- orders ---- */
    uint16_t hand_min;          /* O2: time since the hand switch was pressed [min] */
    uint16_t spent_min;         /* O4: time for which a spent battery has kept the door down [min] */
    uint16_t reopen_left_s;     /* O5: time left of the second chance [s] */
    uint8_t hand;               /* order of the hand switch in force: none 0, up 1, down 2 */
    uint8_t last_hand;          /* hand switch in the step before: none 0, up 1, down 2 */
    uint8_t hand_held_s;        /* O2: time for which the hand switch has stayed as it is [s]; stops at 255 */
    uint8_t keep_shut;          /* O3: 1: the keep-shut switch counts as closed */
    uint8_t keep_other_s;       /* O3: time for which its wire has read the other way [s] */
    uint8_t wish;               /* where the door is wanted after the orders: down 0, up 1, as it is 2 */
    uint8_t reopened;           /* 1: this cycle's second chance has been used */
    /* ---- motor ---- */
    uint16_t wait_s;            /* rest left before a run may start [s] */
    uint16_t run_s;             /* time of the present or last run [s] */
    uint16_t paid_s;            /* cord that is out [s of lowering] */
    uint16_t top_open_s;        /* time in this run with the upper switch open [s] */
    uint16_t bottom_open_s;     /* time in this run with the lower switch open [s] */
    uint8_t phase;              /* at rest 0, raising 1, lowering 2 */
    uint8_t place;              /* where the plate is: unknown 0, up 1, down 2 */
    uint8_t asked;              /* the wish that the motor works on: down 0, up 1, as it is 2 */
    uint8_t lift;               /* 1: the run raises though down is wanted: G2, G8 */
    uint8_t clear;              /* 1: the next run down begins with a lift: G2 */
    uint8_t attempts;           /* failed runs of this wish; stops at 255 */
    uint8_t top_first;          /* 1: the upper switch was made when the run began */
    uint8_t bottom_first;       /* 1: the lower switch was made when the run began */
    uint8_t ran;                /* 1: the motor has run since the reset */
    uint8_t blocked;            /* 1: no run until a hand or a power-up */
    uint8_t wiring_proven;      /* 1: a run has shown that the motor turns the right way */
    uint8_t top_was;            /* upper switch as last read, 1: made */
    uint8_t bottom_was;         /* lower switch as last read, 1: made */
    uint8_t top_held_s;         /* time that the upper switch has stayed as it is [s]; stops at 255 */
    uint8_t bottom_held_s;      /* time that the lower switch has stayed as it is [s]; stops at 255 */
    uint8_t seat;               /* switch of the place: not made 0, made just now 1, held 2 */
    uint8_t suspect;            /* run that the far switch has stopped, in doubt: none 0, raising 1, lowering 2 */
    uint8_t left;               /* G10: place that the plate has left with the motor off: none 0, up 1, down 2 */
    uint8_t mends;              /* new runs of this wish after a glitch, early switch or moved plate; stops at 255 */
    uint8_t cord_s;             /* cord paid out where the plate last rested [s of lowering]; 255: unknown */
    uint8_t usual_down_s;       /* G7: time that a lowering from the top takes [s]; 0: unknown */
    uint16_t alarms;            /* alarms of motor and power that stand, one bit each */
    /* ---- counted over resets: as in door_kept_t ---- */
    uint8_t starts_lost;        /* motor runs in a row that a reset has ended */
    uint8_t moved;              /* times the plate has moved with the motor off; stops at 255 */
    uint8_t glitches;           /* times an end switch has made and opened again at once; stops at 255 */
    uint8_t power_ups;          /* resets by a power-up; stops at 255 */
    uint8_t brown_outs;         /* resets by a low supply voltage; stops at 255 */
    uint8_t hangs;              /* resets of a program that hung; stops at 255 */
    uint8_t buttons;            /* resets by the button; stops at 255 */
} door_t;

/* Sets the state of a chip just reset. kept: what was stored, or a null pointer. Nothing moves for confirm_s. */
void door_boot(door_t *door, const door_settings_t *settings, const door_kept_t *kept, uint8_t cause);

/* One second. Fills *out; the caller puts it on the pins at once and never drives without a step. */
void door_step(door_t *door, const door_settings_t *settings, door_row_reader reader,
               const door_inputs_t *in, door_outputs_t *out);

/* What to store now. Changes at most hourly but for a learned shift or a verdict. */
void door_keep(const door_t *door, door_kept_t *kept);

/* What starts_lost would be after a reset now: to be stored before the motor is switched on. */
uint8_t door_starts_lost(const door_t *door);

/* Days since 2000-01-01 of a date, 2000..2099. */
uint16_t door_day_number(uint8_t year_of_century, uint8_t month, uint8_t day);

#ifdef __cplusplus
}
#endif
#endif
