/* chip.c - see chip.h. */
#include "chip.h"
#include <simavr/avr_adc.h>
#include <simavr/avr_eeprom.h>
#include <simavr/avr_extint.h>
#include <simavr/avr_ioport.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_elf.h>
#include <simavr/sim_irq.h>
#include <stdlib.h>
#include <string.h>

#define SENSOR_ADDRESS 0x46u
#define SMCR_AT 0x53u /* data addresses as in chip.h: sleep mode, timer 0 */
#define TCCR0A_AT 0x44u
#define TWSR_AT 0xB9u
#define TWCR_AT 0xBCu
#define BUS_WORKS 0xF8u /* in TWSR until a step on the bus has ended */

static chip *asleep_chip; /* simavr's sleep hook carries no parameter; one chip runs at a time */

static void slept(avr_t *avr, avr_cycle_count_t cycles)
{
    asleep_chip->asleep[avr->data[SMCR_AT] >> 1 & 7u] += cycles;
}

static void silent(avr_t *avr, const int level, const char *format, va_list args)
{
    (void)avr, (void)level, (void)format, (void)args;
}

static void port_driven(avr_irq_t *irq, uint32_t value, void *param)
{
    (void)irq;
    *(uint8_t *)param = (uint8_t)value;
}

static void feed_driven(avr_irq_t *irq, uint32_t value, void *param)
{
    chip *c = param;
    (void)irq;
    c->asking = (uint8_t)(value & 1u);
    c->bus_step = 0;
    if (value & 1u && c->stepping) { c->stepping(c->stepping_with); }
}

/* A step on the bus has ended, unless the line is held from this one on: then neither status nor interrupt is there. The
 * emulator raises no interrupt whose number is 0. */
static void bus_stepped(avr_irq_t *irq, uint32_t value, void *param)
{
    chip *c = param;
    (void)irq;
    if (value == BUS_WORKS) { return; }
    c->bus_step++;
    uint8_t held = (uint8_t)(c->asking && c->sensor_hangs && c->bus_step >= c->sensor_hangs);
    c->bus_vector->vector = held ? 0u : c->bus_vector_n;
    if (held) { c->avr->data[TWSR_AT] = BUS_WORKS; }
}

static void character_sent(avr_irq_t *irq, uint32_t value, void *param)
{
    chip *c = param;
    (void)irq;
    if (c->serial_n < SERIAL_KEPT) { c->serial[c->serial_n++] = (uint8_t)value; }
}

/* The start bit wakes the chip at once, the character a millisecond later. */
static void typed_in_mid_exchange(chip *c)
{
    chip_pin(c, c->kind.rxd_port, c->kind.rxd_bit, 0);
    chip_pin(c, c->kind.rxd_port, c->kind.rxd_bit, 1);
    avr_raise_irq(avr_io_getirq(c->avr, AVR_IOCTL_UART_GETIRQ(c->kind.serial), UART_IRQ_INPUT), c->typed);
    c->typed = 0;
}

static uint8_t answers(const chip *c, uint8_t address)
{
    return (uint8_t)((address == SENSOR_ADDRESS && !c->sensor_absent) || (address == clock_chip_address(&c->clock) && !c->clock.absent));
}

static uint8_t bus_read(chip *c)
{
    if ((c->bus_selected & 0xFEu) == clock_chip_address(&c->clock)) { return clock_chip_take(&c->clock); }
    c->sensor_byte ^= 1u;
    return (uint8_t)(c->sensor_byte ? c->sensor_raw >> 8 : c->sensor_raw);
}

static void bus_spoken(avr_irq_t *irq, uint32_t value, void *param)
{
    chip *c = param;
    avr_twi_msg_irq_t in;
    uint8_t clocks = (uint8_t)((c->bus_selected & 0xFEu) == clock_chip_address(&c->clock));
    in.u.v = value;
    (void)irq;
    if (in.u.twi.msg & TWI_COND_STOP) {
        if (clocks) { clock_chip_end(&c->clock); }
        c->bus_selected = 0;
    }
    if (in.u.twi.msg & TWI_COND_START) {
        if (c->typed && in.u.twi.addr == (SENSOR_ADDRESS | 1u)) { typed_in_mid_exchange(c); }
        c->bus_selected = answers(c, in.u.twi.addr & 0xFEu) ? in.u.twi.addr : 0;
        c->sensor_byte = 0;
        if ((c->bus_selected & 0xFEu) == clock_chip_address(&c->clock)) { clock_chip_begin(&c->clock, in.u.twi.addr & 1u); }
        if (c->bus_selected) { avr_raise_irq(c->bus_in, avr_twi_irq_msg(TWI_COND_ACK, c->bus_selected, 1)); }
        return;
    }
    if (!c->bus_selected) { return; }
    if (in.u.twi.msg & TWI_COND_WRITE) {
        avr_raise_irq(c->bus_in, avr_twi_irq_msg(TWI_COND_ACK, c->bus_selected, 1));
        if (clocks) { clock_chip_put(&c->clock, in.u.twi.data); }
    }
    if (in.u.twi.msg & TWI_COND_READ) {
        avr_raise_irq(c->bus_in, avr_twi_irq_msg(TWI_COND_READ, c->bus_selected, bus_read(c)));
    }
}

