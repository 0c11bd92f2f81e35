/* door_inner.h - what the parts of the decision core share with each other; programs include door_decision.h. */
#ifndef DOOR_INNER_H
#define DOOR_INNER_H
#include "door_decision.h"
#ifdef __cplusplus
extern "C" {
#endif

#define DOOR_HALF_DAY_MIN (DOOR_DAY_MIN / 2)
enum { FALL_NONE = 0, FALL_NATURAL = 1, FALL_ABRUPT = 2 };
enum { LATCH_NONE = 0, LATCH_DOWN = 1, LATCH_UP = 2 };      /* see door_t.latch */
enum { PHASE_IDLE = 0, PHASE_RAISING, PHASE_LOWERING };
enum { PLACE_UNKNOWN = 0, PLACE_UP, PLACE_DOWN };
enum { SEAT_NONE = 0, SEAT_FRESH, SEAT_HELD };              /* see door_t.seat */
#define NO_T (-32000)                                       /* a cycle without that minute */

static inline void door_count(uint16_t *counter, uint16_t by)
{
    if (*counter < DOOR_FULL) { *counter = (uint16_t)(*counter + by); }
}
static inline int16_t door_size(int16_t x) { return (int16_t)(x < 0 ? -x : x); }

int16_t door_minutes_between(uint16_t day, uint16_t minute, uint16_t from_day, int16_t from_minute);
int16_t door_half_day_wrap(int32_t minutes);
void door_move_time(uint16_t *day, uint16_t *minute, int16_t by_min);

void door_time_step(door_t *d, const door_settings_t *s, door_row_reader reader, const door_inputs_t *in);
void door_find_cycle(door_t *d, door_row_reader reader);
void door_light_step(door_t *d, const door_settings_t *s, int16_t counts);
uint8_t door_learn(door_t *d, const door_settings_t *s, const door_inputs_t *in);
void door_cell_verdict(door_t *d, const door_settings_t *s);
uint8_t door_cell_proven(const door_t *d, const door_settings_t *s);
uint8_t door_at_rail(const door_t *d);
void door_plan(door_t *d, const door_settings_t *s, int16_t counts);
uint8_t door_orders(door_t *d, const door_settings_t *s, const door_inputs_t *in, uint8_t changed, uint8_t *reason);
uint16_t door_wait_after(const door_settings_t *s, uint8_t tries);
uint8_t door_cord_at_rest(const door_t *d);
uint8_t door_night_by_time(const door_t *d);
uint8_t door_motor_step(door_t *d, const door_settings_t *s, uint8_t want, uint8_t top, uint8_t bottom);

static inline uint8_t evening_by_cell(const door_settings_t *s)
{
    return (uint8_t)(s->evening_from_min != 0 || s->evening_until_min != 0);
}
static inline uint8_t morning_by_cell(const door_settings_t *s)
{
    return (uint8_t)(s->morning_from_min != 0 || s->morning_until_min != 0);
}
#ifdef __cplusplus
}
#endif
#endif
