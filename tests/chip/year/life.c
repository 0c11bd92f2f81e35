/* life.c - see life.h. */
#include "life.h"
#include "door_board.h"
#include "door_decision.h"
#include "door_pins.h"
#include "door_program.h"
#include "door_values.h"
#include "door_board_drive.h"
#include <simavr/avr_eeprom.h>
#include <simavr/avr_ioport.h>
#include <stdlib.h>
#include <string.h>

/* The board: tests/chip/emulated.py names its chip, crystal, supply and serial line; door_pins.h its pins, by these. */
enum { PORTA = 'A', PORTB, PORTC, PORTD, PORTE, PORTF, PORTG };
enum { COM0B1 = 5, COM0A1 = 7, OCR0A = OCR0A_AT, OCR0B = OCR0B_AT };
static const chip_kind kind = {LIFE_MCU, LIFE_HZ, LIFE_SUPPLY_MV, LIFE_SERIAL, LIFE_RXD_PORT, DOOR_FEED_PORT, LIFE_RXD_BIT,
                               DOOR_FEED_BIT, DOOR_SPEED_COM, DOOR_SPEED_OCR};
#define HZ ((uint32_t)LIFE_HZ)
#define SUPPLY_MV ((uint32_t)LIFE_SUPPLY_MV)
#define SERIAL_ROOM (1u << 22)
#define PIN(name) DOOR_##name##_PORT, DOOR_##name##_BIT

/* The program's own objects, which it shows to the test alone. */
const door_inputs_t *door_program_inputs(void);
const door_outputs_t *door_program_outputs(void);

/* The converter gives mv * 1023 / supply, cut off; this is the least voltage that gives `counts`. */
static uint32_t mv_of(uint16_t counts) { return counts > 1023u ? SUPPLY_MV : (counts * SUPPLY_MV + 1022u) / 1023u; }

/* A light sensor's counts, 1.2 a lux: the least that reads as `lux`. */
static uint16_t raw_of(uint16_t lux) { return (uint16_t)((lux * 6u + 4u) / 5u); }

/* Both are told why they start: the chip by its register, before its first instruction. */
static void started_by(life *l, uint8_t cause)
{
    l->chip->avr->data[MCUSR_AT] = cause;
    host.reset_cause = cause;
}

static int direction_of(const life *l);
static double duty_of(const life *l);

#if DOOR_CURRENT_FITTED
/* The mean of the shunt's voltage over a pulse: running, or held at an end or a jam. Elementary circuits. */
static uint32_t shunt_mv(const life *l)
{
    double duty = duty_of(l), amperes = l->run_a * duty;
    if (direction_of(l) == 0) { return 0; }
    if (l->door.held) { amperes = duty * duty * l->stall_a; }
    return (uint32_t)(1000.0 * amperes * l->shunt_ohm);
}
#endif

static void show_switches(life *l)
{
    uint8_t top = door_model_top(&l->door), bottom = door_model_bottom(&l->door);
#if DOOR_CURRENT_FITTED
    bottom = l->end_seen;
#endif
    host.switches = (uint8_t)((top ? BOARD_TOP : 0u) | (bottom ? BOARD_BOTTOM : 0u) | l->hand_pins);
    if (l->alone) { return; }
    top ^= (uint8_t)(l->glitch >> 0 & 1u);
    bottom ^= (uint8_t)(l->glitch >> 1 & 1u);
    chip_pin(l->chip, PIN(TOP), DOOR_SWITCHES_CLOSED ? top : !top);
    chip_pin(l->chip, PIN(BOTTOM), DOOR_SWITCHES_CLOSED ? bottom : !bottom);
#if DOOR_CURRENT_FITTED
    chip_analog(l->chip, DOOR_CURRENT_CHANNEL, shunt_mv(l));
#endif
    chip_pin(l->chip, PIN(HAND_UP), !(l->hand_pins & BOARD_HAND_UP));
    chip_pin(l->chip, PIN(HAND_DOWN), !(l->hand_pins & BOARD_HAND_DOWN));
    chip_pin(l->chip, PIN(KEEP_SHUT), !(l->hand_pins & BOARD_KEEP_SHUT));
}

/* What the driver makes of the chip's pins: +1 raises, -1 lowers, 0 rests; a driver told both at once says 2. */
static int driven(const life *l)
{
    int raise = chip_port(l->chip, DOOR_RAISE_PORT) >> DOOR_RAISE_BIT & 1;
    int lower = chip_port(l->chip, DOOR_LOWER_PORT) >> DOOR_LOWER_BIT & 1;
    if (DOOR_DRIVER == DOOR_DRIVER_DIRECTION) { return chip_duty(l->chip) > 0.0 ? (raise ? 1 : -1) : 0; }
    return raise && lower ? 2 : raise - lower;
}

