/* door_board_sensor.h - a digital light sensor on the two-wire bus, in place of a cell on the converter. */
#ifndef DOOR_BOARD_SENSOR_H
#define DOOR_BOARD_SENSOR_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* Lux of the last second's measurement, its count over 1.2. One that does not answer reads dark, like a cell with a
 * broken wire. */
uint16_t sensor_lux(void);

#ifdef __cplusplus
}
#endif
#endif
