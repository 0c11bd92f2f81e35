/* door_memory.c - see door_memory.h. */
#include "door_memory.h"

#include "door_board.h"
#include "door_site.h"

/* A slot: number (1..255 in turn), shift, day, hour, bits, check. One is written an hour: 8760 a year over eight
 * slots is about 90 years of the 100 000 writes a cell is good for (ATmega328P datasheet). A byte needs 3.4 ms to
 * write; one is begun each second, the check byte last, so that no step waits and half a slot is never believed. */
#define SLOTS 8u
#define SLOT_SIZE 8u

static uint8_t slot[SLOT_SIZE];
static uint8_t newest, at;

static uint8_t check_of(const uint8_t *bytes)
{
    uint8_t check = 0x5Au;
    uint8_t i;
    for (i = 0u; i < (SLOT_SIZE - 1u); i++) { check = (uint8_t)((uint8_t)(check << 1) ^ (check >> 7) ^ bytes[i]); }
    return check;
}

static uint16_t address_of(uint8_t number) { return (uint16_t)(DOOR_MEMORY_AT + ((number % SLOTS) * SLOT_SIZE)); }

static void fill(const door_kept_t *kept, uint8_t number)
{
    slot[0] = number;
    slot[1] = (uint8_t)((uint16_t)kept->shift_min & 0xFFu);
    slot[2] = (uint8_t)((uint16_t)kept->shift_min >> 8);
    slot[3] = (uint8_t)(kept->stamp_day & 0xFFu);
    slot[4] = (uint8_t)(kept->stamp_day >> 8);
    slot[5] = kept->stamp_hour;
    slot[6] = kept->bits;
    slot[7] = check_of(slot);
}

static uint8_t load(uint8_t number)
{
    uint8_t i;
    for (i = 0u; i < SLOT_SIZE; i++) { slot[i] = board_kept((uint16_t)(address_of(number) + i)); }
    return (uint8_t)((slot[0] != 0u) && ((slot[0] % SLOTS) == (number % SLOTS)) && (slot[7] == check_of(slot)));
}

uint8_t door_memory_start(door_kept_t *kept)
{
    uint8_t i;
    newest = 0u;
    at = SLOT_SIZE;
    for (i = 0u; i < SLOTS; i++) {
        /* numbers run in a ring of 255: newer is less than half a ring ahead */
        if ((load(i) != 0u) && ((newest == 0u) || ((uint8_t)(slot[0] - newest) < 128u))) { newest = slot[0]; }
    }
    if ((newest == 0u) || (load(newest) == 0u)) { return 0u; }
    kept->shift_min = (int16_t)(uint16_t)(slot[1] | ((uint16_t)slot[2] << 8));
    kept->stamp_day = (uint16_t)(slot[3] | ((uint16_t)slot[4] << 8));
    kept->stamp_hour = slot[5];
    kept->bits = slot[6];
    return 1u;
}

static uint8_t differs(const door_kept_t *kept)
{
    return (uint8_t)((slot[0] == 0u) || (slot[1] != (uint8_t)((uint16_t)kept->shift_min & 0xFFu)) ||
                     (slot[2] != (uint8_t)((uint16_t)kept->shift_min >> 8)) || (slot[5] != kept->stamp_hour) ||
                     (slot[6] != kept->bits));
}

void door_memory_second(const door_t *door)
{
    door_kept_t kept;
    if (at < SLOT_SIZE) {
        board_keep((uint16_t)(address_of(newest) + at), slot[at]);
        at++;
    } else if (door->new_minute != 0u) {
        door_keep(door, &kept);
        if (differs(&kept) != 0u) {
            newest++;
            if (newest == 0u) { newest = 1u; }
            fill(&kept, newest);
            at = 0u;
        }
    } else {
        /* nothing to do this second */
    }
}
