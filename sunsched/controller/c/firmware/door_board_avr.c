/* door_board_avr.c - the door program's board: an 8-bit AVR, a clock chip on the two-wire bus with a 1 Hz output, a
 * motor driver of one of the kinds in door_board_drive.h.
 *
 * Register names and rules: ATmega328P datasheet (Microchip DS40002061). Where a chip calls a register or an interrupt
 * otherwise, or has it on other pins, its own header says so: door_chip_atmega328p.h tells what each must define. */
#include "door_board.h"
#include "door_board_drive.h"
#include "door_pins.h"
#include "door_values.h"

#include <avr/eeprom.h>
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#include <avr/wdt.h>

#define BIT(n) ((uint8_t)(1u << (n)))
#define SET(reg, n) ((reg) = (uint8_t)((reg) | BIT(n)))
#define CLEAR(reg, n) ((reg) = (uint8_t)((reg) & (uint8_t)~BIT(n)))

#include DOOR_CHIP_HEADER
#if DOOR_LUX_SENSOR
#include "door_board_avr_bus.h"
#include "door_board_sensor.h"
#endif

#if F_CPU > 12000000UL /* the converter's clock: 125 kHz of 16 MHz, and of 8 MHz */
#define ADC_CLOCK (BIT(ADPS2) | BIT(ADPS1) | BIT(ADPS0))
#else
#define ADC_CLOCK (BIT(ADPS2) | BIT(ADPS1))
#endif

/* Registers of the serial line in use, by its number. */
#define NAMED_(a, n, b) a##n##b
#define NAMED(a, n, b) NAMED_(a, n, b)
#define UDR NAMED(UDR, CHIP_SERIAL, )
#define UBRR NAMED(UBRR, CHIP_SERIAL, )
#define UCSRA NAMED(UCSR, CHIP_SERIAL, A)
#define UCSRB NAMED(UCSR, CHIP_SERIAL, B)
#define UCSRC NAMED(UCSR, CHIP_SERIAL, C)
#define SERIAL_BIT(name) NAMED(name, CHIP_SERIAL, )
#define SERIAL_BIT_OF(name, n) NAMED(name, CHIP_SERIAL, n)

#define BUS_HZ 100000UL

#define IDLE 0u /* sleep modes, SMCR */
#define QUIET BIT(SM0)
#define POWER_DOWN BIT(SM1)

#define BAUD_RATE 9600UL
#define LISTEN_S 30u /* stay awake for the serial line this long after a character */
#define TX_SIZE 128u /* powers of two */
#define RX_SIZE 64u

#define MADE(pins, n) (((pins) & BIT(n)) == 0u) /* a made switch pulls its pin to ground */
#if DOOR_SWITCHES_CLOSED
#define END_MADE(pins, n) (((pins) & BIT(n)) != 0u) /* closed at rest: a made one, or a broken wire, lets it rise */
#else
#define END_MADE(pins, n) MADE(pins, n)
#endif
#define HOLD_MS 10u

static volatile uint8_t pending, seconds, listen_s, pulse_was_high, converting, sending, keeping;
static volatile uint8_t tx[TX_SIZE], tx_in, tx_out, rx[RX_SIZE], rx_in, rx_out;

/* Set before main(), so kept out of the variables that start-up clears. */
static volatile uint8_t reset_cause __attribute__((section(".noinit")));

/* The driver must see "off" before anything else happens, also after the watchdog has bitten: this runs before
 * main(). Until then the pins float: the driver's inputs need pull-down resistors. The watchdog stays on after
 * its own reset, with its shortest time, so it is stopped here. */
void board_first(void) __attribute__((naked, used, section(".init3")));
void board_first(void)
{
    CLEAR(DOOR_RAISE_PORT, DOOR_RAISE_BIT);
    CLEAR(DOOR_LOWER_PORT, DOOR_LOWER_BIT);
    CLEAR(DOOR_SPEED_PORT, DOOR_SPEED_BIT);
    SET(DOOR_RAISE_DDR, DOOR_RAISE_BIT);
    SET(DOOR_LOWER_DDR, DOOR_LOWER_BIT);
    SET(DOOR_SPEED_DDR, DOOR_SPEED_BIT);
    reset_cause = MCUSR;
    MCUSR = 0u;
    wdt_disable();
}

