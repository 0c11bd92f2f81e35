/* dump_image.c - prints a table image (IMAGE_FILE: the bytes of an array) as dump_plain.c prints a header: every day
 * of the years from IMAGE_FIRST_YEAR to IMAGE_LAST_YEAR, then the checksum's verdict; on an ATmega328P also the cycles
 * of the slowest look-up. Where the image lies is sunsched_table.h's own choice. */
#include "sunsched_table.h"
#include "sunsched_facts.h"
#include "console.h"

#if defined(SUNSCHED_IMAGE_IN_RAM)
static uint8_t image[] = {
#else
static const uint8_t image[] SUNSCHED_IMAGE_MEMORY = {
#endif
#include IMAGE_FILE
};

static uint16_t slowest;

/* Volatile before, between and after: else the compiler moves the look-up out of the time that is taken. */
static uint16_t timed(uint8_t side, uint16_t year, uint8_t month, uint8_t day)
{
    volatile uint8_t asked_month = month, asked_day = day;
    volatile int16_t minute;
#ifdef __AVR_ATmega328P__
    uint16_t begun, cycles;
    TCCR1B = 1u;
    begun = TCNT1;
    minute = sunsched_minute(image, side, year, asked_month, asked_day);
    cycles = (uint16_t)(TCNT1 - begun);
    if (cycles > slowest) { slowest = cycles; }
#else
    minute = sunsched_minute(image, side, year, asked_month, asked_day);
#endif
    return (uint16_t)minute;
}

int main(void)
{
    uint16_t year;
    uint8_t month, day;
    console_start();
    for (year = IMAGE_FIRST_YEAR; year <= IMAGE_LAST_YEAR; year = (uint16_t)(year + IMAGE_YEAR_STEP)) {
        for (month = 1u; month <= 12u; month++) {
            for (day = 1u; day <= sunsched_month_days(year, month); day++) {
                put_hex(timed(0u, year, month, day), 4u);
                put_hex(timed(1u, year, month, day), 4u);
                put_hex(sunsched_facts(image, year, month, day), 2u);
                put_hex((uint16_t)sunsched_midnight_min(image, year, month, day), 4u);
                end_line();
            }
        }
    }
    put('#');
    put_hex(sunsched_check(image, (uint16_t)sizeof image), 1u);
    put_hex(slowest, 4u);
    end_line();
    console_end();
    return 0;
}
