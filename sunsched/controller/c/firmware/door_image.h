/* door_image.h - the table reader for this program: images lie in EEPROM and in flash, and one reader serves both.
 *
 * An "address" is a place in EEPROM, or one in flash marked by its top bit (an ATmega328P has 32 KiB of flash). Elsewhere flash is
 * plain memory, and addresses below the EEPROM's size are EEPROM. */
#ifndef DOOR_IMAGE_H
#define DOOR_IMAGE_H

#include "door_board.h"
#include "door_text.h"

#ifdef __AVR__
#define DOOR_IN_FLASH(place) ((const uint8_t *)((uint16_t)(place) | 0x8000u))
static inline uint8_t door_image_byte(const uint8_t *address)
{
    const uint16_t at = (uint16_t)address;
    return ((at & 0x8000u) != 0u) ? pgm_read_byte((const uint8_t *)(at & 0x7FFFu)) : board_kept(at);
}
#else
#define DOOR_IN_FLASH(place) ((const uint8_t *)(place))
static inline uint8_t door_image_byte(const uint8_t *address)
{
    return ((uintptr_t)address < 1024u) ? board_kept((uint16_t)(uintptr_t)address) : *address;
}
#endif
#define DOOR_IN_EEPROM(place) ((const uint8_t *)(uintptr_t)(place))

uint8_t door_image_read(const uint8_t *address); /* door_rows.c; one copy of the choice in the whole program */

/* Layout plain is not read: a year of it takes more than the EEPROM has. */
#define SUNSCHED_READ(address) door_image_read(address)
#define SUNSCHED_WITH_BLOCKS
#define SUNSCHED_WITH_SLOPES
#define SUNSCHED_WITH_CURVES
#define SUNSCHED_WITH_YEARS
#include "sunsched_table.h"

#endif