/* The four flags of MCUSR stand in the order of the BOARD_ bits: power-on, external, brown-out, watchdog. */
uint8_t board_reset_cause(void) { return (uint8_t)(reset_cause & 0x0Fu); }

void drive_pins_off(void)
{
    TCCR0A = (uint8_t)(BIT(WGM01) | BIT(WGM00)); /* first: the speed pin goes back to its port bit, which is low */
    CLEAR(DOOR_RAISE_PORT, DOOR_RAISE_BIT);
    CLEAR(DOOR_LOWER_PORT, DOOR_LOWER_BIT);
}

/* Timer 0 counts milliseconds for as long as a run is on, whether it drives the speed pin or not: 977 Hz at 16 MHz,
 * 488 Hz at 8 MHz. */
void drive_pins_on(uint8_t direction, uint8_t duty)
{
#if DOOR_DRIVER == DOOR_DRIVER_DIRECTION
    if (direction == BOARD_RAISE) { SET(DOOR_RAISE_PORT, DOOR_RAISE_BIT); }
#else
    if (direction == BOARD_RAISE) { SET(DOOR_RAISE_PORT, DOOR_RAISE_BIT); }
    if (direction == BOARD_LOWER) { SET(DOOR_LOWER_PORT, DOOR_LOWER_BIT); }
#endif
#if DOOR_DRIVER == DOOR_DRIVER_RELAYS
    (void)duty;
#else
    DOOR_SPEED_OCR = duty;
    TCCR0A = (uint8_t)(DOOR_SPEED_COM | BIT(WGM01) | BIT(WGM00)); /* fast PWM */
#endif
}

uint8_t drive_end_made(uint8_t direction)
{
    if (direction == BOARD_RAISE) { return (uint8_t)END_MADE(DOOR_TOP_PIN, DOOR_TOP_BIT); }
#if DOOR_CURRENT_FITTED
    return 0u; /* no lower switch */
#else
    return (uint8_t)END_MADE(DOOR_BOTTOM_PIN, DOOR_BOTTOM_BIT);
#endif
}

#if DOOR_CURRENT_FITTED
/* In the millisecond's interrupt: 13 converter clocks of 8 us. */
uint16_t drive_current_counts(void)
{
    uint16_t found;
    if (converting != 0u) { return 0u; }
    ADMUX = (uint8_t)(BIT(REFS0) | DOOR_CURRENT_CHANNEL);
    ADCSRA = (uint8_t)(BIT(ADEN) | BIT(ADSC) | ADC_CLOCK);
    while ((ADCSRA & BIT(ADSC)) != 0u) { /* 0.2 ms, the first of a converter just switched on */ }
    found = ADC;
    ADCSRA = 0u;
    return found;
}
#endif

static uint8_t ends_made(void)
{
    uint8_t made_now = 0u;
    if (END_MADE(DOOR_TOP_PIN, DOOR_TOP_BIT)) { made_now |= BOARD_TOP; }
#if DOOR_CURRENT_FITTED
    if (drive_at_end_by_current() != 0u) { made_now |= BOARD_BOTTOM; }
#else
    if (END_MADE(DOOR_BOTTOM_PIN, DOOR_BOTTOM_BIT)) { made_now |= BOARD_BOTTOM; }
#endif
    return made_now;
}

static void one_millisecond(void)
{
    uint16_t turns = (uint16_t)(F_CPU / 1000UL / 8UL); /* at least 8 cycles a turn */
    while (turns != 0u) {
        turns--;
        __asm__ __volatile__("nop\n nop\n nop\n nop");
    }
}

/* End switches that say what they said a second ago are believed at once; a change must hold. */
static uint8_t steady_ends(void)
{
    static uint8_t before = 0xFFu;
    const uint8_t first = ends_made();
    uint8_t ms = 0u;
    while ((first != before) && (ms < HOLD_MS) && (ends_made() == first)) {
        one_millisecond();
        ms++;
    }
    if ((first == before) || (ms == HOLD_MS) || (before == 0xFFu)) { before = first; }
    return before;
}

