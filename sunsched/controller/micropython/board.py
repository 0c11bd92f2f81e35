"""The board's pins, converter, PWM and watchdog, by MicroPython's `machine`; the same for both boards.

The pins stand 3.3 V: the clock chip's pull-ups, the cell's divider and the driver's inputs are fed from 3.3 V. The
driver must see "off" while the board starts: its inputs need pull-down resistors.
"""

import time

import door_site as own
import machine

UP, DOWN = 1, 2
HOLD_MS = 10  # a switch counts when it has held this long: contacts bounce for less (common practice)
OPEN_MS = 250 if own.DRIVER == "relays" else 20  # open again for this long: a glitch, the run goes on
STEP_MS = 2
PWM_HZ = 1000
SENSOR, MEASURE_ONCE, MOST_LUX = 0x23, b"\x20", 32_766  # a BH1750FVI (ROHM's technical note 2009.04)


class Board:
    """What the program asks of its board."""

    def __init__(self) -> None:
        """The motor off first, then the rest."""
        self.raising = machine.Pin(own.RAISE_MOTOR, machine.Pin.OUT, value=0)
        self.lowering = None if own.LOWER_MOTOR is None else machine.Pin(own.LOWER_MOTOR, machine.Pin.OUT, value=0)
        self.speed = None
        if own.DRIVER != "relays":
            self.speed = machine.PWM(machine.Pin(own.MOTOR_SPEED, machine.Pin.OUT, value=0), freq=PWM_HZ, duty_u16=0)
        self.top, self.bottom, self.up, self.down, self.shut = [
            machine.Pin(pin, machine.Pin.IN, machine.Pin.PULL_UP)
            for pin in (own.TOP_SWITCH, own.BOTTOM_SWITCH, own.HAND_UP, own.HAND_DOWN, own.KEEP_SHUT)
        ]
        self.light = machine.Pin(own.CELL_FEED, machine.Pin.OUT, value=0)
        self.cell = machine.ADC(machine.Pin(own.LIGHT_CELL))
        self.volts = machine.ADC(machine.Pin(own.BATTERY))
        self.led = machine.Pin(own.ALARM_LAMP, machine.Pin.OUT, value=0)
        self.bus = None
        if own.BUS:
            self.bus = machine.I2C(0, sda=machine.Pin(own.SDA), scl=machine.Pin(own.SCL), freq=100_000)
        causes = {machine.PWRON_RESET: 1, machine.WDT_RESET: 8}
        for name, bit in (("HARD_RESET", 2), ("BROWNOUT_RESET", 4)):
            if hasattr(machine, name):
                causes[getattr(machine, name)] = bit
        self.reset_cause = causes.get(machine.reset_cause(), 0)
        self.drive = self.duty = self.open_ms = 0
        self.cut = self.was_open = False
        self.steady = self._ends()
        for pin in (self.top, self.bottom):  # the end switch cuts the motor at once, between steps too
            pin.irq(lambda _pin: self._edge(), machine.Pin.IRQ_FALLING | machine.Pin.IRQ_RISING)
        self.watchdog = machine.WDT(timeout=8000)

    def alive(self) -> None:
        """Tell the watchdog that the program goes on: without this for 8 s the board starts again, the motor off."""
        self.watchdog.feed()

    def between_steps(self, left_ms: int) -> None:
        """A few milliseconds of a run: a motor that a glitch has cut goes on when the switch has been open for a while.

        left_ms   to the next step; at rest all of it is slept
        """
        if self.drive:
            self._edge()
            if self.cut and not self._end_made(self.drive):
                self.open_ms += STEP_MS
                if self.open_ms >= OPEN_MS:
                    self.cut, self.open_ms = False, 0
                    self._pins_on(self.drive, self.duty)
        time.sleep_ms(min(STEP_MS, left_ms) if self.drive else left_ms)

    def switches(self) -> tuple[int, int, int, int, int]:
        """Top, bottom, hand up, hand down, keep shut; 1 is made. Ends that change count when they have held."""
        now = self._ends()
        if now != self.steady:
            held_ms = 0
            while held_ms < HOLD_MS and self._ends() == now:
                time.sleep_ms(1)
                held_ms += 1
            if held_ms == HOLD_MS:
                self.steady = now
        top, bottom = self.steady
        return top, bottom, 1 - self.up.value(), 1 - self.down.value(), 1 - self.shut.value()

    def light_counts(self) -> int:
        """The cell, converter counts 0 to 1023, fed only while it is measured; or lux. A silent sensor reads dark."""
        if own.LUX_SENSOR:
            return self._lux()
        self.light.value(1)
        time.sleep_ms(1)
        counts = self.cell.read_u16() >> 6
        self.light.value(0)
        return counts

    def battery_level(self) -> int:
        """The battery at rest: good 0, low 1, spent 2."""
        if own.BATTERY_LOW_COUNTS is None:
            return 0
        counts = self.volts.read_u16() >> 6
        return 2 if counts < own.BATTERY_SPENT_COUNTS else 1 if counts < own.BATTERY_LOW_COUNTS else 0

    def motor(self, drive: int, duty: int) -> None:
        """Halt 0, up 1, down 2, at a duty of 255. A run is never turned into one of the other direction."""
        if drive == self.drive:
            return
        self._pins_off()
        if self.drive and drive:
            drive = 0
        self.drive, self.duty, self.cut, self.open_ms = drive, duty, False, 0
        if drive:
            # A switch that was made from the start proves nothing: the decision then ends the run by time.
            self.was_open = not self._end_made(drive)
            self._pins_on(drive, duty)

    def lamp(self, on: int) -> None:
        """The alarm lamp."""
        self.led.value(on)

    def _lux(self) -> int:
        lux = 0
        try:
            raw = self.bus.readfrom(SENSOR, 2)
            lux = (raw[0] << 8 | raw[1]) * 5 // 6
            self.bus.writeto(SENSOR, MEASURE_ONCE)
        except OSError:
            pass
        return min(lux, MOST_LUX)

    def _made(self, pin) -> int:
        # A made switch pulls its pin to ground; one that is closed at rest lets it rise, as a broken wire does.
        return pin.value() if own.SWITCHES_CLOSED else 1 - pin.value()

    def _ends(self) -> tuple[int, int]:
        return self._made(self.top), self._made(self.bottom)

    def _end_made(self, drive: int) -> int:
        return self._made(self.top if drive == UP else self.bottom)

    def _edge(self) -> None:
        """An end switch has changed, or may have."""
        if not self.drive:
            return
        if not self._end_made(self.drive):
            self.was_open = True
        else:
            self.open_ms = 0
            if self.was_open and not self.cut:
                self._pins_off()
                self.cut = True

    def _pins_off(self) -> None:
        if self.speed is not None:
            self.speed.duty_u16(0)
        self.raising.value(0)
        if self.lowering is not None:
            self.lowering.value(0)

    def _pins_on(self, drive: int, duty: int) -> None:
        if drive == UP:
            self.raising.value(1)
        elif self.lowering is not None:
            self.lowering.value(1)
        if self.speed is not None:
            self.speed.duty_u16(duty * 257)
