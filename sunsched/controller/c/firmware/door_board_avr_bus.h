/* door_board_avr_bus.h - what the two-wire bus needs of door_board_avr.c. */
#ifndef DOOR_BOARD_AVR_BUS_H
#define DOOR_BOARD_AVR_BUS_H

#ifdef __cplusplus
extern "C" {
#endif

/* Timer 0 has overflowed, in its interrupt; only with a light sensor on the bus. */
void board_bus_overflow(void);

#ifdef __cplusplus
}
#endif
#endif
