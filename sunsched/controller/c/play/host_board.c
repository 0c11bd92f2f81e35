/* host_board.c - door_board.h on this computer: values in, values out, nothing sleeps. */
#include "host_board.h"
#include "door_board.h"

host_board host;

void board_start(void) {}
uint8_t board_reset_cause(void) { return host.reset_cause; }
uint8_t board_wait(void) { return BOARD_SECOND; }
uint16_t board_light_counts(void) { return host.light_counts; }
uint16_t board_battery_counts(void) { return host.battery_counts; }
uint8_t board_switches(void) { return host.switches; }

void board_motor(uint8_t direction, uint8_t duty)
{
    host.direction = direction;
    host.duty = duty;
}

void board_alarm_lamp(uint8_t on) { host.lamp = on; }

static uint8_t answers(uint8_t address) { return (uint8_t)(!host.clock.absent && address == clock_chip_address(&host.clock)); }

uint8_t board_bus_put(uint8_t address, uint8_t first, const uint8_t *values, uint8_t n)
{
    if (!answers(address)) { return 0; }
    clock_chip_begin(&host.clock, 0);
    clock_chip_put(&host.clock, first);
    for (uint8_t i = 0; i < n; i++) { clock_chip_put(&host.clock, values[i]); }
    clock_chip_end(&host.clock);
    return 1;
}

uint8_t board_bus_take(uint8_t address, uint8_t first, uint8_t *values, uint8_t n)
{
    if (!answers(address)) { return 0; }
    clock_chip_begin(&host.clock, 0);
    clock_chip_put(&host.clock, first);
    for (uint8_t i = 0; i < n; i++) { values[i] = clock_chip_take(&host.clock); }
    clock_chip_end(&host.clock);
    return 1;
}

void board_put(char character)
{
    if (host.serial_n < host.serial_room) { host.serial[host.serial_n++] = character; }
}

int16_t board_take(void)
{
    if (!host.said || !*host.said) { return -1; }
    return (int16_t)(unsigned char)*host.said++;
}

uint8_t board_kept(uint16_t address) { return host.eeprom[address]; }
uint8_t board_keep(uint16_t address, uint8_t value)
{
    host.eeprom[address] = value;
    return 0; /* written at once: nothing to wait for */
}