uint8_t board_switches(void)
{
    uint8_t made_now = steady_ends();
    if (MADE(DOOR_HAND_UP_PIN, DOOR_HAND_UP_BIT)) { made_now |= BOARD_HAND_UP; }
    if (MADE(DOOR_HAND_DOWN_PIN, DOOR_HAND_DOWN_BIT)) { made_now |= BOARD_HAND_DOWN; }
    if (MADE(DOOR_KEEP_SHUT_PIN, DOOR_KEEP_SHUT_BIT)) { made_now |= BOARD_KEEP_SHUT; }
    return made_now;
}

/* Inlined: an interrupt that calls nothing saves a few registers only, and the pulse's comes twice a second. */
#define INLINED static inline __attribute__((always_inline))

INLINED void one_second(void)
{
    if (seconds < 255u) { seconds++; }
    if (listen_s != 0u) { listen_s--; }
}

INLINED void pulse_changed(void)
{
    const uint8_t high = (uint8_t)(DOOR_PULSE_PIN & BIT(DOOR_PULSE_BIT));
    if ((high == 0u) && (pulse_was_high != 0u)) {
        TCCR1B = 0u; /* the pulse is there (again): the chip's own seconds are not needed */
        one_second();
    }
    pulse_was_high = high;
}

#if DOOR_CURRENT_FITTED
#define HAS_END(pins) ((pins) == &DOOR_TOP_PIN)
#else
#define HAS_END(pins) (((pins) == &DOOR_TOP_PIN) || ((pins) == &DOOR_BOTTOM_PIN))
#endif

/* Pin-change interrupts work without the main clock, so they wake power-down; INT0 and INT1 would need a level
 * held until the chip is awake. An end switch cuts the motor here, within microseconds. Which pins a port has is
 * known when this is compiled. */
INLINED void port_changed(const volatile uint8_t *pins)
{
    /* a start bit on the serial line: stay awake for the rest */
    if ((pins == &CHIP_RXD_PIN) && MADE(*pins, CHIP_RXD_BIT)) { listen_s = LISTEN_S; }
    if (pins == &DOOR_PULSE_PIN) { pulse_changed(); }
    if (HAS_END(pins)) { drive_edge(); }
}

ISR(PCINT0_vect) { port_changed(&CHIP_PCINT0_PIN); }
#ifdef CHIP_PCINT1_PIN
ISR(PCINT1_vect) { port_changed(&CHIP_PCINT1_PIN); }
#endif
#ifdef CHIP_PCINT2_PIN
ISR(PCINT2_vect) { port_changed(&CHIP_PCINT2_PIN); }
#endif
#ifdef CHIP_PCINT3_PIN
ISR(PCINT3_vect) { port_changed(&CHIP_PCINT3_PIN); }
#endif
#ifdef CHIP_START_BIT_vect /* where the serial line's pin has an interrupt of its own */
ISR(CHIP_START_BIT_vect) { listen_s = LISTEN_S; }
#endif

ISR(TIMER0_OVF_vect)
{
    drive_millisecond();
#if F_CPU <= 12000000UL
    drive_millisecond(); /* half as often, two at a time */
#endif
#if DOOR_LUX_SENSOR
    board_bus_overflow();
#endif
}
ISR(TIMER1_COMPA_vect) { one_second(); }

/* About 2 s without board_wait(): no pulse came, or the program hangs. Seconds are then counted from the chip's
 * own crystal, which needs the main clock and so costs milliamperes; the next time-out resets, unless
 * board_wait() runs before it. */
ISR(WDT_vect)
{
    OCR1A = (uint16_t)(F_CPU / 256UL - 1UL);
    TCNT1 = 0u;
    TCCR1B = (uint8_t)(BIT(WGM12) | BIT(CS12));
    seconds = (uint8_t)(seconds + 2u);
}
EMPTY_INTERRUPT(ADC_vect)

ISR(EE_READY_vect)
{
    CLEAR(EECR, EERIE); /* it would come again and again until the next write */
    keeping = 0u;
    pending |= BOARD_KEPT;
}

ISR(CHIP_RX_vect)
{
    const uint8_t character = UDR;
    const uint8_t next = (uint8_t)((rx_in + 1u) & (RX_SIZE - 1u));
    listen_s = LISTEN_S;
    if (next != rx_out) {
        rx[rx_in] = character;
        rx_in = next;
    }
    pending |= BOARD_SERIAL;
}

