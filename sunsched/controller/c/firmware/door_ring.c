/* door_ring.c - see door_ring.h. */
#include "door_ring.h"

#include "door_board.h"
#include "door_log.h"
#include "door_say.h"
#include "door_site.h"
#include "door_writer.h"

#define WAITING 4u          /* events of one second at most, a power of two */
#define CHECK (DOOR_EVENT_BYTES - 1u)
#define LAP 0x80u
#define OPEN_CHECK 0xFFu    /* an event that is not whole; also an erased cell */
#define ALARMS_A_DAY 12u    /* a loose wire must not push the moves out of the ring */
#define STARTS_IN_A_ROW 2u  /* nor a supply that breaks down */

static uint8_t waiting[WAITING][CHECK];
static uint8_t first, count;   /* of the events waiting */
static uint8_t next, lap;      /* place and lap of the next event to be written */
static uint8_t alarms_left, starts;
static uint16_t alarms_day;

static uint16_t address_of(uint8_t place) { return (uint16_t)(DOOR_RING_AT + ((uint16_t)place * DOOR_EVENT_BYTES)); }

static uint8_t check_of(const uint8_t *event)
{
    uint16_t crc = 0xFFFFu;
    uint8_t i;
    for (i = 0u; i < CHECK; i++) { crc = door_crc_next(crc, event[i]); }
    i = (uint8_t)((uint8_t)(crc >> 8) ^ (uint8_t)(crc & 0xFFu));
    return (uint8_t)((i == OPEN_CHECK) ? (OPEN_CHECK - 1u) : i);
}

uint8_t door_ring_whole(uint8_t place, uint8_t event[DOOR_EVENT_BYTES])
{
    uint8_t i;
    for (i = 0u; i < DOOR_EVENT_BYTES; i++) { event[i] = board_kept((uint16_t)(address_of(place) + i)); }
    return (uint8_t)(event[CHECK] == check_of(event));
}

void door_ring_start(void)
{
    uint8_t event[DOOR_EVENT_BYTES];
    uint8_t place, any = 0u;
    next = 0u;
    lap = 0u;
    starts = 0u;
    for (place = 0u; place < DOOR_RING_PLACES; place++) {
        if (door_ring_whole(place, event) != 0u) {
            if (any == 0u) { lap = (uint8_t)(event[4] & LAP); }
            any = 1u;
            if ((event[4] & LAP) != lap) { break; } /* from here on the lap before */
            next = (uint8_t)(place + 1u);
            starts = (uint8_t)(((event[3] & 7u) == DOOR_LOG_START) ? (starts + 1u) : 0u);
        }
    }
    if (next >= DOOR_RING_PLACES) {
        next = 0u;
        lap ^= LAP;
    }
    first = 0u;
    count = 0u;
    alarms_left = ALARMS_A_DAY;
    alarms_day = 0u;
}

uint8_t door_ring_waits(void) { return count; }
uint8_t door_ring_next(void) { return next; }

static uint8_t too_many(uint8_t event, const door_outputs_t *out)
{
    if (out->own_day != alarms_day) {
        alarms_day = out->own_day;
        alarms_left = ALARMS_A_DAY;
    }
    if (event != DOOR_LOG_START) {
        starts = 0u;
        if (event != DOOR_LOG_ALARM) { return 0u; }
        if (alarms_left == 0u) { return 1u; }
        alarms_left--;
        return 0u;
    }
    if (starts >= STARTS_IN_A_ROW) { return 1u; }
    starts++;
    return 0u;
}

void door_ring_note(uint8_t event, const door_inputs_t *in, const door_outputs_t *out)
{
    const uint16_t counts = (uint16_t)((uint16_t)in->light_counts >> 2);
    const uint32_t minutes = (out->time == DOOR_BY_LIGHT) ? 0xFFFFFFUL : (((uint32_t)out->own_day * 1440UL) + out->own_min);
    uint8_t *to = waiting[(uint8_t)(first + count) & (WAITING - 1u)];
    if ((count >= WAITING) || (too_many(event, out) != 0u)) { return; }
    to[0] = (uint8_t)(minutes & 0xFFu);
    to[1] = (uint8_t)((minutes >> 8) & 0xFFu);
    to[2] = (uint8_t)((minutes >> 16) & 0xFFu);
    to[3] = (uint8_t)(event | (uint8_t)(out->door << 3) | (uint8_t)(out->want << 6));
    to[4] = out->reason;
    to[5] = (uint8_t)(out->alarms & 0xFFu);
    to[6] = (uint8_t)(out->alarms >> 8);
    to[7] = (uint8_t)((counts > 255u) ? 255u : counts);
    count++;
}

uint8_t door_ring_write(void)
{
    uint8_t *event = waiting[first];
    const uint16_t at = address_of(next);
    uint8_t i;
    if (count == 0u) { return 0u; }
    event[4] |= lap;
    door_writer_add((uint16_t)(at + CHECK), OPEN_CHECK);
    for (i = 0u; i < CHECK; i++) { door_writer_add((uint16_t)(at + i), event[i]); }
    door_writer_add((uint16_t)(at + CHECK), check_of(event));
    first = (uint8_t)((first + 1u) & (WAITING - 1u));
    count--;
    next++;
    if (next >= DOOR_RING_PLACES) {
        next = 0u;
        lap ^= LAP;
    }
    return 1u;
}
