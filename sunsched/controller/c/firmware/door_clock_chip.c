/* door_clock_chip.c - see door_clock_chip.h. Register maps: data sheets of Maxim DS3231 and DS1307, NXP PCF8523 (Rev. 6)
 * and PCF8563 (Rev. 10). All keep BCD; they differ in where the time begins, in the order of weekday and date, in the
 * mark of a stopped oscillator, and in how the 1 Hz output is asked for. */
#include "door_clock_chip.h"

#include "door_board.h"
#include "door_site.h"

#if DOOR_CLOCK_CHIP

#define TIME_SIZE 7u
#define STOPPED 0x80u

#if DOOR_CLOCK_REGISTERS == DOOR_REGISTERS_DS1307
#define ADDRESS 0xD0u
#define TIME_AT 0x00u /* bit 7 of the seconds: clock halted, set at the chip's first power-up and after a lost cell */
#define DATE 4u
#elif DOOR_CLOCK_REGISTERS == DOOR_REGISTERS_PCF8523
#define ADDRESS 0xD0u
#define TIME_AT 0x03u /* bit 7 of the seconds: the oscillator has stopped */
#define DATE 3u       /* the weekday follows it */
#elif DOOR_CLOCK_REGISTERS == DOOR_REGISTERS_PCF8563
#define ADDRESS 0xA2u
#define TIME_AT 0x02u /* bit 7 of the seconds: voltage was too low, the time is not guaranteed */
#define DATE 3u
#else
#define ADDRESS 0xD0u
#define TIME_AT 0x00u
#define DATE 4u
#define CONTROL 0x0Eu
#define STATUS 0x0Fu /* bit 7: the oscillator has stopped */
#endif

static uint8_t put_one(uint8_t at, uint8_t value) { return board_bus_put(ADDRESS, at, &value, 1u); }

static uint8_t number(uint8_t bcd) { return (uint8_t)((uint8_t)((bcd >> 4) * 10u) + (bcd & 15u)); }

static uint8_t bcd(uint8_t value)
{
    uint8_t tens = 0u;
    while (value >= 10u) {
        value = (uint8_t)(value - 10u);
        tens++;
    }
    return (uint8_t)((uint8_t)(tens << 4) | value);
}

void door_clock_chip_start(void)
{
#if DOOR_CLOCK_REGISTERS == DOOR_REGISTERS_DS1307
    (void)put_one(0x07u, 0x10u); /* SQWE, RS1 RS0 00 */
#elif DOOR_CLOCK_REGISTERS == DOOR_REGISTERS_PCF8523
    static const uint8_t controls[3] = {0u, 0u, 0u}; /* running, 24 hours; the backup cell takes over */
    (void)board_bus_put(ADDRESS, 0x00u, controls, 3u);
    (void)put_one(0x0Fu, 0x30u); /* COF 110 */
#elif DOOR_CLOCK_REGISTERS == DOOR_REGISTERS_PCF8563
    (void)put_one(0x00u, 0u);    /* running */
    (void)put_one(0x0Du, 0x83u); /* FE, FD 11 */
#else
    (void)put_one(CONTROL, 0u); /* oscillator on, square wave of 1 Hz */
#endif
}

uint8_t door_clock_chip_read(door_moment_t *moment)
{
    uint8_t r[TIME_SIZE];
    uint8_t stopped;
    if (board_bus_take(ADDRESS, TIME_AT, r, TIME_SIZE) == 0u) { return 0u; }
#if DOOR_CLOCK_REGISTERS == DOOR_REGISTERS_DS3231
    stopped = STOPPED;
    if (board_bus_take(ADDRESS, STATUS, &stopped, 1u) == 0u) { return 0u; }
#else
    stopped = r[0];
#endif
    moment->second = number((uint8_t)(r[0] & 0x7Fu));
    moment->minute = number((uint8_t)(r[1] & 0x7Fu));
    moment->hour = number((uint8_t)(r[2] & 0x3Fu));
    moment->date = number((uint8_t)(r[DATE] & 0x3Fu));
    moment->month = number((uint8_t)(r[5] & 0x1Fu));
    moment->year = number(r[6]);
    return (uint8_t)((stopped & STOPPED) == 0u);
}

uint8_t door_clock_chip_set(const door_moment_t *moment)
{
    uint8_t r[TIME_SIZE];
    r[0] = bcd(moment->second);
    r[1] = bcd(moment->minute);
    r[2] = bcd(moment->hour);
    r[3] = 1u;
    r[4] = 1u; /* the weekday, whichever of the two is not the date */
    r[DATE] = bcd(moment->date);
    r[5] = bcd(moment->month);
    r[6] = bcd(moment->year);
    if (board_bus_put(ADDRESS, TIME_AT, r, TIME_SIZE) == 0u) { return 0u; }
#if DOOR_CLOCK_REGISTERS == DOOR_REGISTERS_DS3231
    if (put_one(STATUS, 0u) == 0u) { return 0u; }
#endif
    door_clock_chip_start();
    return 1u;
}

uint8_t door_clock_chip_cell_low(void)
{
#if DOOR_CLOCK_REGISTERS == DOOR_REGISTERS_PCF8523
    uint8_t control = 0u;
    return (uint8_t)((board_bus_take(ADDRESS, 0x02u, &control, 1u) != 0u) && ((control & 0x04u) != 0u)); /* BLF */
#else
    return 0u;
#endif
}

#endif