ISR(CHIP_UDRE_vect)
{
    if (tx_in == tx_out) {
        CLEAR(UCSRB, SERIAL_BIT(UDRIE));
    } else {
        SET(UCSRA, SERIAL_BIT(TXC)); /* written as one, it is cleared */
        UDR = tx[tx_out];
        tx_out = (uint8_t)((tx_out + 1u) & (TX_SIZE - 1u));
    }
}

static void watchdog_on(void) /* first time-out an interrupt, second a reset; both after about 2 s */
{
    cli();
    wdt_reset();
    WDTCSR = (uint8_t)(BIT(WDCE) | BIT(WDE));
    WDTCSR = (uint8_t)(BIT(WDIE) | BIT(WDE) | BIT(WDP2) | BIT(WDP1) | BIT(WDP0));
    sei();
}

static void unused_pins_up(void)
{
#ifdef DOOR_UNUSED_A
    PORTA = (uint8_t)(PORTA | DOOR_UNUSED_A);
#endif
#ifdef DOOR_UNUSED_B
    PORTB = (uint8_t)(PORTB | DOOR_UNUSED_B);
#endif
#ifdef DOOR_UNUSED_C
    PORTC = (uint8_t)(PORTC | DOOR_UNUSED_C);
#endif
#ifdef DOOR_UNUSED_D
    PORTD = (uint8_t)(PORTD | DOOR_UNUSED_D);
#endif
#ifdef DOOR_UNUSED_E
    PORTE = (uint8_t)(PORTE | DOOR_UNUSED_E);
#endif
#ifdef DOOR_UNUSED_F
    PORTF = (uint8_t)(PORTF | DOOR_UNUSED_F);
#endif
#ifdef DOOR_UNUSED_G
    PORTG = (uint8_t)(PORTG | DOOR_UNUSED_G);
#endif
}

void board_start(void)
{
    drive_pins_off();
    SET(DOOR_LAMP_DDR, DOOR_LAMP_BIT);
    SET(DOOR_FEED_DDR, DOOR_FEED_BIT);
    SET(DOOR_PULSE_PORT, DOOR_PULSE_BIT); /* pull-ups; the clock's output is an open drain */
    SET(DOOR_TOP_PORT, DOOR_TOP_BIT);
    SET(DOOR_BOTTOM_PORT, DOOR_BOTTOM_BIT);
    SET(DOOR_HAND_UP_PORT, DOOR_HAND_UP_BIT);
    SET(DOOR_HAND_DOWN_PORT, DOOR_HAND_DOWN_BIT);
    SET(DOOR_KEEP_SHUT_PORT, DOOR_KEEP_SHUT_BIT);
    SET(CHIP_RXD_PORT, CHIP_RXD_BIT); /* an unplugged serial line must not float, */
    unused_pins_up();                 /* nor may unused pins */
    ACSR = BIT(ACD);
    DIDR0 = (uint8_t)(BIT(DOOR_CELL_CHANNEL) | BIT(DOOR_BATTERY_CHANNEL));
    chip_start();
    TIMSK0 = BIT(TOIE0);
    TIMSK1 = BIT(OCIE1A);
    UBRR = (uint16_t)((F_CPU / 8UL + BAUD_RATE / 2UL) / BAUD_RATE - 1UL);
    UCSRA = BIT(SERIAL_BIT(U2X));
    UCSRC = (uint8_t)(BIT(SERIAL_BIT_OF(UCSZ, 1)) | BIT(SERIAL_BIT_OF(UCSZ, 0)));
    UCSRB = (uint8_t)(BIT(SERIAL_BIT(RXEN)) | BIT(SERIAL_BIT(TXEN)) | BIT(SERIAL_BIT(RXCIE)));
    TWBR = (uint8_t)((F_CPU / BUS_HZ - 16UL) / 2UL);
    pulse_was_high = (uint8_t)(DOOR_PULSE_PIN & BIT(DOOR_PULSE_BIT));
    chip_watch();
    watchdog_on();
}

/* The next instruction after sei() runs before any interrupt, so none can slip in between it and sleep. */
static void sleep_in(uint8_t mode)
{
    SMCR = (uint8_t)(mode | BIT(SE));
    sei();
    sleep_cpu();
    SMCR = 0u;
    cli();
}

