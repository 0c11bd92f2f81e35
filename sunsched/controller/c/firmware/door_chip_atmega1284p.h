/* door_chip_atmega1284p.h - of the ATmega1284P and the ATmega644P; the names are explained in door_chip_atmega328p.h.
 * Registers: avr-libc's iom1284p.h and iom644p.h; their rules as those of the ATmega328P. */
#define CHIP_SERIAL 0
#define CHIP_RX_vect USART0_RX_vect
#define CHIP_UDRE_vect USART0_UDRE_vect
#define CHIP_RXD_PORT PORTD
#define CHIP_RXD_PIN PIND
#define CHIP_RXD_BIT PD0
#define CHIP_PCINT0_PIN PINA
#define CHIP_PCINT1_PIN PINB
#define CHIP_PCINT2_PIN PINC
#define CHIP_PCINT3_PIN PIND

static inline void chip_watch(void)
{
    PCMSK0 = DOOR_WATCHED_A;
    PCMSK1 = DOOR_WATCHED_B;
    PCMSK2 = DOOR_WATCHED_C;
    PCMSK3 = (uint8_t)(DOOR_WATCHED_D | BIT(CHIP_RXD_BIT));
    PCICR = (uint8_t)(BIT(PCIE0) | BIT(PCIE1) | BIT(PCIE2) | BIT(PCIE3));
}

static inline void chip_start(void)
{
    MCUCR = BIT(JTD); /* JTAG, on by the factory's fuse, has PC2 to PC5; */
    MCUCR = BIT(JTD); /* written twice within four cycles, it leaves them */
    PRR0 = (uint8_t)(BIT(PRSPI) | BIT(PRTIM2) | BIT(PRUSART1));
#ifdef PRR1 /* the ATmega644P has no timer 3 */
    PRR1 = BIT(PRTIM3);
#endif
}
