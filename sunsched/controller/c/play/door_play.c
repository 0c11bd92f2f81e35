/* door_play.c - the door's program with its machine, clock chip and switches, a second at a time, for a page.
 *
 * The caller fills the site's block, powers up, and gives each second the counts of the light cell. What breaks is set by
 * play_break(). Between two steps the motor moves the plate in tenths of a second, and an end switch cuts it as the
 * board's drive does. Everything is deterministic: the same calls give the same log. */
#include "clock_chip.h"
#include "door_board.h"
#include "door_model.h"
#include "door_program.h"
#include "host_board.h"
#include "play_site.h"

#ifdef __wasm__
#define PLAY_EXPORT(name) __attribute__((export_name(name)))
#else
#define PLAY_EXPORT(name)
#endif
#define SERIAL_ROOM 65536u
#define HELD_SHOWS_S 0.55 /* an end by current counts when the motor has been held for a tenth after its start */

/* Shown by the program to tests and plays alone. */
const door_inputs_t *door_program_inputs(void);
const door_outputs_t *door_program_outputs(void);
const door_t *door_program_door(void);

/* What play_break() sets. */
enum {
    PLAY_TOP_SWITCH = 0, /* 0 works, 1 never makes, 2 always made */
    PLAY_BOTTOM_SWITCH,
    PLAY_WIRES_SWAPPED,
    PLAY_JAM_MM,         /* the plate comes no lower than this above the sill; 0: free */
    PLAY_FROZEN,         /* the plate cannot leave the sill */
    PLAY_CORD_BACKWARDS, /* strung on so that it winds on the other side; the plate hangs at the top */
    PLAY_HANDS,          /* BOARD_HAND_UP, BOARD_HAND_DOWN, BOARD_KEEP_SHUT */
    PLAY_BATTERY_COUNTS,
    PLAY_CLOCK_ABSENT,   /* does not answer */
    PLAY_CLOCK_HALTED,   /* stands still */
    PLAY_CLOCK_STOPPED,  /* marked as having stopped */
    PLAY_CLOCK_BY_S,     /* jumps by so many seconds */
    PLAY_CLOCK_CELL_LOW
};

/* What play_look() shows. */
typedef struct {
    int32_t want, reason, door, time, drive, duty, alarms, own_day, own_min, own_second;
    int32_t top, bottom, lamp, height_tenth_mm, powered;
    int32_t clock_valid, clock_s; /* the clock chip's own seconds since 2000-01-01 */
    int32_t proven, known, shift_min, last_off_min, taught, cycle_known, t_min, close_t_min, open_t_min, light_counts;
} play_seen_t;

play_site_t play_site;
static door_model door;
static char serial[SERIAL_ROOM];
static char said[80];
static uint8_t hands, by_current, end_seen, cut, powered;
static double lowered_s;
static play_seen_t seen;

void door_site_settings(door_settings_t *settings) { *settings = play_site.settings; }

PLAY_EXPORT("settings_at") door_settings_t *play_settings(void) { return &play_site.settings; }
PLAY_EXPORT("settings_size") uint32_t play_settings_size(void) { return (uint32_t)sizeof play_site.settings; }
PLAY_EXPORT("tables_at") uint8_t *play_tables(void) { return play_site.tables; }
PLAY_EXPORT("tables_room") uint32_t play_tables_room(void) { return PLAY_TABLES_ROOM; }
PLAY_EXPORT("said_at") char *play_said(void) { return said; }
PLAY_EXPORT("log_at") char *play_log(void) { return serial; }
PLAY_EXPORT("log_length") uint32_t play_log_length(void) { return host.serial_n; }
PLAY_EXPORT("log_clear") void play_log_clear(void) { host.serial_n = 0u; }
PLAY_EXPORT("eeprom_at") uint8_t *play_eeprom(void) { return host.eeprom; }

PLAY_EXPORT("site_is")
void play_site_is(int32_t utc_offset_min, uint32_t tables_bytes, uint32_t low_counts, uint32_t spent_counts,
                  uint32_t clock)
{
    play_site.utc_offset_min = (int16_t)utc_offset_min;
    play_site.tables_bytes = (uint16_t)tables_bytes;
    play_site.battery_low_counts = (uint16_t)low_counts;
    play_site.battery_spent_counts = (uint16_t)spent_counts;
    play_site.clock = (uint8_t)clock;
}

/* The machine, its plate at the top or on the sill. cord_mm: on the spool while the plate is up. The battery's counts are
 * set by play_break(). */
PLAY_EXPORT("machine_is")
void play_machine_is(double travel_mm, double raise_mm_s, double cord_mm, uint32_t ends_by_current, uint32_t down)
{
    const door_model built = {.travel_mm = travel_mm, .raise_mm_s = raise_mm_s, .cord_mm = cord_mm,
                              .rigid = (uint8_t)ends_by_current, .paid_mm = (down != 0u) ? travel_mm : 0.0};
    door = built;
    by_current = (uint8_t)ends_by_current;
}

static void show_switches(void)
{
    const uint8_t bottom = (by_current != 0u) ? end_seen : door_model_bottom(&door);
    host.switches = (uint8_t)(((door_model_top(&door) != 0u) ? BOARD_TOP : 0u) | ((bottom != 0u) ? BOARD_BOTTOM : 0u) |
                              hands);
}

static void start(uint8_t cause)
{
    host.direction = BOARD_HALT;
    host.reset_cause = cause;
    powered = 1u;
    cut = 0u;
    show_switches();
    door_program_start();
}

