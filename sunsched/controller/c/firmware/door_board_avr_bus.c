/* door_board_avr_bus.c - the two-wire bus of an 8-bit AVR, on which clock chip and light sensor are, as their only master.
 *
 * Registers and statuses: ATmega328P datasheet (Microchip DS40002061), 2-wire serial interface. board_start() sets the
 * bus's speed. */
#include "door_board.h"

#include <avr/interrupt.h>
#include <avr/io.h>

#define BIT(n) ((uint8_t)(1u << (n)))
#define BUS_PATIENCE 2000u /* turns of the waiting loop: several times the longest byte on the bus */

static volatile uint8_t bus_status;

ISR(TWI_vect)
{
    bus_status = (uint8_t)(TWSR & 0xF8u);
    TWCR = BIT(TWEN); /* TWINT stays set and stretches the clock line until the next step */
}

/* One step on the bus; its status, or 0 if the bus hangs (a wire off, a line held low). */
static uint8_t bus(uint8_t control)
{
    uint16_t patience = BUS_PATIENCE;
    bus_status = 0u;
    TWCR = (uint8_t)(control | BIT(TWINT) | BIT(TWEN) | BIT(TWIE));
    while ((bus_status == 0u) && (patience != 0u)) { patience--; }
    return bus_status;
}

/* Status 18h: address taken; 28h: byte taken. Both mean that the clock has answered. */
static uint8_t bus_put(uint8_t value)
{
    uint8_t status;
    TWDR = value;
    status = bus(0u);
    return (uint8_t)((status == 0x18u) || (status == 0x28u));
}

static uint8_t bus_begin(uint8_t address)
{
    const uint8_t started = bus(BIT(TWSTA));
    if ((started != 0x08u) && (started != 0x10u)) { return 0u; }
    if ((address & 1u) == 0u) { return bus_put(address); }
    TWDR = address;
    return (uint8_t)(bus(0u) == 0x40u);
}

static void bus_end(void)
{
    uint16_t patience = BUS_PATIENCE;
    TWCR = (uint8_t)(BIT(TWINT) | BIT(TWEN) | BIT(TWSTO));
    while (((TWCR & BIT(TWSTO)) != 0u) && (patience != 0u)) { patience--; }
    TWCR = 0u; /* a bus that hung starts afresh */
}

uint8_t board_bus_put(uint8_t address, uint8_t first, const uint8_t *values, uint8_t n)
{
    uint8_t good = (uint8_t)((bus_begin(address) != 0u) && (bus_put(first) != 0u));
    uint8_t i;
    for (i = 0u; (good != 0u) && (i < n); i++) { good = bus_put(values[i]); }
    bus_end();
    return good;
}

uint8_t board_bus_next(uint8_t address, uint8_t *values, uint8_t n)
{
    uint8_t good = bus_begin(address);
    uint8_t i;
    for (i = 0u; (good != 0u) && (i < n); i++) {
        const uint8_t last = (uint8_t)(i + 1u == n);
        good = (uint8_t)(bus((last != 0u) ? 0u : BIT(TWEA)) == ((last != 0u) ? 0x58u : 0x50u));
        values[i] = TWDR;
    }
    bus_end();
    return good;
}

uint8_t board_bus_take(uint8_t address, uint8_t first, uint8_t *values, uint8_t n)
{
    if ((bus_begin(address) == 0u) || (bus_put(first) == 0u)) {
        bus_end();
        return 0u;
    }
    return board_bus_next((uint8_t)(address | 1u), values, n);
}
