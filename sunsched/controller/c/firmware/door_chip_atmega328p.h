/* door_chip_atmega328p.h - what door_board_avr.c has to know of this chip: its serial line, the pins that wake it, and
 * what is set at start. Another chip is another such file with the same names:
 *
 * CHIP_SERIAL                 number of the serial line in its registers' names
 * CHIP_RX_vect, CHIP_UDRE_vect    its interrupts: a character has come, there is room for the next
 * CHIP_RXD_PORT, _PIN, _BIT   its receiving pin
 * CHIP_PCINTn_PIN             input register of each port whose pin-change interrupt n is used; number 0 must be
 * CHIP_START_BIT_vect         the interrupt of the receiving pin, where that is no pin change
 * chip_watch()                the pins of those interrupts; DOOR_WATCHED_x are the pulse's and end switches' bits
 * chip_start()                parts of the chip that are not used are switched off, pins that no board leads out too
 *
 * Registers: ATmega328P, data sheet DS40002061 (Microchip). Timers 0 and 1, converter, two-wire bus, EEPROM, watchdog and
 * sleep are the same on every chip of this family. */
#define CHIP_SERIAL 0
#define CHIP_RX_vect USART_RX_vect
#define CHIP_UDRE_vect USART_UDRE_vect
#define CHIP_RXD_PORT PORTD
#define CHIP_RXD_PIN PIND
#define CHIP_RXD_BIT PD0
#define CHIP_PCINT0_PIN PINB
#define CHIP_PCINT1_PIN PINC
#define CHIP_PCINT2_PIN PIND

static inline void chip_watch(void)
{
    PCMSK0 = DOOR_WATCHED_B;
    PCMSK1 = DOOR_WATCHED_C;
    PCMSK2 = (uint8_t)(DOOR_WATCHED_D | BIT(CHIP_RXD_BIT));
    PCICR = (uint8_t)(BIT(PCIE0) | BIT(PCIE1) | BIT(PCIE2));
}

static inline void chip_start(void) { PRR = (uint8_t)(BIT(PRSPI) | BIT(PRTIM2)); }
