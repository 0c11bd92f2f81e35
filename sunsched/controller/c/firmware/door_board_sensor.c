/* door_board_sensor.c - see door_board_sensor.h. A BH1750FVI by ROHM's technical note (2009.04): a measurement takes up
 * to 180 ms, so each second fetches the last one and asks for the next, after which the sensor powers down. */
#include "door_board_sensor.h"

#include "door_board.h"
#include "door_values.h"

#if DOOR_LUX_SENSOR

#define READ 0x47u /* address 0x23 on the bus */
#define MEASURE_ONCE 0x20u
#define MOST_RAW 39320u /* 32766 lux: the decision's counts are signed */

/* Five sixths of the count, rounded down: the count less its sixth, rounded up. A sixth of 16 bits is the product with
 * AAABh, 2^18 / 6 rounded up, without its last 18 bits: an 8-bit chip divides 32 bits in 600 cycles. */
uint16_t sensor_lux(void)
{
    uint16_t raw = board_bus_word(READ, MEASURE_ONCE);
    uint16_t sixth;
    if (raw > MOST_RAW) { raw = MOST_RAW; }
    sixth = (uint16_t)(((uint32_t)(uint16_t)(raw + 5u) * 0xAAABu) >> 16); /* not 18 at once: that is a loop */
    return (uint16_t)(raw - (sixth >> 2));
}

#else

typedef int door_board_sensor_not_fitted; /* C99 wants something in a file */

#endif
