/* door_board_rp2040.c - the door program's board: an RP2040 with a crystal of 12 MHz, a clock chip on the two-wire bus
 * with a 1 Hz output, a motor driver of one of the kinds in door_board_drive.h.
 *
 * The chip runs from its crystal, and sleeps (WFI) with its clocks on: the serial line, the pulse and the end switches
 * wake it. There is no EEPROM: door_flash.h. Registers and rules: RP2040 data sheet (Raspberry Pi). */
#include "door_board.h"
#include "door_board_drive.h"
#include "door_flash.h"
#include "door_pins.h"
#include "door_rp2040.h"
#include "door_values.h"
#if DOOR_LUX_SENSOR
#include "door_board_sensor.h"
#endif

#define SDA 4u
#define SCL 5u
#define TXD 0u
#define RXD 1u
#define SPEED_SLICE ((DOOR_SPEED_GPIO >> 1) & 7u)

#define MILLISECOND_US 1000u
#define NO_PULSE_US 2000000ul
#define SECOND_US 1000000ul
#define WATCHDOG_US 4000000ul
#define BUS_PATIENCE_US 20000ul
#define HOLD_MS 10u
#define RX_SIZE 64u /* a power of two */

#define PULSE_ALARM 0u /* no pulse has come for too long; then the seconds of the crystal */
#define DRIVE_ALARM 1u /* milliseconds of a run */

#define MADE(gpio) ((RP_REG(SIO_IN) & RP_BIT(gpio)) == 0u) /* a made switch pulls its pin to ground */
#if DOOR_SWITCHES_CLOSED
#define END_MADE(gpio) (!MADE(gpio)) /* closed at rest: a made one, or a broken wire, lets it rise */
#else
#define END_MADE(gpio) MADE(gpio)
#endif

static volatile uint8_t pending, seconds, own_seconds, pulse_was_high, rx[RX_SIZE], rx_in, rx_out;
static uint8_t reset_cause;

static void interrupts_off(void) { __asm__ volatile("cpsid i" ::: "memory"); }
static void interrupts_on(void) { __asm__ volatile("cpsie i" ::: "memory"); }

static void as_output(uint32_t gpio)
{
    RP_REG(SIO_OUT_CLR) = RP_BIT(gpio);
    RP_REG(SIO_OE_SET) = RP_BIT(gpio);
    RP_REG(GPIO_CTRL(gpio)) = FUNCTION_SIO; /* before the pad's pull-down goes */
    RP_REG(PAD(gpio)) = PAD_OUTPUT;
}

static void as_input(uint32_t gpio)
{
    RP_REG(PAD(gpio)) = PAD_INPUT_UP;
    RP_REG(GPIO_CTRL(gpio)) = FUNCTION_SIO;
}

/* Before main(), by door_start_rp2040.c: the driver must see "off" before anything else happens. Until then the pins are
 * pulled down by the chip itself. */
void board_first(void)
{
    RP_CLEAR(RESETS_RESET) = RP_BIT(5) | RP_BIT(8); /* pins and pads */
    while ((RP_REG(RESETS_DONE) & (RP_BIT(5) | RP_BIT(8))) != (RP_BIT(5) | RP_BIT(8))) {}
    as_output(DOOR_RAISE_GPIO);
    as_output(DOOR_LOWER_GPIO);
    as_output(DOOR_SPEED_GPIO);
}

/* The chip says power-up of a brown-out too. */
static uint8_t why_started(void)
{
    const uint32_t chip = RP_REG(CHIP_RESET);
    if ((RP_REG(WATCHDOG_REASON) & 1u) != 0u) { return BOARD_HANG; }
    if ((chip & RP_BIT(8)) != 0u) { return BOARD_POWER_UP; }
    return (uint8_t)(((chip & RP_BIT(16)) != 0u) ? BOARD_BUTTON : BOARD_POWER_UP);
}

uint8_t board_reset_cause(void) { return reset_cause; }

static uint32_t now_us(void) { return RP_REG(TIMER_RAWL); }

static void alarm_in(uint32_t alarm, uint32_t after_us) { RP_REG(TIMER_ALARM(alarm)) = now_us() + after_us; }

void drive_pins_off(void)
{
    RP_REG(GPIO_CTRL(DOOR_SPEED_GPIO)) = FUNCTION_SIO; /* first: the speed pin goes back to its level, which is low */
    RP_REG(SIO_OUT_CLR) = RP_BIT(DOOR_RAISE_GPIO) | RP_BIT(DOOR_LOWER_GPIO);
    RP_REG(PWM_CSR(SPEED_SLICE)) = 0u;
}

