/* door_writer.c - see door_writer.h. */
#include "door_writer.h"

#include "door_board.h"

static uint16_t where[DOOR_WRITER_MOST];
static uint8_t what[DOOR_WRITER_MOST];
static uint8_t count, done, under_way;

void door_writer_start(void)
{
    count = 0u;
    done = 0u;
    under_way = 0u;
}

uint8_t door_writer_busy(void) { return (uint8_t)(count != 0u); }

void door_writer_kept(void) { under_way = 0u; }

void door_writer_add(uint16_t address, uint8_t value)
{
    if (count < DOOR_WRITER_MOST) {
        where[count] = address;
        what[count] = value;
        count++;
    }
}

uint8_t door_writer_step(void)
{
    while ((under_way == 0u) && (done < count)) {
        const uint8_t now = done;
        done++;
        under_way = board_keep(where[now], what[now]);
    }
    if (under_way != 0u) { return 1u; }
    door_writer_start();
    return 0u;
}
