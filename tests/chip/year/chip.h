/* chip.h - a flat face over simavr: one emulated microcontroller with a clock chip on its two-wire bus. */
#ifndef CHIP_H
#define CHIP_H
#include "clock_chip.h"
#include <simavr/avr_twi.h>
#include <simavr/sim_avr.h>

#define SERIAL_KEPT (1u << 22)
#define SLEEP_MODES 8
#define PORTS 12 /* A to L */

/* What the emulator has to know of a board: its chip and crystal, its serial line, and the pins that are looked at here. */
typedef struct {
    const char *mcu;
    uint32_t hz, supply_mv;
    char serial;                      /* the line's number, as a character */
    char rxd_port, feed_port;         /* 'A' to 'L' */
    uint8_t rxd_bit, feed_bit;
    uint8_t duty_mask;                /* of TCCR0A, while timer 0 has the speed pin */
    uint16_t duty_at;                 /* data address of that output's compare register */
} chip_kind;

/* Data addresses of registers, the same on ATmega328P, 1284P, 2560 and 32U4 (avr-libc's headers). */
#define OCR0A_AT 0x47u
#define OCR0B_AT 0x48u
#define MCUSR_AT 0x54u

typedef struct {
    avr_t *avr;
    clock_chip clock;
    avr_irq_t *bus_in;
    uint8_t bus_selected;
    uint16_t sensor_raw;  /* what a light sensor on the bus would give: counts, 1.2 a lux */
    uint8_t sensor_byte;
    uint8_t sensor_absent; /* off the bus */
    uint8_t sensor_hangs;  /* the step of an exchange with it from which on a line is held, 1 the first start; 0 never */
    uint8_t asking, bus_step;
    avr_int_vector_t *bus_vector;
    uint8_t bus_vector_n;
    uint8_t typed;         /* a character that comes while the light sensor's address is on the bus */
    void (*stepping)(void *with); /* called when the chip begins a step: it powers its light cell */
    void *stepping_with;
    uint8_t port[PORTS]; /* what PORTA to PORTL drive */
    uint8_t held[PORTS], level[PORTS]; /* pins that the world holds, and at which level */
    uint8_t *serial;   /* characters the chip has sent */
    uint32_t serial_n;
    uint64_t asleep[SLEEP_MODES]; /* cycles spent in each mode */
    uint64_t resets;
    uint64_t owed;     /* cycles the last run went past its end */
    chip_kind kind;
} chip;

chip *chip_new(const char *elf, const chip_kind *kind);
void chip_free(chip *c);
int chip_run(chip *c, uint64_t cycles);  /* exactly, sleeping or not; 0 while it lives, else simavr's state */
void chip_pin(chip *c, char port, int bit, int high);
void chip_analog(chip *c, int channel, uint32_t mv);
void chip_say(chip *c, uint8_t character);
double chip_duty(const chip *c);
uint8_t chip_port(const chip *c, char name);
void chip_ports_off(chip *c);
#endif