void drive_pins_on(uint8_t direction, uint8_t duty)
{
#if DOOR_DRIVER == DOOR_DRIVER_DIRECTION
    if (direction == BOARD_RAISE) { RP_REG(SIO_OUT_SET) = RP_BIT(DOOR_RAISE_GPIO); }
#else
    if (direction == BOARD_RAISE) { RP_REG(SIO_OUT_SET) = RP_BIT(DOOR_RAISE_GPIO); }
    if (direction == BOARD_LOWER) { RP_REG(SIO_OUT_SET) = RP_BIT(DOOR_LOWER_GPIO); }
#endif
#if DOOR_DRIVER == DOOR_DRIVER_RELAYS
    (void)duty;
#else
    RP_REG(PWM_DIV(SPEED_SLICE)) = 48ul << 4; /* 980 Hz of 255 steps; a level of 255 is full */
    RP_REG(PWM_TOP(SPEED_SLICE)) = 254u;
    RP_REG(PWM_CC(SPEED_SLICE)) = (uint32_t)duty << (((DOOR_SPEED_GPIO & 1u) != 0u) ? 16u : 0u);
    RP_REG(PWM_CSR(SPEED_SLICE)) = 1u;
    RP_REG(GPIO_CTRL(DOOR_SPEED_GPIO)) = FUNCTION_PWM;
#endif
}

uint8_t drive_end_made(uint8_t direction)
{
    if (direction == BOARD_RAISE) { return (uint8_t)END_MADE(DOOR_TOP_GPIO); }
#if DOOR_CURRENT_FITTED
    return 0u; /* no lower switch */
#else
    return (uint8_t)END_MADE(DOOR_BOTTOM_GPIO);
#endif
}

/* The converter's clock is 48 MHz, made of the crystal's by a PLL that is on while it is needed. */
static uint16_t counts(uint32_t channel)
{
    uint16_t found;
    RP_CLEAR(PLL_USB_PWR) = RP_BIT(0) | RP_BIT(5);
    while ((RP_REG(PLL_USB_CS) & RP_BIT(31)) == 0u) { /* some 0.1 ms until it holds */ }
    RP_CLEAR(PLL_USB_PWR) = RP_BIT(3);
    RP_REG(CLK_ADC_CTRL) = RP_BIT(11);
    RP_REG(ADC_CS) = 1u;
    while ((RP_REG(ADC_CS) & RP_BIT(8)) == 0u) {}
    RP_REG(ADC_CS) = (channel << 12) | RP_BIT(2) | 1u;
    while ((RP_REG(ADC_CS) & RP_BIT(8)) == 0u) {}
    found = (uint16_t)((RP_REG(ADC_RESULT) & 0xFFFu) >> 2);
    RP_REG(ADC_CS) = 0u;
    RP_REG(CLK_ADC_CTRL) = 0u;
    RP_SET(PLL_USB_PWR) = RP_BIT(0) | RP_BIT(3) | RP_BIT(5);
    return found;
}

#if DOOR_CURRENT_FITTED
static volatile uint8_t converting;
uint16_t drive_current_counts(void) { return (uint16_t)((converting != 0u) ? 0u : counts(DOOR_CURRENT_CHANNEL)); }
#endif

static uint8_t ends_made(void)
{
    uint8_t made_now = 0u;
    if (END_MADE(DOOR_TOP_GPIO)) { made_now |= BOARD_TOP; }
#if DOOR_CURRENT_FITTED
    if (drive_at_end_by_current() != 0u) { made_now |= BOARD_BOTTOM; }
#else
    if (END_MADE(DOOR_BOTTOM_GPIO)) { made_now |= BOARD_BOTTOM; }
#endif
    return made_now;
}

/* End switches that say what they said a second ago are believed at once; a change must hold. */
static uint8_t steady_ends(void)
{
    static uint8_t before = 0xFFu;
    const uint8_t first = ends_made();
    const uint32_t began_us = now_us();
    uint8_t held = 1u;
    while ((first != before) && (held != 0u) && ((now_us() - began_us) < (HOLD_MS * MILLISECOND_US))) {
        held = (uint8_t)(ends_made() == first);
    }
    if ((held != 0u) || (before == 0xFFu)) { before = first; }
    return before;
}

uint8_t board_switches(void)
{
    uint8_t made_now = steady_ends();
    if (MADE(DOOR_HAND_UP_GPIO)) { made_now |= BOARD_HAND_UP; }
    if (MADE(DOOR_HAND_DOWN_GPIO)) { made_now |= BOARD_HAND_DOWN; }
    if (MADE(DOOR_KEEP_SHUT_GPIO)) { made_now |= BOARD_KEEP_SHUT; }
    return made_now;
}

