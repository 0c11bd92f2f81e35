/* talk.c - an emulated chip as Python speaks to it: characters in at the line's own pace, characters out, power cuts
 * at any cycle, the EEPROM before and after. The clock chip ticks with the chip's own cycles. */
#include "chip.h"
#include <simavr/avr_adc.h>
#include <simavr/avr_eeprom.h>
#include <simavr/avr_ioport.h>
#include <simavr/avr_uart.h>
#include <stdlib.h>
#include <string.h>

#define HZ 16000000u
#define HALF (HZ / 2u)

typedef struct {
    chip *chip;
    uint64_t half; /* the cycle at which the clock's half second ends */
    int high;      /* the pulse's level */
    uint64_t ticks;
} talk;

static const chip_kind kind = {"atmega328p", HZ, 5000u, '0', 'D', 'B', 0, 4, 0x80u, OCR0A_AT};
static const char inputs[][2] = {{'B', 0}, {'C', 2}, {'C', 3}, {'D', 0}, {'D', 4}, {'D', 5}, {'D', 7}};

static void pins(talk *t)
{
    unsigned i, high;
    for (high = 0; high < 2; high++) {
        for (i = 0; i < sizeof inputs / sizeof inputs[0]; i++) { chip_pin(t->chip, inputs[i][0], inputs[i][1], (int)high); }
    }
    chip_pin(t->chip, 'D', 4, 0); /* the door stands up */
}

talk *talk_new(const char *elf, int64_t clock_seconds, const uint8_t *eeprom)
{
    talk *t = calloc(1, sizeof *t);
    avr_eeprom_desc_t all = {.ee = (uint8_t *)eeprom, .offset = 0, .size = 1024};
    t->chip = chip_new(elf, &kind);
    if (!t->chip) { return 0; }
    avr_ioctl(t->chip->avr, AVR_IOCTL_EEPROM_SET, &all);
    clock_chip_power_up(&t->chip->clock, CLOCK_CHIP_DS3231);
    clock_chip_set(&t->chip->clock, clock_seconds);
    chip_analog(t->chip, 0, 4000);
    chip_analog(t->chip, 1, 3100);
    t->high = 1;
    t->half = t->chip->avr->cycle + HALF;
    pins(t);
    return t;
}

void talk_free(talk *t)
{
    chip_free(t->chip);
    free(t);
}

void talk_light(talk *t, uint32_t mv) { chip_analog(t->chip, 0, mv); }

/* The end switches: made switches pull their pins low. */
void talk_switches(talk *t, int top, int bottom)
{
    chip_pin(t->chip, 'D', 4, !top);
    chip_pin(t->chip, 'D', 5, !bottom);
}

/* The hand switch: 1 up, 2 down, 0 let go. */
void talk_hand(talk *t, int way)
{
    chip_pin(t->chip, 'C', 2, way != 1);
    chip_pin(t->chip, 'C', 3, way != 2);
}

static void edge(talk *t)
{
    t->high = !t->high;
    if (!t->high) {
        clock_chip_tick(&t->chip->clock);
        t->ticks++;
    }
    if (clock_chip_pulses(&t->chip->clock)) { chip_pin(t->chip, 'B', 0, t->high); }
    t->half += HALF;
}

/* So many cycles of a chip's life; 0, or simavr's state if it has stopped. */
int talk_run(talk *t, uint64_t cycles)
{
    uint64_t end = t->chip->avr->cycle + cycles;
    int state = 0;
    while (!state && t->chip->avr->cycle < end) {
        uint64_t until = t->half < end ? t->half : end;
        if (until > t->chip->avr->cycle) { state = chip_run(t->chip, until - t->chip->avr->cycle); }
        if (t->chip->avr->cycle >= t->half) { edge(t); }
    }
    return state;
}

/* A character at the line's pace: a start bit, which wakes a sleeping chip, and the rest. */
int talk_say(talk *t, uint8_t character)
{
    int state;
    chip_pin(t->chip, 'D', 0, 0);
    state = talk_run(t, HZ / 9600u);
    chip_pin(t->chip, 'D', 0, 1);
    avr_raise_irq(avr_io_getirq(t->chip->avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT), character);
    return state ? state : talk_run(t, HZ / 9600u * 9u);
}

uint32_t talk_heard(talk *t, uint8_t *to, uint32_t room)
{
    uint32_t n = t->chip->serial_n < room ? t->chip->serial_n : room;
    memcpy(to, t->chip->serial, n);
    memmove(t->chip->serial, t->chip->serial + n, t->chip->serial_n - n);
    t->chip->serial_n -= n;
    return n;
}

void talk_eeprom(talk *t, uint8_t *to)
{
    avr_eeprom_desc_t all = {.ee = to, .offset = 0, .size = 1024};
    avr_ioctl(t->chip->avr, AVR_IOCTL_EEPROM_GET, &all);
    if (all.ee != to) { memcpy(to, all.ee, 1024); }
}

void talk_clock(talk *t, int64_t seconds) { clock_chip_set(&t->chip->clock, seconds); }
int64_t talk_clock_now(talk *t) { return t->chip->clock.seconds; }
uint64_t talk_cycle(talk *t) { return t->chip->avr->cycle; }
int talk_driven(talk *t) { return (chip_port(t->chip, 'B') >> 1 & 1) - (chip_port(t->chip, 'B') >> 2 & 1); }
int talk_lamp(talk *t) { return chip_port(t->chip, 'B') >> 5 & 1; }

uint64_t talk_awake(talk *t)
{
    uint64_t asleep = 0;
    int mode;
    for (mode = 0; mode < SLEEP_MODES; mode++) { asleep += t->chip->asleep[mode]; }
    return t->chip->avr->cycle - asleep;
}

/* Power off and on again: EEPROM and clock chip stay, all else is as after a reset. */
void talk_cut(talk *t)
{
    avr_reset(t->chip->avr);
    chip_ports_off(t->chip);
    t->chip->owed = 0;
    pins(t);
    t->half = t->chip->avr->cycle + HALF;
    t->high = 1;
}
