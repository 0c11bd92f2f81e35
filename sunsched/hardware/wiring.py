"""What is wired to which pin: only what one configuration uses.

The sketch's notes, the wiring picture and the list of parts all use it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from sunsched.hardware.boards import Board
from sunsched.hardware.pins import Pins

# Supply of the pins [V] -> the battery's divider [kohm], upper and lower: below the supply up to 20 V, as on charge.
BATTERY_DIVIDERS = {5.0: (300, 100), 3.3: (560, 100)}
Clock = Literal["rtc", "crystal", "none"]
PULL_DOWN = "pull-down 10 kohm: pins float until the program starts"


@dataclass(frozen=True, slots=True)
class Fitted:
    """What is built onto the board, beside buttons, switches and lamp.

    clock, clock_chip   what keeps the time, and that chip's name where it is one
    lux_sensor   a digital sensor on the bus in place of a light cell
    battery   whether the program watches the battery
    driver   "two_inputs" with a speed input, "direction" with a speed input, or two "relays" without one
    switches   the end switches: "normally_open" or "normally_closed"
    end_by_current   a shunt shows the lower end; there is no lower switch
    short_shows   whether the light cell's divider shows a shorted cell by day
    supply_v   of the board's pins [V]
    serial_by_usb   whether the serial line leads to the board's USB socket
    pwm_khz   of the speed pin, about [kHz]
    """

    clock: Clock = "rtc"
    clock_chip: str = "ds3231"
    lux_sensor: bool = False
    battery: bool = False
    driver: str = "two_inputs"
    switches: str = "normally_open"
    end_by_current: bool = False
    short_shows: bool = True
    supply_v: float = 5.0
    serial_by_usb: bool = True
    pwm_khz: float = 1.0

    @property
    def bus(self) -> bool:
        """Whether anything is on the two-wire bus."""
        return self.clock == "rtc" or self.lux_sensor


@dataclass(frozen=True, slots=True)
class Wire:
    """One wire: the pin by the chip's name and as printed, the part it leads to, and a note on it."""

    key: str
    pin: str
    printed: str
    part: str
    what: str


def wires(board: Board, pins: Pins, fitted: Fitted) -> tuple[Wire, ...]:
    """Every wire of a configuration, part by part; what it does not use is left out."""
    places = pins.model_dump(exclude_none=True)
    found = []
    for key, part, what in _rows(fitted):
        if key not in places and key not in board.own_pins:
            continue
        pin, printed = board.own_pins[key] if key in board.own_pins else (places[key], board.pins[places[key]])
        found.append(Wire(key, pin, printed, part, what))
    return tuple(found)


Row = tuple[str, str, str]
# What to know of each clock chip's module: makers' data sheets, from memory.
CLOCK_CHIPS = {
    "ds3231": "3.3 to 5 V",
    "ds1307": "5 V; a lost backup cell shows only as a halted clock",
    "pcf8523": "it says when its backup cell is low",
    "pcf8563": "no backup switch of its own: the module's diode and cell",
}


def _rows(fitted: Fitted) -> Iterator[Row]:
    yield from _clock(fitted)
    yield from _light(fitted)
    yield from _switches(fitted)
    yield from _hand()
    yield from _outputs(fitted)


def _clock(fitted: Fitted) -> Iterator[Row]:
    name = fitted.clock_chip.upper()
    if fitted.clock == "rtc":  # a board that counts its own seconds has no pin for the pulse
        yield "pulse", "clock chip", f"1 Hz output of the {name} (open drain; the board's own pull-up serves)"
    if fitted.bus:
        part = "clock chip" if fitted.clock == "rtc" else "light sensor"
        also = ", and of the light sensor" if fitted.clock == "rtc" and fitted.lux_sensor else ""
        yield "sda", part, f"data of the bus{also}; one pull-up of 4.7 kohm to {fitted.supply_v:g} V"
        yield "scl", part, f"clock of the bus{also}; one pull-up of 4.7 kohm to {fitted.supply_v:g} V"


def _light(fitted: Fitted) -> Iterator[Row]:
    if not fitted.lux_sensor:
        yield "cell_feed", "light cell", "feeds the divider while it is measured"
        yield "light_cell", "light cell", "between the cell (from the feed) and its fixed resistor (to ground)"
    if fitted.battery:
        upper, lower = BATTERY_DIVIDERS[fitted.supply_v]
        middle = f"between {upper} kohm (from the battery's positive) and {lower} kohm with 100 nF (to ground)"
        yield "battery", "battery divider", middle


def _switches(fitted: Fitted) -> Iterator[Row]:
    opens = fitted.switches == "normally_closed"
    for key, where, end in (("top_switch", "top switch", "up"), ("bottom_switch", "bottom switch", "down")):
        if key == "bottom_switch" and fitted.end_by_current:
            continue
        made = f"opens when the door is {end}; a broken wire reads as made" if opens else f"made when the door is {end}"
        yield key, where, f"{fitted.switches.replace('_', ' ')}: {made}; to ground"
    if fitted.end_by_current:
        shunt = "shunt in the driver's ground, through 10 kohm and 1 uF to ground: the motor's mean current"
        yield "motor_current", "motor current", shunt


def _hand() -> Iterator[Row]:
    yield "hand_up", "hand switches", "push-button, raise; to ground; hold for three seconds"
    yield "hand_down", "hand switches", "push-button, lower; to ground"
    yield "keep_shut", "hand switches", "switch, keeps a lowered door down; to ground"


def _outputs(fitted: Fitted) -> Iterator[Row]:
    if fitted.driver == "relays":
        rest = "its motor wire to ground at rest, to the supply when on"
        yield "raise_motor", "relays", f"relay that raises, through a transistor; {rest}; {PULL_DOWN}"
        yield "lower_motor", "relays", f"relay that lowers, the same; {PULL_DOWN}"
    elif fitted.driver == "direction":
        yield "raise_motor", "motor driver", f"direction: high raises; {PULL_DOWN}"
        yield "motor_speed", "motor driver", f"PWM of about {fitted.pwm_khz:g} kHz; {PULL_DOWN}"
    else:
        yield "raise_motor", "motor driver", f"raise; {PULL_DOWN}"
        yield "lower_motor", "motor driver", f"lower; {PULL_DOWN}"
        yield "motor_speed", "motor driver", f"enable, PWM of about {fitted.pwm_khz:g} kHz; {PULL_DOWN}"
    yield "alarm_lamp", "alarm lamp", "blinks while an alarm stands (the board's own LED, or one with 1 kohm)"
    by = "the board's USB" if fitted.serial_by_usb else f"a USB to serial adapter for {fitted.supply_v:g} V"
    yield "rxd", "serial line", f"from the computer, 9600 baud ({by})"
    yield "txd", "serial line", "to the computer"


def clock_note(fitted: Fitted) -> str:
    """What keeps the time, in a sentence for the notes."""
    if fitted.clock == "rtc":
        about = CLOCK_CHIPS.get(fitted.clock_chip, "")
        return f"The time: a clock chip with {fitted.clock_chip.upper()} registers ({about}) and a cell of its own."
    if fitted.clock == "crystal":
        return "The time: the board's crystal; there is no clock chip, and the time is lost at each power cut."
    return "The time: no clock; the program counts seconds by its crystal and learns the hour from the light."


def short_note(fitted: Fitted) -> str:
    """The note on a divider that cannot show a shorted cell by day; empty where it can."""
    if fitted.lux_sensor or fitted.short_shows:
        return ""
    return (
        "This divider reads full Sun as it reads a shorted cell: a short is noticed at night only. A smaller fixed "
        "resistor would show it by day as well."
    )
