/* door_memory.c - see door_memory.h. */
#include "door_memory.h"

#include "door_board.h"
#include "door_site.h"

/* A slot: number (1..255 in turn), what is kept as bytes in its own order, check. One is written an hour: 8760 a year
 * over three slots is 34 years of the 100 000 writes a cell is good for (ATmega328P datasheet). A byte needs 3.4 ms to
 * write; one is begun each second, the check byte last, so that no step waits and half a slot is never believed.
 * starts_lost has a byte of its own behind the slots: it is written before and after each run of the motor. */
#define SLOTS 3u
#define KEPT_SIZE 16u
#define SLOT_SIZE (KEPT_SIZE + 2u)
#define CHECK (SLOT_SIZE - 1u)
#define MARK_AT (DOOR_MEMORY_AT + (SLOTS * SLOT_SIZE))
#define NO_MARK 0xFFu /* an erased cell */

static uint8_t slot[SLOT_SIZE];
static uint8_t newest, at, mark;

static uint8_t check_of(const uint8_t *bytes)
{
    uint8_t check = 0x5Au;
    uint8_t i;
    for (i = 0u; i < CHECK; i++) { check = (uint8_t)((uint8_t)(check << 1) ^ (check >> 7) ^ bytes[i]); }
    return check;
}

static uint16_t address_of(uint8_t number) { return (uint16_t)(DOOR_MEMORY_AT + ((number % SLOTS) * SLOT_SIZE)); }

static void put_word(uint8_t *to, uint16_t word)
{
    to[0] = (uint8_t)(word & 0xFFu);
    to[1] = (uint8_t)(word >> 8);
}

static uint16_t word_of(const uint8_t *from) { return (uint16_t)(from[0] | ((uint16_t)from[1] << 8)); }

static void pack(uint8_t *to, const door_kept_t *kept)
{
    put_word(&to[0], (uint16_t)kept->shift_min);
    put_word(&to[2], kept->stamp_day);
    put_word(&to[4], kept->alarms);
    to[6] = kept->stamp_hour;
    to[7] = kept->bits;
    to[8] = kept->usual_down_s; /* starts_lost is the mark's */
    to[9] = kept->moved;
    to[10] = kept->glitches;
    to[11] = kept->power_ups;
    to[12] = kept->brown_outs;
    to[13] = kept->hangs;
    to[14] = kept->buttons;
    to[15] = kept->cord_s;
}

static void unpack(door_kept_t *kept, const uint8_t *from)
{
    kept->shift_min = (int16_t)word_of(&from[0]);
    kept->stamp_day = word_of(&from[2]);
    kept->alarms = word_of(&from[4]);
    kept->stamp_hour = from[6];
    kept->bits = from[7];
    kept->usual_down_s = from[8];
    kept->starts_lost = mark;
    kept->moved = from[9];
    kept->glitches = from[10];
    kept->power_ups = from[11];
    kept->brown_outs = from[12];
    kept->hangs = from[13];
    kept->buttons = from[14];
    kept->cord_s = from[15];
}

static uint8_t load(uint8_t number)
{
    uint8_t i;
    for (i = 0u; i < SLOT_SIZE; i++) { slot[i] = board_kept((uint16_t)(address_of(number) + i)); }
    return (uint8_t)((slot[0] != 0u) && ((slot[0] % SLOTS) == (number % SLOTS)) && (slot[CHECK] == check_of(slot)));
}

uint8_t door_memory_start(door_kept_t *kept)
{
    uint8_t i;
    newest = 0u;
    at = SLOT_SIZE;
    mark = board_kept(MARK_AT);
    if (mark == NO_MARK) { mark = 0u; }
    for (i = 0u; i < SLOTS; i++) {
        /* numbers run in a ring of 255: newer is less than half a ring ahead */
        if ((load(i) != 0u) && ((newest == 0u) || ((uint8_t)(slot[0] - newest) < 128u))) { newest = slot[0]; }
    }
    if ((newest == 0u) || (load(newest) == 0u)) {
        for (i = 0u; i < SLOT_SIZE; i++) { slot[i] = 0u; }
        newest = 0u;
    }
    unpack(kept, &slot[1]);
    return (uint8_t)((newest != 0u) || (mark != 0u));
}

void door_memory_start_mark(const door_t *door)
{
    const uint8_t lost = door_starts_lost(door);
    if (lost == mark) { return; }
    mark = lost;
    board_keep(MARK_AT, mark);
    (void)board_kept(MARK_AT); /* a read waits until the write has ended */
}

/* The day's stamp alone is no reason to write: it changes with the hour. */
static uint8_t differs(const uint8_t *packed)
{
    uint8_t i, found = (uint8_t)(slot[0] == 0u);
    for (i = 0u; i < KEPT_SIZE; i++) {
        if ((i != 2u) && (i != 3u) && (slot[i + 1u] != packed[i])) { found = 1u; }
    }
    return found;
}

static void note(const door_t *door)
{
    uint8_t packed[KEPT_SIZE];
    uint8_t i;
    door_kept_t kept;
    door_keep(door, &kept);
    pack(packed, &kept);
    if (differs(packed) == 0u) { return; }
    newest++;
    if (newest == 0u) { newest = 1u; }
    slot[0] = newest;
    for (i = 0u; i < KEPT_SIZE; i++) { slot[i + 1u] = packed[i]; }
    slot[CHECK] = check_of(slot);
    at = 0u;
}

void door_memory_second(const door_t *door)
{
    if (at < SLOT_SIZE) {
        board_keep((uint16_t)(address_of(newest) + at), slot[at]);
        at++;
    } else if (door->new_minute != 0u) {
        note(door);
    } else {
        /* nothing to do this second */
    }
}
