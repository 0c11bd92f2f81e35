/* sunsched_image.h - how the bytes of a table image are reached, and what they mean to all who read them.
 *
 * Each part of the reader includes this; it includes none of them.
 *
 * Departs from MISRA C:2012 in:
 *   2.3   a type that only checks, C99 knowing no _Static_assert.
 *   2.5   names for the programs that include this.
 *   18.4  bytes follow each other in an image that sunsched_check has found whole; SUNSCHED_READ takes an address.
 */
#ifndef SUNSCHED_IMAGE_H
#define SUNSCHED_IMAGE_H

#ifdef SUNSCHED_TABLE_REVISION
#if SUNSCHED_TABLE_REVISION != 1
#error "sunsched_table.h is of table revision 1: generate all tables and readers together"
#endif
#else
#define SUNSCHED_TABLE_REVISION 1
#endif

#include <stdint.h>

#ifndef SUNSCHED_READ
#if defined(SUNSCHED_IMAGE_IN_EEPROM)
#include <avr/eeprom.h>
#define SUNSCHED_READ(address) eeprom_read_byte(address)
#define SUNSCHED_IMAGE_MEMORY EEMEM
#elif defined(__AVR__) && !defined(SUNSCHED_IMAGE_IN_RAM)
#include <avr/pgmspace.h>
#define SUNSCHED_READ(address) pgm_read_byte(address)
#define SUNSCHED_READ_WORD(address) pgm_read_word(address)
#define SUNSCHED_IMAGE_MEMORY PROGMEM
#else
#define SUNSCHED_READ(address) (*(address))
#endif
#endif
#ifndef SUNSCHED_IMAGE_MEMORY
#define SUNSCHED_IMAGE_MEMORY
#endif

/* INT16_MIN and the two above it; that name itself is hidden from C++ before C++11 by some headers of C. */
#define SUNSCHED_NONE (-32767 - 1)            /* the door stays down that day */
#define SUNSCHED_ERR_DATE (-32767)            /* the table does not cover the date, or there is no such date */
#define SUNSCHED_ERR_LAYOUT (-32766)          /* the decoder of this table is not compiled in */

/* facts of a day */
#define SUNSCHED_DARK_EXPECTED 1u      /* the night after this day gets dark at the light cell */
#define SUNSCHED_LIGHT_EXPECTED 2u     /* this day gets light at the light cell */
#define SUNSCHED_OPEN_BY_TWILIGHT 4u   /* the Sun decided the opening: light and clock may be compared */
#define SUNSCHED_CLOSE_BY_TWILIGHT 8u  /* the Sun decided the closing */

/* places in an image's first bytes */
#define SUNSCHED_AT_LENGTH 3
#define SUNSCHED_AT_YEAR 5
#define SUNSCHED_AT_YEARS 6
#define SUNSCHED_AT_OFFSET 7
#define SUNSCHED_AT_SETTINGS 9
#define SUNSCHED_AT_FACTS 10
#define SUNSCHED_AT_RULES 11
#define SUNSCHED_HEAD_BYTES 12u

/* Shifting a negative number right must keep its sign: it does on every compiler named in FORMAT.md. */
typedef char sunsched_shift_keeps_the_sign[(((-1) >> 1) == -1) ? 1 : -1];

/* Two bytes, low byte first. */
static inline uint16_t sunsched_word(const uint8_t *at)
{
#ifdef SUNSCHED_READ_WORD
    return SUNSCHED_READ_WORD(at);
#else
    const unsigned int low = SUNSCHED_READ(at);
    const unsigned int high = SUNSCHED_READ(at + 1);
    return (uint16_t)(low | (high << 8));
#endif
}

#endif /* SUNSCHED_IMAGE_H */
