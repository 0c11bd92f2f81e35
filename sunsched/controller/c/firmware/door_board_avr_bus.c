/* door_board_avr_bus.c - the two-wire bus of an 8-bit AVR, on which clock chip and light sensor are, as their only master.
 *
 * Registers and statuses: ATmega328P datasheet (Microchip DS40002061), 2-wire serial interface. board_start() sets the
 * bus's speed: F_CPU / (16 + 2 TWBR) = 100 kHz, so that a byte and its acknowledgement take 90 us, 1440 cycles at 16 MHz.
 *
 * A clock chip alone is asked once a minute, and its bytes are waited for in a loop. A light sensor is asked every second:
 * there the chip sleeps in idle mode while the bus works.
 * - A step is one write to TWCR: a start, an address, a byte. Interrupts are off from that write to the instruction before
 *   the sleep, so none can slip in between, and again from the waking on. The program goes on where it slept, which takes
 *   fewer cycles than a machine of states in the interrupt.
 * - TWI_vect ends the sleep by returning from the step itself, interrupts still off: TWINT stays set until the next step
 *   and would call it again and again. What comes after the sleep is reached only when something else woke the chip,
 *   and sleeps again. So no flag is set, cleared and asked for.
 * - A bus that hangs wakes nobody. Timer 0 does: it counts milliseconds while the motor runs, and is started here when the
 *   motor rests. Its second overflow ends the step that hangs, one more each step that follows in the sensor's
 *   exchange: 6 ms at most at 16 MHz, 12 ms at 8 MHz, asleep; one that is answered takes 0.5 ms. Motor, end switches,
 *   serial line and watchdog are served meanwhile as always.
 * - A stop takes one bit's time, and has no interrupt. The sensor's is not waited for: the bus is switched off where the
 *   program waits for the next second, at least 15 us later, which lets go of both lines in any case. A clock that is set
 *   in the same second is written to thousands of cycles later. */
#include "door_board_avr_bus.h"

#include "door_board.h"
#include "door_values.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#if DOOR_LUX_SENSOR
#include <avr/sleep.h>
#endif

#define BIT(n) ((uint8_t)(1u << (n)))
#define BUS_PATIENCE 2000u /* turns of the waiting loop: several times the longest byte on the bus */

#if DOOR_LUX_SENSOR

#define INLINED static inline __attribute__((always_inline))
#define OVERFLOWS 2u /* of timer 0, that a hanging bus is waited for */
#define STEP_ON (BIT(TWINT) | BIT(TWEN) | BIT(TWIE))

static volatile uint8_t overflows __attribute__((used));

void board_bus_overflow(void) { overflows++; }

#ifdef __AVR_3_BYTE_PC__
#define DROP_RETURN "pop r24\n\tpop r24\n\tpop r24\n\t"
#else
#define DROP_RETURN "pop r24\n\tpop r24\n\t"
#endif

/* Called from within a step alone: returns to whoever called that. */
ISR(TWI_vect, ISR_NAKED) { __asm__ __volatile__(DROP_RETURN "ret"); }

/* Writes TWCR and sleeps until the step has ended, or hangs: TWSR then says so. Interrupts are off before and after; the
 * nop gives one that came just before the sleep its turn. Two more ways in: a byte is put first, the last byte is taken. */
void door_bus_step(uint8_t control);
void door_bus_put_step(uint8_t value);
void door_bus_last_step(void);
static void steps(void) __attribute__((naked, noinline, noclone, used));
static void steps(void)
{
    __asm__ __volatile__(".global door_bus_step, door_bus_put_step, door_bus_last_step\n"
                         "door_bus_put_step:\n\tsts %0, r24\n"
                         "door_bus_last_step:\n\tldi r24, %1\n"
                         "door_bus_step:\n\tsts %2, r24\n"
                         "1:\tsei\n\tsleep\n\tnop\n\tcli\n\t"
                         "lds r24, %3\n\tcpi r24, %4\n\tbrlo 1b\n\tret" ::"n"(_SFR_MEM_ADDR(TWDR)),
                         "M"(STEP_ON), "n"(_SFR_MEM_ADDR(TWCR)), "i"(&overflows), "M"(OVERFLOWS));
}

/* What timer 0 does as long as nobody sleeps here: idle_end() puts it back. */
INLINED uint8_t idle_begin(void)
{
    const uint8_t timer = TCCR0B;
    cli();
    overflows = 0u;
    if (timer == 0u) {
        TCNT0 = 0u;
        TCCR0B = (uint8_t)(BIT(CS01) | BIT(CS00));
    }
    SMCR = BIT(SE); /* idle */
    return timer;
}

INLINED void idle_end(uint8_t timer, uint8_t control)
{
    TWCR = control;
    TCCR0B = timer;
    sei();
}

/* One step on the bus; its status, or F8h if the bus hangs (a wire off, a line held low). */
static uint8_t bus(uint8_t control)
{
    const uint8_t timer = idle_begin();
    uint8_t status;
    door_bus_step((uint8_t)(control | STEP_ON));
    status = TWSR;
    idle_end(timer, BIT(TWEN)); /* TWINT stays set and stretches the clock line until the next step */
    return status;
}

#else

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

#endif

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

#if DOOR_LUX_SENSOR
/* In so many words, for the compiler would keep the registers' addresses in pointers: 16 cycles and 20 bytes more. */
INLINED uint8_t status(void)
{
    uint8_t is;
    __asm__ __volatile__("lds %0, %1" : "=r"(is) : "n"(_SFR_MEM_ADDR(TWSR)));
    return is;
}

INLINED uint8_t data(void)
{
    uint8_t is;
    __asm__ __volatile__("lds %0, %1" : "=r"(is) : "n"(_SFR_MEM_ADDR(TWDR)));
    return is;
}

/* A chip that does not take its address gets the order all the same: it may have come back to the bus just now. */
uint16_t board_bus_word(uint8_t address, uint8_t order)
{
    const uint8_t timer = idle_begin();
    uint16_t word = 0u;
    uint8_t high;
    door_bus_step(BIT(TWSTA) | STEP_ON);
    door_bus_put_step(address);
    if (status() == 0x40u) {
        door_bus_step(BIT(TWEA) | STEP_ON);
        high = data();
        door_bus_last_step();
        if (status() == 0x58u) { word = (uint16_t)(((uint16_t)high << 8) | data()); }
    }
    door_bus_step(BIT(TWSTO) | BIT(TWSTA) | STEP_ON);
    door_bus_put_step((uint8_t)(address & 0xFEu));
    door_bus_put_step(order);
    idle_end(timer, BIT(TWINT) | BIT(TWEN) | BIT(TWSTO));
    return word;
}
#endif