static void one_second(void)
{
    if (seconds < 255u) { seconds++; }
}

void irq_pins(void)
{
    const uint8_t high = (uint8_t)((RP_REG(SIO_IN) >> DOOR_PULSE_GPIO) & 1u);
    RP_REG(GPIO_INTR(DOOR_PULSE_GPIO)) = GPIO_EDGES(DOOR_PULSE_GPIO);
    RP_REG(GPIO_INTR(DOOR_TOP_GPIO)) = GPIO_EDGES(DOOR_TOP_GPIO);
    RP_REG(GPIO_INTR(DOOR_BOTTOM_GPIO)) = GPIO_EDGES(DOOR_BOTTOM_GPIO);
    if ((high == 0u) && (pulse_was_high != 0u)) {
        own_seconds = 0u; /* the pulse is there (again): the chip's own seconds are not needed */
        alarm_in(PULSE_ALARM, NO_PULSE_US);
        one_second();
    }
    pulse_was_high = high;
    drive_edge(); /* an end switch cuts the motor here, within microseconds */
}

/* 2 s without a pulse are counted, and from then on the crystal's own seconds. */
void irq_pulse_alarm(void)
{
    RP_REG(TIMER_INTR) = RP_BIT(PULSE_ALARM);
    alarm_in(PULSE_ALARM, SECOND_US);
    one_second();
    if (own_seconds == 0u) { one_second(); }
    own_seconds = 1u;
}

void irq_drive_alarm(void)
{
    RP_REG(TIMER_INTR) = RP_BIT(DRIVE_ALARM);
    if (drive_running() != 0u) { alarm_in(DRIVE_ALARM, MILLISECOND_US); }
    drive_millisecond();
}

void irq_serial(void)
{
    RP_REG(UART_ICR) = RP_BIT(4) | RP_BIT(6);
    while ((RP_REG(UART_FR) & RP_BIT(4)) == 0u) {
        const uint8_t character = (uint8_t)(RP_REG(UART_DR) & 0xFFu);
        const uint8_t next = (uint8_t)((rx_in + 1u) & (RX_SIZE - 1u));
        if (next != rx_out) {
            rx[rx_in] = character;
            rx_in = next;
        }
        pending |= BOARD_SERIAL;
    }
}

/* Whether `n` commands and bytes have gone through the bus by now; 0 if it hangs or nobody answers. */
static uint8_t bus_waits(uint32_t address, uint32_t mask, uint32_t wanted)
{
    const uint32_t began_us = now_us();
    while ((RP_REG(address) & mask) != wanted) {
        if ((RP_REG(I2C_RAW_INTR) & RP_BIT(6)) != 0u) { return 0u; } /* aborted: not acknowledged */
        if ((now_us() - began_us) > BUS_PATIENCE_US) { return 0u; }
    }
    return 1u;
}

static void bus_begin(uint8_t address)
{
    RP_REG(I2C_ENABLE) = 0u; /* a bus that hung starts afresh */
    RP_REG(I2C_CON) = 0x163u; /* master, 100 kHz, restarts, no slave */
    RP_REG(I2C_SS_HCNT) = 46u;
    RP_REG(I2C_SS_LCNT) = 60u;
    RP_REG(I2C_TAR) = (uint32_t)address >> 1;
    RP_REG(I2C_ENABLE) = 1u;
    (void)RP_REG(I2C_CLR_ABRT);
    (void)RP_REG(I2C_CLR_STOP);
}

#define BUS_STOP RP_BIT(9)
#define BUS_READ RP_BIT(8)
#define BUS_RESTART RP_BIT(10)

static uint8_t bus_stopped(void)
{
    return (uint8_t)((bus_waits(I2C_RAW_INTR, RP_BIT(9), RP_BIT(9)) != 0u) && ((RP_REG(I2C_RAW_INTR) & RP_BIT(6)) == 0u));
}

/* At most 10 bytes a time, by this program: less than the controller's 16. */
static uint8_t bus_read(uint32_t restart, uint8_t *values, uint8_t n)
{
    uint8_t i, good;
    for (i = 0u; i < n; i++) {
        RP_REG(I2C_DATA_CMD) = BUS_READ | ((i == 0u) ? restart : 0u) | (((i + 1u) == n) ? BUS_STOP : 0u);
    }
    good = (uint8_t)((bus_waits(I2C_RXFLR, 0x1Fu, n) != 0u) && (bus_stopped() != 0u));
    for (i = 0u; i < n; i++) { values[i] = (uint8_t)((good != 0u) ? (RP_REG(I2C_DATA_CMD) & 0xFFu) : 0u); }
    return good;
}

