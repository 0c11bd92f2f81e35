/* door_clock_chip.h - a clock chip on the two-wire bus: which registers it has is DOOR_CLOCK_REGISTERS of the site. */
#ifndef DOOR_CLOCK_CHIP_H
#define DOOR_CLOCK_CHIP_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* Kinds of registers, as door_values.h names one. */
#define DOOR_REGISTERS_DS3231 0
#define DOOR_REGISTERS_DS1307 1
#define DOOR_REGISTERS_PCF8523 2
#define DOOR_REGISTERS_PCF8563 3

typedef struct {
    uint8_t second, minute, hour, date, month, year; /* of the century */
} door_moment_t;

void door_clock_chip_start(void); /* asks for the pulse of 1 Hz; the time is left as it is */
/* 1 when the chip has answered and its oscillator has not stopped since it was set; not yet a possible time. */
uint8_t door_clock_chip_read(door_moment_t *moment);
uint8_t door_clock_chip_set(const door_moment_t *moment); /* also clears the mark that it had stopped */
uint8_t door_clock_chip_cell_low(void); /* 1 when the chip says so; not all can */

#ifdef __cplusplus
}
#endif
#endif
