/* door_text.h - constant text and data: in flash where flash is a memory of its own, plain elsewhere. */
#ifndef DOOR_TEXT_H
#define DOOR_TEXT_H

#ifdef __AVR__
#include <avr/pgmspace.h>
#define DOOR_KEPT_IN_FLASH PROGMEM
#define DOOR_FLASH_BYTE(address) pgm_read_byte(address)
#else
#define DOOR_KEPT_IN_FLASH
#define DOOR_FLASH_BYTE(address) (*(address))
#endif
#endif
