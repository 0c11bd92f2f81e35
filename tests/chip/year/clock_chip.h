/* clock_chip.h - a model of a real-time clock with DS3231 registers (its datasheet): time in BCD, control at 0Eh,
 * status at 0Fh with the mark that the oscillator has stopped; the 1 Hz output falls as the second changes. */
#ifndef CLOCK_CHIP_H
#define CLOCK_CHIP_H
#include <stdint.h>

#define CLOCK_CHIP_NO_OUTPUT 0x1Cu /* the control register at power-on */

typedef struct {
    int64_t seconds;     /* since 2000-01-01 00:00:00, what the registers show */
    uint8_t status;      /* bit 7: the oscillator has stopped since it was set */
    uint8_t control;
    uint8_t pointer, pointed; /* register the next byte goes to or comes from; whether this write has named it */
    uint8_t halted;      /* the second no longer moves, nor does the output */
    uint8_t absent;      /* does not answer on the bus */
    uint8_t staged[7], touched;
} clock_chip;

void clock_chip_set(clock_chip *clock, int64_t seconds);
void clock_chip_tick(clock_chip *clock);
void clock_chip_begin(clock_chip *clock, int reading);
void clock_chip_put(clock_chip *clock, uint8_t value);
uint8_t clock_chip_take(clock_chip *clock);
void clock_chip_end(clock_chip *clock);
int clock_chip_pulses(const clock_chip *clock);
#endif