uint8_t board_bus_put(uint8_t address, uint8_t first, const uint8_t *values, uint8_t n)
{
    uint8_t i;
    bus_begin(address);
    RP_REG(I2C_DATA_CMD) = first | ((n == 0u) ? BUS_STOP : 0u);
    for (i = 0u; i < n; i++) { RP_REG(I2C_DATA_CMD) = values[i] | (((i + 1u) == n) ? BUS_STOP : 0u); }
    return bus_stopped();
}

uint8_t board_bus_next(uint8_t address, uint8_t *values, uint8_t n)
{
    bus_begin(address);
    return bus_read(0u, values, n);
}

uint8_t board_bus_take(uint8_t address, uint8_t first, uint8_t *values, uint8_t n)
{
    bus_begin(address);
    RP_REG(I2C_DATA_CMD) = first;
    return bus_read(BUS_RESTART, values, n);
}

#if DOOR_LUX_SENSOR
uint16_t board_bus_word(uint8_t address, uint8_t order)
{
    uint8_t bytes[2];
    (void)board_bus_next(address, bytes, 2u); /* 0 and 0 if it has not answered */
    (void)board_bus_put((uint8_t)(address & 0xFEu), order, 0, 0u);
    return (uint16_t)(((uint16_t)bytes[0] << 8) | bytes[1]);
}
#endif

static void clocks_start(void)
{
    RP_REG(XOSC_STARTUP) = 47u; /* 1 ms of 12 MHz */
    RP_REG(XOSC_CTRL) = 0xFABAA0ul;
    while ((RP_REG(XOSC_STATUS) & RP_BIT(31)) == 0u) {}
    RP_REG(CLK_REF_CTRL) = 2u;
    while ((RP_REG(CLK_REF_SELECTED) & RP_BIT(2)) == 0u) {}
    RP_CLEAR(CLK_SYS_CTRL) = 1u; /* from clk_ref */
    while ((RP_REG(CLK_SYS_SELECTED) & RP_BIT(0)) == 0u) {}
    RP_REG(CLK_PERI_CTRL) = RP_BIT(11);
    RP_REG(WATCHDOG_TICK) = RP_BIT(9) | (CRYSTAL_HZ / 1000000ul);
}

static void parts_on(void)
{
    const uint32_t parts = RP_BIT(0) | RP_BIT(3) | RP_BIT(13) | RP_BIT(14) | RP_BIT(21) | RP_BIT(22);
    RP_CLEAR(RESETS_RESET) = parts; /* converter, bus, PLL, PWM, timer, serial line */
    while ((RP_REG(RESETS_DONE) & parts) != parts) {}
    RP_REG(PLL_USB_CS) = 1u; /* 12 MHz times 100, by 5 and 5 */
    RP_REG(PLL_USB_FBDIV) = 100u;
    RP_REG(PLL_USB_PRIM) = (5ul << 16) | (5ul << 12);
}

static void serial_start(void)
{
    RP_REG(PAD(RXD)) = PAD_INPUT_UP; /* an unplugged serial line must not float */
    RP_REG(PAD(TXD)) = PAD_OUTPUT;
    RP_REG(GPIO_CTRL(RXD)) = FUNCTION_UART;
    RP_REG(GPIO_CTRL(TXD)) = FUNCTION_UART;
    RP_REG(UART_IBRD) = 78u; /* 12 MHz / 16 / 9600 = 78.125 */
    RP_REG(UART_FBRD) = 8u;
    RP_REG(UART_LCR_H) = 0x70u; /* 8 bits, buffers */
    RP_REG(UART_CR) = 0x301u;
    RP_REG(UART_IMSC) = RP_BIT(4) | RP_BIT(6);
}

static void watch(uint32_t gpio) { RP_SET(GPIO_INTE(gpio)) = GPIO_EDGES(gpio); }

static void watchdog_on(void)
{
    RP_REG(PSM_WDSEL) = 0x1FFFCul; /* all but the oscillators */
    RP_REG(WATCHDOG_LOAD) = 2ul * WATCHDOG_US; /* it counts twice each microsecond (erratum RP2040-E1) */
    RP_REG(WATCHDOG_CTRL) = RP_BIT(30) | RP_BIT(26) | RP_BIT(25) | RP_BIT(24);
}