static int direction_of(const life *l) { return driven(l) % 2; }

static double duty_of(const life *l) { return DOOR_DRIVER == DOOR_DRIVER_RELAYS ? 1.0 : chip_duty(l->chip); }

static void watch(life *l)
{
    int is = driven(l);
    drive_watch_see(&l->drive, is > 0, is < 0 || is == 2, (double)l->chip->avr->cycle / HZ);
}

static void motor_port_written(avr_irq_t *irq, uint32_t value, void *param)
{
    (void)irq, (void)value;
    watch(param);
}

/* As an end by current is told: held for a tenth, half a second and more into a lowering; until the next raise. */
static void see_end(life *l, int direction)
{
#if DOOR_CURRENT_FITTED
    l->lowered_s = direction < 0 ? l->lowered_s + 0.1 : 0.0;
    if (direction > 0) { l->end_seen = 0; }
    if (direction < 0 && l->door.held && l->lowered_s > 0.55) { l->end_seen = 1; }
#else
    (void)l, (void)direction;
#endif
}

/* The rest of a half second; with the motor running, in tenths with the door moving and its switches following. */
static int half(life *l, uint32_t cycles)
{
    int state = 0, step;
    watch(l);
    if (direction_of(l) == 0) { return chip_run(l->chip, cycles); }
    for (step = 0; step < 5 && !state; step++) {
        see_end(l, direction_of(l));
        watch(l);
        door_model_move(&l->door, direction_of(l), duty_of(l), 0.1);
        show_switches(l);
        state = chip_run(l->chip, cycles / 5u);
        if (l->lowered_s > 0.0 && l->door.held && direction_of(l) == 0) { l->end_seen = 1; }    /* the chip has told it */
    }
    return state;
}

static void note(life_second *r)
{
    const door_inputs_t *in = door_program_inputs();
    const door_outputs_t *out = door_program_outputs();
    *r = (life_second){.clock_day = in->clock_day, .clock_min = in->clock_min, .light_counts = (uint16_t)in->light_counts,
                       .clock_valid = in->clock_valid, .clock_set = in->clock_set, .top = in->top, .bottom = in->bottom,
                       .hand = in->hand, .keep_shut = in->keep_shut, .battery = in->battery, .drive = out->drive,
                       .duty = out->duty, .door = out->door, .want = out->want, .reason = out->reason,
                       .time = out->time, .own_day = out->own_day,
                       .own_min = out->own_min, .alarms = out->alarms};
}

static int host_direction(void)
{
    return host.direction == BOARD_RAISE ? 1 : host.direction == BOARD_LOWER ? -1 : 0;
}

/* As the chip does, the computer's board stops the motor at an end switch that this run has seen open. */
static void host_half(life *l)
{
    int step, direction = host_direction();
    for (step = 0; step < 5 && direction != 0; step++) {
        see_end(l, direction);
        uint8_t open = (uint8_t)!(direction > 0 ? door_model_top(&l->door) : door_model_bottom(&l->door));
        door_model_move(&l->door, direction, host.duty / 255.0, 0.1);
        show_switches(l);
        if (open && (direction > 0 ? door_model_top(&l->door) : door_model_bottom(&l->door))) { l->cut = 1; }
        if (l->cut) { break; }
    }
}

static void note_event(life *l)
{
    const door_outputs_t *out = door_program_outputs();
    const life_event *last = l->events_n ? &l->events[l->events_n - 1u] : 0;
    if (last && last->want == out->want && last->alarms == out->alarms) { return; }
    if (l->events_n >= LIFE_EVENTS) { return; }
    l->events[l->events_n++] = (life_event){(uint32_t)l->seconds, out->alarms, out->want, out->reason};
}

static int one_second_alone(life *l, uint16_t light)
{
    host.light_counts = light;
    host.battery_counts = l->battery_counts;
    clock_chip_tick(&host.clock);
    door_program_woke(BOARD_SECOND);
    if (l->record < l->record_end) { note(l->record++); }
    l->steps++;
    note_event(l);
    if (host_direction() == 0) { l->cut = 0; }
    if (!l->cut) { host_half(l); }
    if (!l->cut) { host_half(l); }
    l->seconds++;
    return 0;
}

static void said_beside(uint8_t character)
{
    char one[2] = {(char)character, 0};
    host.said = one;
    door_program_woke(BOARD_SERIAL);
}

static void step_beside(void *with)
{
    life *l = with;
    l->steps++;
    door_program_woke(BOARD_SECOND);
    note_event(l);
    if (l->record < l->record_end) { note(l->record++); }
    if (l->typed) { said_beside(l->typed); }
    l->typed = 0;
}

