/* door_chip_atmega2560.h - the names are explained in door_chip_atmega328p.h.
 * Registers: avr-libc's iom2560.h; its rules as those of the ATmega328P. */
#define CHIP_SERIAL 0
#define CHIP_RX_vect USART0_RX_vect
#define CHIP_UDRE_vect USART0_UDRE_vect
#define CHIP_RXD_PORT PORTE
#define CHIP_RXD_PIN PINE
#define CHIP_RXD_BIT PE0
#define CHIP_PCINT0_PIN PINB
#define CHIP_PCINT1_PIN PINE /* its bit 0; the others are port J's */

static inline void chip_watch(void)
{
    PCMSK0 = DOOR_WATCHED_B;
    PCMSK1 = BIT(PCINT8);
    PCICR = (uint8_t)(BIT(PCIE0) | BIT(PCIE1));
}

static inline void chip_start(void)
{
    MCUCR = BIT(JTD); /* JTAG, on by the factory's fuse, has PF4 to PF7; */
    MCUCR = BIT(JTD); /* written twice within four cycles, it leaves them */
    PORTE = (uint8_t)(PORTE | BIT(PE2) | BIT(PE6) | BIT(PE7)); /* led out nowhere, or left out */
    PORTD = (uint8_t)(PORTD | BIT(PD4) | BIT(PD5) | BIT(PD6));
    PORTG = (uint8_t)(PORTG | BIT(PG3) | BIT(PG4));
    PORTH = 0xFFu;
    PORTJ = 0xFFu;
    PORTK = 0xFFu;
    PORTL = 0xFFu;
    PRR0 = (uint8_t)(BIT(PRSPI) | BIT(PRTIM2));
    PRR1 = (uint8_t)(BIT(PRTIM5) | BIT(PRTIM4) | BIT(PRTIM3) | BIT(PRUSART3) | BIT(PRUSART2) | BIT(PRUSART1));
}
