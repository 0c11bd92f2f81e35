/* door_board_sensor.c - see door_board_sensor.h. A BH1750FVI by ROHM's technical note (2009.04): a measurement takes up
 * to 180 ms, so each second fetches the last one and asks for the next, after which the sensor powers down. */
#include "door_board_sensor.h"

#include "door_board.h"
#include "door_values.h"

#if DOOR_LUX_SENSOR

#define WRITE 0x46u /* address 0x23 on the bus */
#define READ 0x47u
#define MEASURE_ONCE 0x20u
#define MOST_LUX 32766u /* the decision's counts are signed */

uint16_t sensor_lux(void)
{
    uint8_t raw[2];
    uint32_t lux = 0u;
    if (board_bus_next(READ, raw, 2u) != 0u) { lux = ((((uint32_t)raw[0] << 8) | raw[1]) * 5u) / 6u; }
    (void)board_bus_put(WRITE, MEASURE_ONCE, 0, 0u);
    return (uint16_t)((lux > MOST_LUX) ? MOST_LUX : lux);
}

#else

typedef int door_board_sensor_not_fitted; /* C99 wants something in a file */

#endif