/* Both bytes have come with the fourth step of an exchange; what hangs later is the order for the next measurement. */
static uint16_t seen_light(const chip *c, uint16_t light)
{
    return c->sensor_absent || (c->sensor_hangs && c->sensor_hangs <= 4u) ? 0u : light;
}

static int one_second(life *l, uint16_t light)
{
    chip *c = l->chip;
    int state, differs, pulsed;
    if (l->alone) { return one_second_alone(l, light); }
    host.light_counts = seen_light(c, light);
    host.battery_counts = l->battery_counts;
    chip_analog(c, DOOR_CELL_CHANNEL, mv_of(light));
    chip_analog(c, DOOR_BATTERY_CHANNEL, mv_of(l->battery_counts));
    c->sensor_raw = raw_of(light);
    clock_chip_tick(&c->clock);
    clock_chip_tick(&host.clock);
    pulsed = clock_chip_pulses(&c->clock);
    if (pulsed) { chip_pin(c, PIN(PULSE), 0); }
    state = chip_run(c, HZ / 50u); /* time enough for the step, too little for the door to move */
    differs = pulsed && host_direction() != direction_of(l);
    if (differs && l->differing++ == 0) { l->first_difference = l->seconds; }
    if (!state) { state = half(l, HZ / 2u - HZ / 50u); }
    if (pulsed) { chip_pin(c, PIN(PULSE), 1); }
    if (!state) { state = half(l, HZ / 2u); }
    l->seconds++;
    return state;
}

/* chip_new has its own note of the port taken first, so that it is up to date here. */
static void watch_port(life *l, char port)
{
    avr_irq_register_notify(avr_io_getirq(l->chip->avr, AVR_IOCTL_IOPORT_GETIRQ(port), IOPORT_IRQ_REG_PORT),
                            motor_port_written, l);
}

life *life_new(const char *elf, int64_t clock_seconds)
{
    life *l = calloc(1, sizeof *l);
    l->chip = chip_new(elf, &kind);
    if (!l->chip) { return 0; }
    memset(&host, 0, sizeof host);
    memset(host.eeprom, 0xFF, sizeof host.eeprom);
    host.serial = malloc(SERIAL_ROOM);
    host.serial_room = SERIAL_ROOM;
    l->run_a = 0.6;
    l->stall_a = 3.0;
    l->shunt_ohm = 0.5;
    l->door = (door_model){.travel_mm = 350, .raise_mm_s = 100.5, .cord_mm = 884, .paid_mm = 350};
    l->battery_counts = 634;
    l->drive.least_turn_s = -1.0;
    watch_port(l, DOOR_RAISE_PORT);
    if (DOOR_LOWER_PORT != DOOR_RAISE_PORT) { watch_port(l, DOOR_LOWER_PORT); }
    l->events = calloc(LIFE_EVENTS, sizeof *l->events);
    life_set_clocks(l, clock_seconds);
    clock_chip_power_up(&l->chip->clock, DOOR_CLOCK_REGISTERS);
    clock_chip_power_up(&host.clock, DOOR_CLOCK_REGISTERS);
    chip_pin(l->chip, kind.rxd_port, kind.rxd_bit, 1);
    chip_pin(l->chip, PIN(PULSE), 1);
    show_switches(l);
    started_by(l, BOARD_POWER_UP);
    chip_run(l->chip, HZ / 2u);
    door_program_start();
    l->chip->stepping = step_beside;
    l->chip->stepping_with = l;
    return l;
}

void life_free(life *l)
{
    chip_free(l->chip);
    free(host.serial);
    free(l->events);
    free(l);
}

int life_run(life *l, const uint16_t *light_counts, uint32_t seconds, life_second *record)
{
    uint32_t i;
    int state = 0;
    l->record = record;
    l->record_end = record ? record + seconds + LIFE_SPARE : 0;
    show_switches(l);
    for (i = 0; i < seconds && !state; i++) { state = one_second(l, light_counts[i]); }
    return state;
}

void life_say(life *l, const char *text)
{
    /* away from a second's step, before and after: what is typed there may count a second sooner or later */
    if (!l->alone) { chip_run(l->chip, HZ / 4u); }
    for (; *text; text++) {
        if (!l->alone) { chip_say(l->chip, (uint8_t)*text); }
        said_beside((uint8_t)*text);
    }
    if (!l->alone) { chip_run(l->chip, HZ / 4u); }
}

