/* host_board.h - the board as the program built for this computer sees it. */
#ifndef HOST_BOARD_H
#define HOST_BOARD_H
#include "clock_chip.h"

typedef struct {
    clock_chip clock;
    uint16_t light_counts, battery_counts;
    uint8_t switches;             /* BOARD_ bits */
    uint8_t direction, duty, lamp;
    uint8_t reset_cause;          /* BOARD_ bits */
    uint8_t eeprom[1024];
    char *serial;
    uint32_t serial_n, serial_room;
    const char *said;             /* what the keeper has typed and the program has not taken yet */
} host_board;

extern host_board host;
#endif