chip *chip_new(const char *elf, const chip_kind *kind)
{
    elf_firmware_t firmware;
    uint32_t flags = 0;
    memset(&firmware, 0, sizeof firmware);
    avr_global_logger_set(silent);
    if (elf_read_firmware(elf, &firmware)) { return 0; }
    avr_t *avr = avr_make_mcu_by_name(kind->mcu);
    if (!avr) { return 0; }
    avr_init(avr);
    avr_load_firmware(avr, &firmware);
    avr->frequency = kind->hz;
    avr->vcc = avr->avcc = avr->aref = kind->supply_mv;
    avr->sleep = slept;
    avr->log = 0;
    for (uint8_t n = 0; n < EXTINT_COUNT; n++) {
        avr_extint_set_strict_lvl_trig(avr, n, 0); /* else it looks at every cycle at a pin that stands low */
    }
    avr->run_cycle_limit = 100; /* instructions run in batches: same result, half the time */
    memset(avr->data + avr->ioend + 1u, 0xA5, avr->ramend - avr->ioend); /* a mark, to see how deep the stack has been */
    chip *c = calloc(1, sizeof *c);
    c->avr = avr;
    c->kind = *kind;
    c->serial = malloc(SERIAL_KEPT);
    asleep_chip = c;
    for (char name = 'A'; name < 'A' + PORTS; name++) {
        avr_irq_t *written = avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ(name), IOPORT_IRQ_REG_PORT);
        if (written) { avr_irq_register_notify(written, port_driven, &c->port[name - 'A']); }
    }
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ(kind->feed_port), kind->feed_bit), feed_driven, c);
    avr_ioctl(avr, AVR_IOCTL_UART_GET_FLAGS(kind->serial), &flags);
    flags &= ~(uint32_t)(AVR_UART_FLAG_STDIO | AVR_UART_FLAG_POLL_SLEEP);
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS(kind->serial), &flags);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ(kind->serial), UART_IRQ_OUTPUT), character_sent, c);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_TWI_GETIRQ(0), TWI_IRQ_OUTPUT), bus_spoken, c);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_TWI_GETIRQ(0), TWI_IRQ_STATUS), bus_stepped, c);
    for (uint8_t n = 0; n < avr->interrupts.vector_count; n++) {
        if (avr->interrupts.vector[n]->raised.reg == TWCR_AT) { c->bus_vector = avr->interrupts.vector[n]; }
    }
    c->bus_vector_n = c->bus_vector->vector;
    c->bus_in = avr_io_getirq(avr, AVR_IOCTL_TWI_GETIRQ(0), TWI_IRQ_INPUT);
    return c;
}

void chip_free(chip *c)
{
    avr_terminate(c->avr);
    free(c->serial);
    free(c);
}

static avr_cycle_count_t end_of_run(avr_t *avr, avr_cycle_count_t when, void *param)
{
    (void)avr, (void)when, (void)param;
    return 0;
}

/* A cycle timer at the end keeps a sleeping core from jumping past it: run_cycle_limit does not. What a running
 * core goes too far (an instruction, an interrupt's entry) is taken off the next run, so that seconds stay exact. */
int chip_run(chip *c, uint64_t cycles)
{
    avr_t *avr = c->avr;
    uint64_t wanted = cycles > c->owed ? cycles - c->owed : 1;
    avr_cycle_count_t end = avr->cycle + wanted;
    int state = avr->state;
    avr_cycle_timer_register(avr, wanted, end_of_run, 0);
    while (avr->cycle < end) {
        state = avr_run(avr);
        if (state == cpu_Done || state == cpu_Crashed) { return state; }
    }
    c->owed = avr->cycle - end;
    return 0;
}

/* The emulator is told twice: now, and what to find again when the program writes the port, for it then gives every
 * input of that port its pull-up's level. */
void chip_pin(chip *c, char port, int bit, int high)
{
    uint8_t *held = &c->held[port - 'A'], *level = &c->level[port - 'A'];
    *held = (uint8_t)(*held | 1u << bit);
    *level = (uint8_t)((*level & ~(1u << bit)) | (unsigned)(high != 0) << bit);
    avr_ioport_external_t outside = {.name = (unsigned char)port & 0x7Fu, .mask = *held, .value = *level};
    avr_ioctl(c->avr, AVR_IOCTL_IOPORT_SET_EXTERNAL(port), &outside);
    avr_raise_irq(avr_io_getirq(c->avr, AVR_IOCTL_IOPORT_GETIRQ(port), bit), (uint32_t)high);
}

void chip_analog(chip *c, int channel, uint32_t mv)
{
    avr_raise_irq(avr_io_getirq(c->avr, AVR_IOCTL_ADC_GETIRQ, ADC_IRQ_ADC0 + channel), mv);
}

/* The start bit reaches the pin as well as the receiver: it is what wakes a chip in power-down. */
void chip_say(chip *c, uint8_t character)
{
    chip_pin(c, c->kind.rxd_port, c->kind.rxd_bit, 0);
    chip_run(c, c->kind.hz / 9600u);
    chip_pin(c, c->kind.rxd_port, c->kind.rxd_bit, 1);
    avr_raise_irq(avr_io_getirq(c->avr, AVR_IOCTL_UART_GETIRQ(c->kind.serial), UART_IRQ_INPUT), character);
    chip_run(c, c->kind.hz / 9600u * 10u);
}

/* The share of time that the speed pin drives, while timer 0 has it. */
double chip_duty(const chip *c)
{
    return c->avr->data[TCCR0A_AT] & c->kind.duty_mask ? (c->avr->data[c->kind.duty_at] + 1.0) / 256.0 : 0.0;
}

uint8_t chip_port(const chip *c, char name) { return c->port[name - 'A']; }

void chip_ports_off(chip *c) { memset(c->port, 0, sizeof c->port); }