/* simavr forgets its pins at a reset and passes on only what changes: every input goes low and comes back. */
static void pins_again(life *l)
{
    static const char inputs[][2] = {{PIN(PULSE)},   {PIN(TOP)},       {PIN(BOTTOM)}, {LIFE_RXD_PORT, LIFE_RXD_BIT},
                                     {PIN(HAND_UP)}, {PIN(HAND_DOWN)}, {PIN(KEEP_SHUT)}};
    unsigned i, high;
    for (high = 0; high < 2; high++) {
        for (i = 0; i < sizeof inputs / sizeof inputs[0]; i++) { chip_pin(l->chip, inputs[i][0], inputs[i][1], (int)high); }
    }
    show_switches(l);
}

void life_reset(life *l, uint8_t cause)
{
    avr_reset(l->chip->avr);
    chip_ports_off(l->chip);
    drive_watch_see(&l->drive, 0, 0, (double)l->chip->avr->cycle / HZ);
    pins_again(l);
    started_by(l, cause);
    chip_run(l->chip, HZ / 2u);
    host.direction = BOARD_HALT;
    door_program_start();
}

void life_power_cut(life *l) { life_reset(l, BOARD_POWER_UP); }

/* For so long the wires of the end switches say what the switches do not; bit 0 the upper, bit 1 the lower one. */
void life_glitch(life *l, uint8_t wires, uint32_t microseconds)
{
    l->glitch = wires;
    show_switches(l);
    chip_run(l->chip, (uint64_t)microseconds * (HZ / 1000000u));
    l->glitch = 0;
    show_switches(l);
    chip_run(l->chip, HZ / 1000u);
}

int life_driven(const life *l) { return direction_of(l); }

void life_clock_cell(life *l, int low)
{
    l->chip->clock.cell_low = (uint8_t)low;
    host.clock.cell_low = (uint8_t)low;
}

void life_set_clocks(life *l, int64_t seconds)
{
    clock_chip_set(&l->chip->clock, seconds);
    clock_chip_set(&host.clock, seconds);
}

void life_clocks_by(life *l, int64_t seconds)
{
    l->chip->clock.seconds += seconds;
    host.clock.seconds += seconds;
}

void life_clock_fault(life *l, int absent, int halted, int stopped)
{
    clock_chip *both[2] = {&l->chip->clock, &host.clock};
    int i;
    for (i = 0; i < 2; i++) {
        both[i]->absent = (uint8_t)absent;
        both[i]->halted = (uint8_t)halted;
        if (stopped) { both[i]->stopped = 1; }
    }
}

void life_type(life *l, char character) { l->typed = l->chip->typed = (uint8_t)character; }

void life_sensor_fault(life *l, int absent, int hangs)
{
    l->chip->sensor_absent = (uint8_t)absent;
    l->chip->sensor_hangs = (uint8_t)hangs;
}

static uint32_t taken(char *to, uint32_t room, const void *from, uint32_t *n)
{
    uint32_t count = *n < room ? *n : room;
    memcpy(to, from, count);
    *n = 0;
    return count;
}

uint32_t life_chip_log(life *l, char *to, uint32_t room) { return taken(to, room, l->chip->serial, &l->chip->serial_n); }
uint32_t life_host_log(life *l, char *to, uint32_t room)
{
    (void)l;
    return taken(to, room, host.serial, &host.serial_n);
}

const uint8_t *life_host_eeprom(void) { return host.eeprom; }

int life_memories_differ(life *l, uint16_t first, uint16_t n)
{
    uint8_t bytes[1024];
    avr_eeprom_desc_t all = {.ee = bytes, .offset = first, .size = n};
    avr_ioctl(l->chip->avr, AVR_IOCTL_EEPROM_GET, &all);
    return memcmp(bytes, host.eeprom + first, n) != 0;
}

void life_put_eeprom(life *l, uint16_t first, const uint8_t *bytes, uint16_t n)
{
    avr_eeprom_desc_t part = {.ee = (uint8_t *)bytes, .offset = first, .size = n};
    avr_ioctl(l->chip->avr, AVR_IOCTL_EEPROM_SET, &part);
    memcpy(host.eeprom + first, bytes, n);
}

uint64_t life_cycles(const life *l, int sleep_mode)
{
    uint64_t asleep = 0;
    int mode;
    if (sleep_mode >= 0) { return l->chip->asleep[sleep_mode]; }
    for (mode = 0; mode < SLEEP_MODES; mode++) { asleep += l->chip->asleep[mode]; }
    return l->chip->avr->cycle - asleep;
}

/* SRAM above the static variables is filled with a mark before the first instruction (chip_new); what no longer
 * bears it has been the stack. */
uint32_t life_stack_used(const life *l, uint16_t static_bytes)
{
    uint32_t at = l->chip->avr->ioend + 1u + static_bytes;
    while (at <= l->chip->avr->ramend && l->chip->avr->data[at] == 0xA5u) { at++; }
    return l->chip->avr->ramend + 1u - at;
}