void board_start(void)
{
    reset_cause = why_started();
    clocks_start();
    parts_on();
    drive_pins_off();
    as_output(DOOR_LAMP_GPIO);
    as_output(DOOR_FEED_GPIO);
    as_input(DOOR_PULSE_GPIO); /* the clock's output is an open drain */
    as_input(DOOR_TOP_GPIO);
    as_input(DOOR_BOTTOM_GPIO);
    as_input(DOOR_HAND_UP_GPIO);
    as_input(DOOR_HAND_DOWN_GPIO);
    as_input(DOOR_KEEP_SHUT_GPIO);
    RP_REG(PAD(26u + DOOR_CELL_CHANNEL)) = PAD_ANALOG;
    RP_REG(PAD(26u + DOOR_BATTERY_CHANNEL)) = PAD_ANALOG;
#if DOOR_CURRENT_FITTED
    RP_REG(PAD(26u + DOOR_CURRENT_CHANNEL)) = PAD_ANALOG;
#endif
    RP_REG(PAD(SDA)) = PAD_INPUT_UP;
    RP_REG(PAD(SCL)) = PAD_INPUT_UP;
    RP_REG(GPIO_CTRL(SDA)) = FUNCTION_I2C;
    RP_REG(GPIO_CTRL(SCL)) = FUNCTION_I2C;
    serial_start();
    door_flash_start();
    pulse_was_high = (uint8_t)((RP_REG(SIO_IN) >> DOOR_PULSE_GPIO) & 1u);
    watch(DOOR_PULSE_GPIO);
    watch(DOOR_TOP_GPIO);
    watch(DOOR_BOTTOM_GPIO);
    RP_REG(TIMER_INTE) = RP_BIT(PULSE_ALARM) | RP_BIT(DRIVE_ALARM);
    RP_REG(NVIC_ISER) = RP_BIT(PULSE_ALARM) | RP_BIT(DRIVE_ALARM) | RP_BIT(13) | RP_BIT(20);
    alarm_in(PULSE_ALARM, NO_PULSE_US);
    watchdog_on();
    interrupts_on();
}

/* With interrupts off one that comes still ends WFI, and is served when they are on again: none slips in between the
 * look at `pending` and the sleep. */
uint8_t board_wait(void)
{
    uint8_t woke;
    if (drive_running() == 0u) { door_flash_rest(); }
    interrupts_off();
    if (rx_in != rx_out) { pending |= BOARD_SERIAL; } /* what is left of a burst of lines, a line at a time */
    while ((pending == 0u) && (seconds == 0u)) {
        __asm__ volatile("wfi" ::: "memory");
        interrupts_on();
        __asm__ volatile("isb" ::: "memory");
        interrupts_off();
    }
    woke = pending;
    pending = 0u;
    if (seconds != 0u) { /* one at a time: none is lost if a step ever takes longer */
        seconds--;
        woke |= BOARD_SECOND;
        if (own_seconds != 0u) { woke |= BOARD_NO_PULSE; }
    }
    RP_REG(WATCHDOG_LOAD) = 2ul * WATCHDOG_US;
    interrupts_on();
    return woke;
}

uint16_t board_light_counts(void)
{
    uint16_t light;
    RP_REG(SIO_OUT_SET) = RP_BIT(DOOR_FEED_GPIO); /* the divider draws current only while it is measured */
#if DOOR_LUX_SENSOR
    light = sensor_lux();
#else
#if DOOR_CURRENT_FITTED
    converting = 1u;
#endif
    light = counts(DOOR_CELL_CHANNEL);
#if DOOR_CURRENT_FITTED
    converting = 0u;
#endif
#endif
    RP_REG(SIO_OUT_CLR) = RP_BIT(DOOR_FEED_GPIO);
    return light;
}

uint16_t board_battery_counts(void) { return counts(DOOR_BATTERY_CHANNEL); }

void board_motor(uint8_t direction, uint8_t duty)
{
    interrupts_off();
    drive_to(direction, duty);
    if (drive_running() != 0u) { alarm_in(DRIVE_ALARM, MILLISECOND_US); }
    interrupts_on();
}

void board_alarm_lamp(uint8_t on) { RP_REG((on != 0u) ? SIO_OUT_SET : SIO_OUT_CLR) = RP_BIT(DOOR_LAMP_GPIO); }

void board_put(char character)
{
    while ((RP_REG(UART_FR) & RP_BIT(5)) != 0u) { /* its buffer of 32 is full */ }
    RP_REG(UART_DR) = (uint8_t)character;
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

uint8_t board_kept(uint16_t address) { return door_flash_kept(address); }

/* Written when it returns, so there is no end to tell of. */
uint8_t board_keep(uint16_t address, uint8_t value)
{
    door_flash_keep(address, value);
    return 0u;
}
