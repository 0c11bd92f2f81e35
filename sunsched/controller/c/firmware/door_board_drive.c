/* door_board_drive.c - see door_board_drive.h. Interrupts call it; what they share is volatile. */
#include "door_board_drive.h"

#include "door_board.h"
#include "door_pins.h"

/* Contacts bounce for a few ms (common practice). A relay is given longer: its own contacts wear with each turn. */
#if DOOR_DRIVER == DOOR_DRIVER_RELAYS
#define OPEN_MS 250u
#else
#define OPEN_MS 20u
#endif

static volatile uint8_t now, with_duty, was_open, cut, open_ms;

#if DOOR_CURRENT_FITTED
#define BLANKING_MS 500u /* a motor draws its stall current while it starts */
#define SAMPLE_MS 16u
#define SAMPLES 4u       /* running, that pull as at an end: 64 ms */
static volatile uint16_t run_ms;
static volatile uint8_t high, at_end;

static void watch_current(void)
{
    if (run_ms < 0xFFFFu) { run_ms++; }
    if ((now != BOARD_LOWER) || (run_ms < BLANKING_MS) || ((run_ms % SAMPLE_MS) != 0u)) { return; }
    if (drive_current_counts() >= DOOR_CURRENT_COUNTS) { high++; } else { high = 0u; }
    if (high >= SAMPLES) {
        drive_pins_off();
        at_end = 1u;
    }
}
#endif

uint8_t drive_running(void) { return (uint8_t)(now != BOARD_HALT); }

uint8_t drive_at_end_by_current(void)
{
#if DOOR_CURRENT_FITTED
    return at_end;
#else
    return 0u;
#endif
}

/* A run is never turned into one of the other direction: it ends first, and the next step may begin another. */
void drive_to(uint8_t direction, uint8_t duty)
{
    if (direction == now) { return; }
    drive_pins_off();
    if ((now != BOARD_HALT) && (direction != BOARD_HALT)) { direction = BOARD_HALT; }
    now = direction;
    cut = 0u;
    open_ms = 0u;
    if (direction == BOARD_HALT) { return; }
    with_duty = duty;
    was_open = (uint8_t)(drive_end_made(direction) == 0u);
#if DOOR_CURRENT_FITTED
    run_ms = 0u;
    high = 0u;
    at_end = 0u;
#endif
    drive_pins_on(direction, duty);
}

/* One that was made from the start proves nothing: the decision then ends the run by time. */
void drive_edge(void)
{
    if (now == BOARD_HALT) { return; }
    if (drive_end_made(now) == 0u) {
        was_open = 1u;
    } else {
        open_ms = 0u;
        if ((was_open != 0u) && (cut == 0u)) {
            drive_pins_off();
            cut = 1u;
        }
    }
}

void drive_millisecond(void)
{
    if (now == BOARD_HALT) { return; }
#if DOOR_CURRENT_FITTED
    watch_current();
    if (at_end != 0u) { return; }
#endif
    drive_edge();
    if ((cut == 0u) || (drive_end_made(now) != 0u)) { return; }
    open_ms++;
    if (open_ms >= OPEN_MS) { /* a glitch: the run goes on */
        cut = 0u;
        open_ms = 0u;
        drive_pins_on(now, with_duty);
    }
}
