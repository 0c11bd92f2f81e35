/* door_writer.h - bytes on their way into EEPROM, one after another, while the program goes on. */
#ifndef DOOR_WRITER_H
#define DOOR_WRITER_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#define DOOR_WRITER_MOST 10u

void door_writer_start(void);
uint8_t door_writer_busy(void);   /* bytes are on their way */
void door_writer_kept(void);      /* board_wait() has said BOARD_KEPT: the write under way has ended */
void door_writer_add(uint16_t address, uint8_t value); /* at most DOOR_WRITER_MOST on the way; written in this order */

/* Begins the next write, unless one is under way. 1: one is, and board_wait() will say BOARD_KEPT; 0: all are written. */
uint8_t door_writer_step(void);

#ifdef __cplusplus
}
#endif
#endif
