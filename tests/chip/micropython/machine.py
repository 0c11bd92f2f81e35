# A board for the program's own board.py: pins with levels, converters, PWM, a DS3231 on the bus, a plate on its cord.
# Registers of the DS3231: shared with the other emulated chips' page; figures of the door are invented.
import world

PWRON_RESET, HARD_RESET, WDT_RESET = 1, 2, 3


def reset_cause():
    return PWRON_RESET


class Pin:
    IN, OUT, PULL_UP, IRQ_FALLING, IRQ_RISING = 0, 1, 2, 4, 8

    def __init__(self, number, mode=None, pull=None, value=None):
        self.number = number
        if value is not None:
            world.levels[number] = value

    def value(self, level=None):
        if level is None:
            return world.level_of(self.number)
        world.levels[self.number] = level
        world.driven()

    def irq(self, handler, trigger):
        world.handlers[self.number] = (handler, self)


class PWM:
    def __init__(self, pin, freq, duty_u16):
        self.number = pin.number
        world.duty[self.number] = duty_u16

    def duty_u16(self, duty):
        world.duty[self.number] = duty
        world.driven()


class ADC:
    def __init__(self, pin):
        self.number = pin.number

    def read_u16(self):
        return world.converted(self.number) << 6


class I2C:
    def __init__(self, number, sda, scl, freq):
        pass

    def readfrom_mem(self, address, register, count):
        return world.clock_bytes(address, register, count)

    def writeto_mem(self, address, register, values):
        world.clock_written(address, register, values)


class WDT:
    def __init__(self, timeout):
        world.watchdog_ms = timeout

    def feed(self):
        world.fed()