/* The first power-up: an erased EEPROM, and a clock chip that shows `clock_s` seconds since 2000-01-01. */
PLAY_EXPORT("first_power_up")
void play_first_power_up(int32_t clock_s)
{
    uint32_t i;
    for (i = 0u; i < sizeof host.eeprom; i++) { host.eeprom[i] = 0xFFu; }
    host.serial = serial;
    host.serial_room = SERIAL_ROOM;
    host.serial_n = 0u;
    clock_chip_set(&host.clock, clock_s);
    clock_chip_power_up(&host.clock, (play_site.clock == PLAY_NO_CLOCK_CHIP) ? CLOCK_CHIP_DS3231 : play_site.clock);
    host.clock.absent = (uint8_t)(play_site.clock == PLAY_NO_CLOCK_CHIP);
    start(BOARD_POWER_UP);
}

PLAY_EXPORT("power_off")
void play_power_off(void)
{
    powered = 0u;
    host.direction = BOARD_HALT;
    host.lamp = 0u;
}

/* EEPROM and clock chip have stayed. cause: BOARD_ bits. */
PLAY_EXPORT("power_up") void play_power_up(uint32_t cause) { start((uint8_t)cause); }

PLAY_EXPORT("break")
void play_break(int32_t what, double value)
{
    switch (what) {
    case PLAY_TOP_SWITCH: door.top_stuck = (uint8_t)value; break;
    case PLAY_BOTTOM_SWITCH: door.bottom_stuck = (uint8_t)value; break;
    case PLAY_WIRES_SWAPPED: door.wires_swapped = (uint8_t)value; break;
    case PLAY_JAM_MM: door.jam_mm = value; break;
    case PLAY_FROZEN: door.frozen = (uint8_t)value; break;
    case PLAY_CORD_BACKWARDS: door.paid_mm = (value != 0.0) ? 2.0 * door.cord_mm : 0.0; break;
    case PLAY_HANDS: hands = (uint8_t)value; break;
    case PLAY_BATTERY_COUNTS: host.battery_counts = (uint16_t)value; break;
    case PLAY_CLOCK_ABSENT: host.clock.absent = (uint8_t)value; break;
    case PLAY_CLOCK_HALTED: host.clock.halted = (uint8_t)value; break;
    case PLAY_CLOCK_STOPPED: host.clock.stopped = (uint8_t)value; break;
    case PLAY_CLOCK_BY_S: host.clock.seconds += (int64_t)value; break;
    case PLAY_CLOCK_CELL_LOW: host.clock.cell_low = (uint8_t)value; break;
    default: break;
    }
    show_switches();
}

static int32_t direction(void) { return (host.direction == BOARD_RAISE) ? 1 : ((host.direction == BOARD_LOWER) ? -1 : 0); }

static uint8_t end_made(int32_t way) { return (way > 0) ? door_model_top(&door) : door_model_bottom(&door); }

/* Held after its start, a motor pulls as at an end: noted until the next raise begins. */
static void see_end(int32_t way)
{
    lowered_s = (way < 0) ? lowered_s + 0.1 : 0.0;
    if (way > 0) { end_seen = 0u; }
    if ((way < 0) && (door.held != 0u) && (lowered_s > HELD_SHOWS_S)) { end_seen = 1u; }
}

/* An end switch that this run has seen open stops the motor at once. */
static void move(void)
{
    const int32_t way = direction();
    int32_t tenth;
    if (way == 0) {
        cut = 0u;
        return;
    }
    for (tenth = 0; (tenth < 10) && (cut == 0u); tenth++) {
        const uint8_t was_made = end_made(way);
        see_end(way);
        door_model_move(&door, way, host.duty / 255.0, 0.1);
        show_switches();
        cut = (uint8_t)((was_made == 0u) && (end_made(way) != 0u));
    }
}

/* One second: the clock chip's begins, the program takes its step, the motor moves the plate. */
PLAY_EXPORT("second")
void play_second(int32_t light_counts)
{
    clock_chip_tick(&host.clock);
    if (powered == 0u) { return; }
    host.light_counts = (uint16_t)light_counts;
    door_program_woke(BOARD_SECOND);
    move();
}

/* What stands at said_at is typed on the serial line, a character at a time. */
PLAY_EXPORT("say")
void play_say(void)
{
    char one[2] = {0, 0};
    const char *at;
    for (at = said; (*at != 0) && (powered != 0u); at++) {
        one[0] = *at;
        host.said = one;
        door_program_woke(BOARD_SERIAL);
    }
}

PLAY_EXPORT("look")
const play_seen_t *play_look(void)
{
    const door_outputs_t *out = door_program_outputs();
    const door_t *core = door_program_door();
    const play_seen_t now = {
        .want = out->want, .reason = out->reason, .door = out->door, .time = out->time, .drive = out->drive,
        .duty = out->duty, .alarms = out->alarms, .own_day = out->own_day, .own_min = out->own_min,
        .own_second = core->second, .top = (host.switches & BOARD_TOP) != 0u,
        .bottom = (host.switches & BOARD_BOTTOM) != 0u, .lamp = host.lamp,
        .height_tenth_mm = (int32_t)(10.0 * door_model_height_mm(&door)), .powered = powered,
        .clock_valid = door_program_inputs()->clock_valid, .clock_s = (int32_t)host.clock.seconds,
        .proven = core->proven, .known = core->known, .shift_min = core->shift_min,
        .last_off_min = core->last_off_min, .taught = core->taught, .cycle_known = core->cycle_known,
        .t_min = core->t_min, .close_t_min = core->close_t_min, .open_t_min = core->open_t_min,
        .light_counts = door_program_inputs()->light_counts,
    };
    seen = now;
    return &seen;
}
