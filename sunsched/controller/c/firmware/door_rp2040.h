/* door_rp2040.h - the registers of the RP2040 that the door program uses: RP2040 data sheet (Raspberry Pi), by its
 * names. A register written at RP_SET has the bits given set, at RP_CLEAR cleared, by itself. */
#ifndef DOOR_RP2040_H
#define DOOR_RP2040_H

#include <stdint.h>

#define RP_REG(address) (*(volatile uint32_t *)(uintptr_t)(address))
#define RP_SET(address) RP_REG((address) + 0x2000u)
#define RP_CLEAR(address) RP_REG((address) + 0x3000u)
#define RP_BIT(n) (1ul << (n))

#define CLK_REF_CTRL 0x40008030ul
#define CLK_REF_SELECTED 0x40008038ul
#define CLK_SYS_CTRL 0x4000803Cul
#define CLK_SYS_SELECTED 0x40008044ul
#define CLK_PERI_CTRL 0x40008048ul
#define CLK_ADC_CTRL 0x40008060ul
#define RESETS_RESET 0x4000C000ul
#define RESETS_DONE 0x4000C008ul
#define PSM_WDSEL 0x40010008ul
#define GPIO_CTRL(n) (0x40014004ul + (8ul * (n)))
#define GPIO_INTR(n) (0x400140F0ul + (4ul * ((n) / 8u)))
#define GPIO_INTE(n) (0x40014100ul + (4ul * ((n) / 8u)))
#define GPIO_EDGES(n) (12ul << (4u * ((n) % 8u)))
#define PAD(n) (0x4001C004ul + (4ul * (n)))
#define XOSC_CTRL 0x40024000ul
#define XOSC_STATUS 0x40024004ul
#define XOSC_STARTUP 0x4002400Cul
#define PLL_USB_CS 0x4002C000ul
#define PLL_USB_PWR 0x4002C004ul
#define PLL_USB_FBDIV 0x4002C008ul
#define PLL_USB_PRIM 0x4002C00Cul
#define UART_DR 0x40034000ul
#define UART_FR 0x40034018ul
#define UART_IBRD 0x40034024ul
#define UART_FBRD 0x40034028ul
#define UART_LCR_H 0x4003402Cul
#define UART_CR 0x40034030ul
#define UART_IMSC 0x40034038ul
#define UART_ICR 0x40034044ul
#define I2C_CON 0x40044000ul
#define I2C_TAR 0x40044004ul
#define I2C_DATA_CMD 0x40044010ul
#define I2C_SS_HCNT 0x40044014ul
#define I2C_SS_LCNT 0x40044018ul
#define I2C_RAW_INTR 0x40044034ul
#define I2C_CLR_ABRT 0x40044054ul
#define I2C_CLR_STOP 0x40044060ul
#define I2C_ENABLE 0x4004406Cul
#define I2C_RXFLR 0x40044078ul
#define ADC_CS 0x4004C000ul
#define ADC_RESULT 0x4004C004ul
#define PWM_CSR(slice) (0x40050000ul + (0x14ul * (slice)))
#define PWM_DIV(slice) (0x40050004ul + (0x14ul * (slice)))
#define PWM_CC(slice) (0x4005000Cul + (0x14ul * (slice)))
#define PWM_TOP(slice) (0x40050010ul + (0x14ul * (slice)))
#define TIMER_RAWL 0x40054028ul
#define TIMER_ALARM(n) (0x40054010ul + (4ul * (n)))
#define TIMER_ARMED 0x40054020ul
#define TIMER_INTR 0x40054034ul
#define TIMER_INTE 0x40054038ul
#define WATCHDOG_CTRL 0x40058000ul
#define WATCHDOG_LOAD 0x40058004ul
#define WATCHDOG_REASON 0x40058008ul
#define WATCHDOG_TICK 0x4005802Cul
#define CHIP_RESET 0x40064008ul
#define SIO_IN 0xD0000004ul
#define SIO_OUT_SET 0xD0000014ul
#define SIO_OUT_CLR 0xD0000018ul
#define SIO_OE_SET 0xD0000024ul
#define NVIC_ISER 0xE000E100ul

#define FUNCTION_UART 2ul
#define FUNCTION_I2C 3ul
#define FUNCTION_PWM 4ul
#define FUNCTION_SIO 5ul

#define PAD_INPUT_UP 0x4Aul /* input, pull-up, Schmitt trigger */
#define PAD_INPUT 0x42ul
#define PAD_OUTPUT 0x52ul   /* 4 mA; its input stays on, so that its level can be read */
#define PAD_ANALOG 0x80ul   /* neither input nor output */

#define CRYSTAL_HZ 12000000ul

#endif
