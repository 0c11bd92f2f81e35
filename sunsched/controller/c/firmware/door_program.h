/* door_program.h - the door program without its board: inputs to the decision core, its outputs to motor, log and
 * EEPROM, and the keeper's commands. The same text runs on the chip and, in the tests, on a computer. */
#ifndef DOOR_PROGRAM_H
#define DOOR_PROGRAM_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

void door_program_start(void);
void door_program_woke(uint8_t woke); /* what board_wait() gave */

#ifdef __cplusplus
}
#endif
#endif
