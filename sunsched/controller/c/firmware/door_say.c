/* door_say.c - see door_say.h. */
#include "door_say.h"

#include "door_board.h"
#include "door_text.h"

static uint16_t crc;
static uint8_t answering; /* the log's lines have no checksum */

uint16_t door_crc_next(uint16_t before, uint8_t byte)
{
    uint16_t next = (uint16_t)(before ^ (uint16_t)((uint16_t)byte << 8));
    uint8_t bit;
    for (bit = 0u; bit < 8u; bit++) {
        next = (uint16_t)(((next & 0x8000u) != 0u) ? ((uint16_t)(next << 1) ^ 0x1021u) : (uint16_t)(next << 1));
    }
    return next;
}

void door_put(char character)
{
    if (answering != 0u) { crc = door_crc_next(crc, (uint8_t)character); }
    board_put(character);
}

void door_put_word(const char *words, uint8_t number)
{
    char c;
    while (number != 0u) {
        if (DOOR_FLASH_BYTE(words) == 0) { number--; }
        words++;
    }
    c = (char)DOOR_FLASH_BYTE(words);
    while (c != 0) {
        door_put(c);
        words++;
        c = (char)DOOR_FLASH_BYTE(words);
    }
}

void door_put_number(uint16_t value, uint8_t digits)
{
    char reversed[5];
    uint8_t n = 0u;
    do {
        reversed[n] = (char)('0' + (char)(value % 10u));
        value = (uint16_t)(value / 10u);
        n++;
    } while (value != 0u);
    while (n < digits) {
        reversed[n] = '0';
        n++;
    }
    while (n != 0u) {
        n--;
        door_put(reversed[n]);
    }
}

void door_put_signed(int16_t value)
{
    if (value < 0) { door_put('-'); }
    door_put_number((uint16_t)((value < 0) ? -value : value), 1u);
}

void door_put_hex(uint16_t value, uint8_t digits)
{
    while (digits != 0u) {
        const uint8_t digit = (uint8_t)((uint16_t)(value >> (4u * (digits - 1u))) & 15u);
        door_put((char)((digit < 10u) ? ('0' + (char)digit) : ('a' + (char)(digit - 10u))));
        digits--;
    }
}

static uint16_t year_length(uint16_t year) { return (uint16_t)(((year & 3u) == 0u) ? 366u : 365u); }

void door_date_of(uint16_t day, door_date_t *date)
{
    uint8_t length = 31u;
    date->year = 2000u;
    date->month = 1u;
    while (day >= year_length(date->year)) {
        day = (uint16_t)(day - year_length(date->year));
        date->year++;
    }
    while (day >= length) {
        day = (uint16_t)(day - length);
        date->month++;
        length = (uint8_t)(30u + ((uint8_t)(date->month ^ (uint8_t)(date->month >> 3)) & 1u));
        if (date->month == 2u) { length = (uint8_t)(year_length(date->year) - 337u); }
    }
    date->date = (uint8_t)(day + 1u);
}

void door_put_day(uint16_t day)
{
    door_date_t date;
    door_date_of(day, &date);
    door_put_number(date.year, 4u);
    door_put('-');
    door_put_number(date.month, 2u);
    door_put('-');
    door_put_number(date.date, 2u);
}

void door_put_time(uint16_t minute, uint8_t second)
{
    door_put_number((uint16_t)(minute / 60u), 2u);
    door_put(':');
    door_put_number((uint16_t)(minute % 60u), 2u);
    door_put(':');
    door_put_number(second, 2u);
}

void door_answer(char what)
{
    crc = 0xFFFFu;
    answering = 1u;
    door_put('#');
    door_put(' ');
    door_put(what);
    door_put(' ');
}

void door_answer_end(void)
{
    door_put(' ');
    answering = 0u;
    door_put_hex(crc, 4u);
    door_put('\n');
}
