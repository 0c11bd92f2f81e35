/* door_chip_atmega32u4.h - the names are explained in door_chip_atmega328p.h.
 * Registers: avr-libc's iom32u4.h; its rules as those of the ATmega328P. The serial line is the one on PD2 and PD3: the
 * program does not speak on USB, and switches it off. */
#define CHIP_SERIAL 1
#define CHIP_RX_vect USART1_RX_vect
#define CHIP_UDRE_vect USART1_UDRE_vect
#define CHIP_RXD_PORT PORTD
#define CHIP_RXD_PIN PIND
#define CHIP_RXD_BIT PD2
#define CHIP_PCINT0_PIN PINB
#define CHIP_START_BIT_vect INT2_vect /* PD2 has no pin change; the edges of INT0 to INT3 need no clock */

static inline void chip_watch(void)
{
    PCMSK0 = DOOR_WATCHED_B;
    PCICR = BIT(PCIE0);
    EICRA = BIT(ISC21); /* the falling edge */
    EIFR = BIT(INTF2);
    EIMSK = BIT(INT2);
}

static inline void chip_start(void)
{
    MCUCR = BIT(JTD); /* JTAG, on by the factory's fuse, has PF4 to PF7; */
    MCUCR = BIT(JTD); /* written twice within four cycles, it leaves them */
    USBCON = BIT(FRZCLK);
    PLLCSR = 0u;
    PORTB = (uint8_t)(PORTB | BIT(PB0)); /* led out nowhere */
    PORTD = (uint8_t)(PORTD | BIT(PD5));
    PORTE = (uint8_t)(PORTE | BIT(PE2));
    PRR0 = BIT(PRSPI);
    PRR1 = (uint8_t)(BIT(PRUSB) | BIT(PRTIM4) | BIT(PRTIM3));
}
