/* console.h - print from a test program, on a computer or on an emulated chip, and end it. Include from one file. */
#ifndef CONSOLE_H
#define CONSOLE_H
#include <stdint.h>

#if defined(__AVR_ATmega328P__)
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
static void put(char c)
{
    while ((UCSR0A & (1u << UDRE0)) == 0u) {}
    UDR0 = (uint8_t)c;
}
static void console_start(void)
{
    UBRR0 = 0u;
    UCSR0B = (uint8_t)(1u << TXEN0);
}
static void end_line(void) { put('\n'); }
#elif defined(__AVR_ATtiny85__)
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wpedantic"
#include <avr/avr_mcu_section.h>
AVR_MCU(F_CPU, "attiny85");
AVR_MCU_SIMAVR_CONSOLE(&GPIOR0);
#pragma GCC diagnostic pop
static void put(char c) { GPIOR0 = (uint8_t)c; }
static void console_start(void) {}
static void end_line(void) { put('\r'); }
#elif defined(__ARM_ARCH_6M__)
#ifdef __cplusplus
extern "C"
#endif
void m0_put(char c);
static void put(char c) { m0_put(c); }
static void console_start(void) {}
static void end_line(void) { put('\n'); }
#else
#include <stdio.h>
static void put(char c) { (void)putchar(c); }
static void console_start(void) {}
static void end_line(void) { put('\n'); }
#endif

static void put_hex(uint16_t value, uint8_t digits)
{
    while (digits != 0u) {
        digits--;
        put("0123456789abcdef"[(value >> (4u * digits)) & 15u]);
    }
}

/* Asleep with interrupts off, an emulated AVR ends its emulator; a program elsewhere returns from main(). */
static void console_end(void)
{
#ifdef __AVR__
    cli();
    sleep_enable();
    sleep_cpu();
#endif
}
#endif
