"""The fixed C text of a plain header: how its rows are declared and read, the same for every site."""

DEFINITIONS = """
#include <stdint.h>
#ifdef __AVR__
#include <avr/pgmspace.h>
#define DOOR_FLASH PROGMEM
#define DOOR_BYTE(address) pgm_read_byte(address)
#define DOOR_WORD(address) pgm_read_word(address)
#else
#define DOOR_FLASH
#define DOOR_BYTE(address) (*(address))
#define DOOR_WORD(address) (*(address))
#endif

#define DOOR_NONE INT16_MIN              /* the door stays down that day */
#define DOOR_ERR_DATE (INT16_MIN + 1)    /* no such date in this table */

#define DOOR_FACT_DARK_EXPECTED 1u            /* the night after this day gets dark at the light cell */
#define DOOR_FACT_LIGHT_EXPECTED 2u           /* this day gets light at the light cell */
#define DOOR_FACT_OPEN_BY_TWILIGHT 4u         /* the Sun decided the opening: light and clock may be compared */
#define DOOR_FACT_CLOSE_BY_TWILIGHT 8u        /* the Sun decided the closing */"""

FUNCTIONS = """
/* Days of a month 1..12 of the table's year. */
static inline uint8_t door_month_days(uint8_t month)
{
    const unsigned int odd = ((unsigned int)month ^ ((unsigned int)month >> 3)) & 1u;
    return (uint8_t)(month == 2u ? DOOR_FEBRUARY_DAYS : 30u + odd);
}

/* Row of a date of the table's year, 0 for 1 January; DOOR_ROWS if there is no such date. */
static inline uint16_t door_row(uint8_t month, uint8_t day)
{
    uint16_t row = day;
    if (month < 1u || month > 12u || day < 1u || day > door_month_days(month)) {
        return DOOR_ROWS;
    }
    while (--month) {
        row = (uint16_t)(row + door_month_days(month));
    }
    return (uint16_t)(row - 1u);
}

/* Minute at which the door opens (side 0) or should be down (side 1): DOOR_NONE on a day when it stays
 * down, DOOR_ERR_DATE if there is no such date. Reads two bytes of flash. */
static inline int16_t door_minute(uint8_t side, uint8_t month, uint8_t day)
{
    const uint16_t row = door_row(month, day);
    return (int16_t)(row >= DOOR_ROWS ? DOOR_ERR_DATE : (int16_t)DOOR_WORD(&door_minutes[row][side]));
}

static inline int16_t door_open_min(uint8_t month, uint8_t day)
{
    return door_minute(0u, month, day);
}

static inline int16_t door_close_min(uint8_t month, uint8_t day)
{
    return door_minute(1u, month, day);
}

/* The facts of a day, DOOR_FACT_DARK_EXPECTED and so on, added up; 0 if there is no such date. */
static inline uint8_t door_facts(uint8_t month, uint8_t day)
{
    const uint16_t row = door_row(month, day);
    uint8_t facts = 0;
    uint8_t run;
    if (row < DOOR_ROWS) {
        for (run = 0; run < DOOR_FACT_RUNS && DOOR_WORD(&door_fact_runs[run][0]) <= row; run++) {
            facts = (uint8_t)DOOR_WORD(&door_fact_runs[run][1]);
        }
    }
    return facts;
}

/* Solar midnight after the noon of a day [chip minutes], within a minute; it may pass 1439. */
static inline int16_t door_midnight_min(uint8_t month, uint8_t day)
{
    const uint16_t row = door_row(month, day);
    const uint16_t node = (uint16_t)(row >> 4);
    const unsigned int part = row & 15u;
    unsigned int above;
    if (row >= DOOR_ROWS) {
        return DOOR_ERR_DATE;
    }
    above = (unsigned int)DOOR_BYTE(&door_midnight_above[node]) * (16u - part);
    above += (unsigned int)DOOR_BYTE(&door_midnight_above[node + 1u]) * part + 32u;
    return (int16_t)(DOOR_MIDNIGHT_BASE_MIN + (int16_t)(above >> 6));
}

/* The checksum of the rows as they stand in memory; anything but DOOR_CHECKSUM means damage. */
static inline uint16_t door_checksum(void)
{
    uint16_t crc = 0xFFFFu;
    uint16_t at;
    for (at = 0; at < DOOR_ROWS * 4u; at++) {
        const uint16_t word = (uint16_t)DOOR_WORD(&door_minutes[at >> 2][(at >> 1) & 1u]);
        uint8_t bit;
        crc = (uint16_t)(crc ^ ((at & 1u) ? (word & 0xFF00u) : (uint16_t)(word << 8)));
        for (bit = 0; bit < 8u; bit++) {
            crc = (uint16_t)((crc & 0x8000u) ? (uint16_t)(crc << 1) ^ 0x1021u : (uint16_t)(crc << 1));
        }
    }
    return crc;
}"""
