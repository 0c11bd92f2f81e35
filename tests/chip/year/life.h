/* life.h - the emulated chip and the program built for this computer live side by side, step by step, on the
 * same light, switches and clock; each has its own memory and its own clock chip, the door obeys the chip alone.
 * The program on this computer steps when the chip does: when it powers its light cell. */
#ifndef LIFE_H
#define LIFE_H
#include "chip.h"
#include "door_model.h"
#include "drive_watch.h"
#include "host_board.h"

/* One step as the program on this computer saw it and what it did; columns of a numpy record array. */
typedef struct {
    uint16_t clock_day, clock_min, light_counts;
    uint8_t clock_valid, clock_set, top, bottom, hand, keep_shut, battery;
    uint8_t drive, duty, door, want, reason, time;
    uint16_t own_day, own_min, alarms;
} life_second;

#define LIFE_SPARE 8u  /* a chip without a pulse takes two steps at once when it begins to count itself */
#define LIFE_EVENTS 100000u
typedef struct {
    uint32_t at_s;        /* seconds lived before it */
    uint16_t alarms;
    uint8_t want, reason;
} life_event;

typedef struct {
    chip *chip;
    door_model door;
    uint8_t hand_pins;    /* BOARD_HAND_UP, BOARD_HAND_DOWN, BOARD_KEEP_SHUT as the keeper holds them */
    uint16_t battery_counts;
    uint8_t alone;        /* the chip is left out: the door obeys the program on this computer */
    uint64_t seconds, differing;  /* seconds lived; those in which chip and computer drove the motor differently */
    uint64_t steps;               /* taken by the chip, and so by the computer */
    uint64_t first_difference;
    life_second *record, *record_end; /* where the next step is noted, and where noting ends */
    life_event *events;   /* every change of what is wanted or of the alarms */
    uint32_t events_n;
    drive_watch drive;    /* the chip's pins */
    uint8_t cut;          /* alone: an end switch has stopped this run */
    uint8_t glitch;       /* bits of end switches whose wires say the contrary */
    uint8_t end_seen;     /* the motor's current has told the lower end */
    uint8_t typed;        /* a character that comes while the next step reads its light */
    double lowered_s;
    double run_a, stall_a, shunt_ohm;
} life;

life *life_new(const char *elf, int64_t clock_seconds);
void life_free(life *l);
int life_run(life *l, const uint16_t *light_counts, uint32_t seconds, life_second *record); /* record may be null: room
 * for a step each second and LIFE_SPARE more; steps taken are in life.steps */
void life_say(life *l, const char *text);
void life_type(life *l, char character); /* it comes while the next step reads its light */
void life_power_cut(life *l);     /* both start again; EEPROM and clock chip stay */
void life_reset(life *l, uint8_t cause); /* the same by another cause: BOARD_ bits */
void life_glitch(life *l, uint8_t wires, uint32_t microseconds);
int life_driven(const life *l);          /* what the driver makes of the chip's pins: +1 raises, -1 lowers, 0 rests */
void life_clock_cell(life *l, int low);
void life_set_clocks(life *l, int64_t seconds);
void life_clocks_by(life *l, int64_t seconds); /* both jump */
void life_clock_fault(life *l, int absent, int halted, int stopped);
void life_sensor_fault(life *l, int absent, int hangs); /* a light sensor on the bus, as chip.h has it */
uint32_t life_chip_log(life *l, char *to, uint32_t room);
uint32_t life_host_log(life *l, char *to, uint32_t room);
const uint8_t *life_host_eeprom(void); /* 1024 bytes */
int life_memories_differ(life *l, uint16_t first, uint16_t n);
void life_put_eeprom(life *l, uint16_t first, const uint8_t *bytes, uint16_t n);
uint64_t life_cycles(const life *l, int sleep_mode); /* spent asleep in a mode; -1: awake */
uint32_t life_stack_used(const life *l, uint16_t static_bytes);
#endif
