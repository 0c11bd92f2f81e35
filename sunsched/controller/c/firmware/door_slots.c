/* door_slots.c - see door_slots.h. */
#include "door_slots.h"

#include "door_image.h"
#include "door_say.h"
#include "door_site.h"
#include "door_writer.h"

/* places in a record, behind the room for an image */
#define GENERATION 0u
#define CRC_LOW 1u
#define CRC_HIGH 2u
#define CHECK 3u

static door_slot_t slots[DOOR_SLOTS];
static int16_t offset;

static const uint8_t *image_of(uint8_t slot) { return DOOR_IN_EEPROM(door_slot_address(slot)); }
static uint16_t record_of(uint8_t slot) { return (uint16_t)(door_slot_address(slot) + DOOR_IMAGE_ROOM); }
static uint8_t record(uint8_t slot, uint8_t place) { return board_kept((uint16_t)(record_of(slot) + place)); }

static uint8_t check_of(uint8_t generation, uint16_t crc)
{
    return (uint8_t)((crc & 0xFFu) ^ (uint16_t)(crc >> 8) ^ (uint16_t)(generation ^ 0xA5u));
}

uint16_t door_slot_address(uint8_t slot) { return (slot != 0u) ? DOOR_SLOT_SIZE : 0u; }
const door_slot_t *door_slot(uint8_t slot) { return &slots[slot]; }

uint16_t door_slot_crc(uint8_t slot, uint16_t length) { return sunsched_crc(image_of(slot), length); }

static uint8_t for_this_clock(uint8_t slot)
{
    return (uint8_t)((sunsched_keeps(image_of(slot)) != SUNSCHED_KEEPS_CIVIL) &&
                     (sunsched_offset_min(image_of(slot)) == offset));
}

static uint8_t whole(uint8_t slot) { return (uint8_t)(sunsched_check(image_of(slot), DOOR_IMAGE_ROOM) == SUNSCHED_GOOD); }

/* The record's generation; 0 if the record is not right. A whole image beside an erased record, or beside one that is
 * right for another image, was written by a programmer since: `written` is set. */
static uint8_t recorded(uint8_t slot, uint16_t crc, uint8_t *written)
{
    const uint8_t generation = record(slot, GENERATION);
    const uint16_t names = (uint16_t)(record(slot, CRC_LOW) | ((uint16_t)record(slot, CRC_HIGH) << 8));
    const uint8_t right = (uint8_t)((generation != 0u) && (record(slot, CHECK) == check_of(generation, names)));
    const uint8_t erased = (uint8_t)((generation == 0xFFu) && (names == 0xFFFFu) && (record(slot, CHECK) == 0xFFu));
    *written = (uint8_t)((slot == 0u) && ((erased != 0u) || ((right != 0u) && (names != crc))));
    return (uint8_t)(((right != 0u) && (names == crc)) ? generation : 0u);
}

static uint8_t newer(uint8_t a, uint8_t b) { return (uint8_t)((b == 0u) || ((a != 0u) && (a != b) && ((uint8_t)(a - b) < 128u))); }

static uint8_t after(uint8_t generation) { return (uint8_t)((generation == 255u) ? 1u : (generation + 1u)); }

static void take_in(uint8_t slot, uint8_t *written)
{
    door_slot_t *s = &slots[slot];
    s->generation = 0u;
    *written = 0u;
    if ((whole(slot) == 0u) || (for_this_clock(slot) == 0u)) { return; }
    s->first_year = sunsched_first_year(image_of(slot));
    s->last_year = sunsched_last_year(image_of(slot));
    s->length = sunsched_word(image_of(slot) + SUNSCHED_AT_LENGTH);
    s->crc = sunsched_word(image_of(slot) + (s->length - 2u));
    s->generation = recorded(slot, s->crc, written);
}

void door_slots_again(void)
{
    uint8_t written, none;
    take_in(1u, &none);
    take_in(0u, &written);
    if (written != 0u) { slots[0].generation = door_slot_commit(0u, slots[0].crc); }
}

void door_slots_start(int16_t offset_min)
{
    offset = offset_min;
    door_slots_again();
}

uint8_t door_slot_newest(void)
{
    if ((slots[0].generation == 0u) && (slots[1].generation == 0u)) { return DOOR_NO_SLOT; }
    return (uint8_t)((newer(slots[1].generation, slots[0].generation) != 0u) ? 1u : 0u);
}

static uint8_t covers(uint8_t slot, uint16_t year)
{
    const door_slot_t *s = &slots[slot];
    return (uint8_t)((s->generation != 0u) && (year >= s->first_year) && (year <= s->last_year));
}

uint8_t door_slot_of_year(uint16_t year)
{
    const uint8_t newest = door_slot_newest();
    if (newest == DOOR_NO_SLOT) { return DOOR_NO_SLOT; }
    if (covers(newest, year) != 0u) { return newest; }
    return (uint8_t)((covers((uint8_t)(1u - newest), year) != 0u) ? (1u - newest) : DOOR_NO_SLOT);
}

uint8_t door_slot_refusal(uint8_t slot, uint16_t length, uint16_t crc)
{
    if ((length < 14u) || (length > DOOR_IMAGE_ROOM)) { return 2u; }
    if ((whole(slot) == 0u) || (sunsched_word(image_of(slot) + SUNSCHED_AT_LENGTH) != length) ||
        (sunsched_word(image_of(slot) + (length - 2u)) != crc)) {
        return 3u;
    }
    return (uint8_t)((for_this_clock(slot) != 0u) ? 0u : 4u);
}

/* The generation is written last: until then the record is not right, or says 0. */
uint8_t door_slot_commit(uint8_t slot, uint16_t crc)
{
    const uint8_t generation = after(slots[1u - slot].generation);
    const uint16_t at = record_of(slot);
    door_writer_add((uint16_t)(at + GENERATION), 0u);
    door_writer_add((uint16_t)(at + CRC_LOW), (uint8_t)(crc & 0xFFu));
    door_writer_add((uint16_t)(at + CRC_HIGH), (uint8_t)(crc >> 8));
    door_writer_add((uint16_t)(at + CHECK), check_of(generation, crc));
    door_writer_add((uint16_t)(at + GENERATION), generation);
    return generation;
}

void door_slot_void(uint8_t slot)
{
    slots[slot].generation = 0u;
    door_writer_add((uint16_t)(record_of(slot) + GENERATION), 0u);
}
