/* door_board.h - what the door program asks of the board it runs on.
 *
 * door_board_avr.c implements it for the 8-bit AVRs; tests build the same program on a computer with
 * an implementation of their own. Nothing here depends on doors, tables or rules. */
#ifndef DOOR_BOARD_H
#define DOOR_BOARD_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* What board_wait() woke for; several may be set at once. */
#define BOARD_SECOND 0x01u   /* one second has passed, by the clock's pulse */
#define BOARD_NO_PULSE 0x02u /* with BOARD_SECOND: the pulse is missing, the second is the chip's own crystal's */
#define BOARD_SERIAL 0x04u   /* characters have come in over the serial line */
#define BOARD_KEPT 0x08u     /* a byte of EEPROM has been written */

/* Switches, as board_switches() returns them: a bit is set while the switch is made. */
#define BOARD_TOP 0x01u
#define BOARD_BOTTOM 0x02u
#define BOARD_HAND_UP 0x04u
#define BOARD_HAND_DOWN 0x08u
#define BOARD_KEEP_SHUT 0x10u

/* Directions of board_motor(). */
#define BOARD_HALT 0u
#define BOARD_RAISE 1u
#define BOARD_LOWER 2u

/* Pins, converter, serial line, clock bus and watchdog. The motor is off before this runs: see the board's file. */
void board_start(void);

/* Why the chip has started. */
#define BOARD_POWER_UP 0x01u
#define BOARD_BUTTON 0x02u
#define BOARD_BROWN_OUT 0x04u
#define BOARD_HANG 0x08u
uint8_t board_reset_cause(void);

/* Sleeps until something happens; returns the BOARD_ bits, one second at a time. Also what keeps the watchdog
 * quiet: a program that does not come back here within about 4 s is reset. */
uint8_t board_wait(void);

/* Light cell and battery, converter counts 0..1023. */
uint16_t board_light_counts(void);
uint16_t board_battery_counts(void);

/* An end switch counts when it has held for 10 ms: longer than contacts bounce, and at 100 mm/s a millimetre. */
uint8_t board_switches(void);

/* Drives the motor: duty 0..255 of full. The end switch of the direction cuts the motor at once, between steps, and
 * lets it go on when it opens again: door_board_drive.h. */
void board_motor(uint8_t direction, uint8_t duty);
void board_alarm_lamp(uint8_t on);

/* The two-wire bus: n registers from `first` on of the chip at an address (shifted beside the read bit, which is 0).
 * 1 when it has answered to the end. */
uint8_t board_bus_put(uint8_t address, uint8_t first, const uint8_t *values, uint8_t n);
uint8_t board_bus_take(uint8_t address, uint8_t first, uint8_t *values, uint8_t n);

/* The same from a chip that has no registers, or from where the last reading ended; the address with its read bit. */
uint8_t board_bus_next(uint8_t address, uint8_t *values, uint8_t n);

/* Only with a light sensor on the bus. In one exchange the two bytes, the high one first, that a chip without registers has
 * ready, and then an order of one byte, which is given even if there was no answer: that is a 0. */
uint16_t board_bus_word(uint8_t address, uint8_t order);

/* Serial line: board_put() waits only while its buffer is full; board_take() gives -1 when nothing is there. */
void board_put(char character);
int16_t board_take(void);

/* EEPROM: reading waits for a write under way. board_keep() writes only what differs, for cells wear; it gives 1 when
 * a write has begun, of whose end board_wait() tells, and 0 when the byte was right already. */
uint8_t board_kept(uint16_t address);
uint8_t board_keep(uint16_t address, uint8_t value);

#ifdef __cplusplus
}
#endif
#endif