/* Power-down stops everything but the pin changes and the watchdog; the motor's PWM, the serial line and its
 * listening time need the main clock, so then the chip only idles. */
static uint8_t busy(void)
{
    if ((sending != 0u) && (tx_in == tx_out) && ((UCSRA & BIT(SERIAL_BIT(TXC))) != 0u)) { sending = 0u; }
    return (uint8_t)(drive_running() | TCCR1B | listen_s | sending | keeping);
}

uint8_t board_wait(void)
{
    uint8_t woke;
#if DOOR_LUX_SENSOR
    TWCR = 0u; /* the sensor's last stop is over: door_board_avr_bus.c */
#endif
    cli();
    /* what is left of a burst of lines is taken too: a line at a time, the second before it */
    if (rx_in != rx_out) { pending |= BOARD_SERIAL; }
    while ((pending == 0u) && (seconds == 0u)) { sleep_in((busy() != 0u) ? IDLE : POWER_DOWN); }
    woke = pending;
    pending = 0u;
    if (seconds != 0u) { /* one at a time: none is lost if a step ever takes longer */
        seconds--;
        woke |= BOARD_SECOND;
        if (TCCR1B != 0u) { woke |= BOARD_NO_PULSE; }
    }
    wdt_reset();
    SET(WDTCSR, WDIE); /* cleared by hardware when it fired */
    sei();
    return woke;
}

static uint16_t counts(uint8_t channel)
{
    converting = 1u;
    ADMUX = (uint8_t)(BIT(REFS0) | channel); /* against the supply, which also feeds the cell: its error cancels */
    ADCSRA = (uint8_t)(BIT(ADEN) | BIT(ADIE) | ADC_CLOCK);
    cli();
    SET(ADCSRA, ADSC);
    while ((ADCSRA & BIT(ADSC)) != 0u) { sleep_in((busy() != 0u) ? IDLE : QUIET); }
    sei();
    ADCSRA = 0u;
    converting = 0u;
    return ADC;
}

uint16_t board_light_counts(void)
{
    uint16_t light;
#if DOOR_LUX_SENSOR
    SET(DOOR_FEED_PORT, DOOR_FEED_BIT); /* nothing to feed, but each step shows at this pin as it does with a cell */
    light = sensor_lux();
#else
    SET(DOOR_FEED_PORT, DOOR_FEED_BIT); /* the divider draws current only while it is measured */
    light = counts(DOOR_CELL_CHANNEL); /* sampled 108 us later: a converter just switched on takes 13.5 clocks first */
#endif
    CLEAR(DOOR_FEED_PORT, DOOR_FEED_BIT);
    return light;
}

uint16_t board_battery_counts(void) { return counts(DOOR_BATTERY_CHANNEL); }

void board_motor(uint8_t direction, uint8_t duty)
{
    cli();
    drive_to(direction, duty);
    TCCR0B = (drive_running() != 0u) ? (uint8_t)(BIT(CS01) | BIT(CS00)) : 0u;
    sei();
}

void board_alarm_lamp(uint8_t on)
{
    if (on != 0u) { SET(DOOR_LAMP_PORT, DOOR_LAMP_BIT); } else { CLEAR(DOOR_LAMP_PORT, DOOR_LAMP_BIT); }
}

void board_put(char character)
{
    const uint8_t next = (uint8_t)((tx_in + 1u) & (TX_SIZE - 1u));
    while (next == tx_out) { /* the interrupt makes room */ }
    tx[tx_in] = (uint8_t)character;
    sending = 1u; /* until the line is empty and its last stop bit out: busy() */
    tx_in = next;
    SET(UCSRB, SERIAL_BIT(UDRIE));
}

int16_t board_take(void)
{
    int16_t character = -1;
    if (rx_in != rx_out) {
        character = (int16_t)rx[rx_out];
        rx_out = (uint8_t)((rx_out + 1u) & (RX_SIZE - 1u));
    }
    return character;
}

uint8_t board_kept(uint16_t address) { return eeprom_read_byte((const uint8_t *)address); }

uint8_t board_keep(uint16_t address, uint8_t value)
{
    if (eeprom_read_byte((const uint8_t *)address) == value) { return 0u; }
    eeprom_write_byte((uint8_t *)address, value);
    keeping = 1u;
    SET(EECR, EERIE);
    return 1u;
}
