/* door_board_drive.h - the motor between two steps: an end switch cuts it at once, and lets it go on if it opens again.
 *
 * The same for every board and driver; a board gives the four functions at the end and calls the three before them. */
#ifndef DOOR_BOARD_DRIVE_H
#define DOOR_BOARD_DRIVE_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* Kinds of drivers, as door_pins.h names one (DOOR_DRIVER). */
#define DOOR_DRIVER_TWO_INPUTS 0 /* one input a direction, and PWM on the enable input */
#define DOOR_DRIVER_DIRECTION 1  /* one input for the direction, one for PWM */
#define DOOR_DRIVER_RELAYS 2     /* one relay a direction, full speed */

void drive_to(uint8_t direction, uint8_t duty); /* BOARD_HALT, _RAISE, _LOWER; interrupts must be off */
void drive_edge(void);                          /* an end switch has changed */
void drive_millisecond(void);                   /* about 1 ms has passed with a run on */
uint8_t drive_running(void);                    /* a run is on, be it cut or not */
uint8_t drive_at_end_by_current(void);          /* the motor has pulled as at an end since the last raise began */

/* The board's. */
void drive_pins_off(void);
void drive_pins_on(uint8_t direction, uint8_t duty);
uint8_t drive_end_made(uint8_t direction);
uint16_t drive_current_counts(void); /* of the shunt; 0 while the converter is busy or there is none */

#ifdef __cplusplus
}
#endif
#endif
