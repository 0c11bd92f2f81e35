/* dump_plain.c - prints a plain table header day by day: open, close, facts, solar midnight, all in hex; then the
 * checksum's verdict, what impossible dates give, and on an ATmega328P the cycles of the slowest look-up. */
#include TABLE_HEADER
#include "console.h"

#ifdef __AVR_ATmega328P__
static uint16_t slowest;
/* Volatile before, between and after: else the compiler moves the look-up out of the time that is taken. */
static uint16_t timed(uint8_t side, uint8_t month, uint8_t day)
{
    volatile uint8_t asked_month = month, asked_day = day;
    volatile int16_t minute;
    uint16_t begun, cycles;
    TCCR1B = 1u;
    begun = TCNT1;
    minute = door_minute(side, asked_month, asked_day);
    cycles = (uint16_t)(TCNT1 - begun);
    if (cycles > slowest) { slowest = cycles; }
    return (uint16_t)minute;
}
#else
static uint16_t timed(uint8_t side, uint8_t month, uint8_t day) { return (uint16_t)door_minute(side, month, day); }
#endif

int main(void)
{
    uint8_t month, day;
    uint16_t refused = 0u;
    console_start();
    for (month = 0u; month <= 13u; month++) {
        for (day = 0u; day <= 32u; day++) {
            if (door_row(month, day) >= DOOR_ROWS) {
                refused = (uint16_t)(refused + (door_open_min(month, day) == DOOR_ERR_DATE ? 1u : 0u));
                continue;
            }
            put_hex(timed(0u, month, day), 4u);
            put_hex(timed(1u, month, day), 4u);
            put_hex(door_facts(month, day), 2u);
            put_hex((uint16_t)door_midnight_min(month, day), 4u);
            end_line();
        }
    }
    put('#');
    put_hex((uint16_t)(door_checksum() == DOOR_CHECKSUM), 1u);
    put_hex(refused, 4u);
#ifdef __AVR_ATmega328P__
    put_hex(slowest, 4u);
#endif
    end_line();
    console_end();
    return 0;
}
