"""The program folder's Makefile, and its sketch with wiring notes and cautions."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from sunsched.emit.c_header import clock_words
from sunsched.emit.c_text import comment_block
from sunsched.emit.stamp import Stamp
from sunsched.hardware.pins import BOARD_NAMES, Pins
from sunsched.plan.year import YearPlan

CAUTIONS = (
    "This program advises a motor by sums; it certifies nothing. Local codes, makers' data and licensed",
    "electricians prevail.",
    "- Look at birds and door every day; a log read from afar is not a look. Count the birds after closing until",
    "  the setting is proven, and give stragglers a refuge. Birds locked in need water and air.",
    "- Fit end switches that also cut their own direction in hardware. Keep fingers clear of the door.",
    "- Isolate the battery before clearing a jam, and support the plate: a cord that lets go drops it.",
    "- A fuse at the battery's positive terminal. Lead-acid: ventilated housing, no sparks (hydrogen), never charge",
    "  it frozen. Decide what the door does when the battery disconnects.",
    "- A charger on the mains: residual-current protection, outdoor-rated enclosure, licensed wiring.",
)
_WIRING = (
    ("pulse", "clock chip's 1 Hz output (open drain; the chip's own pull-up serves)"),
    ("raise_motor", "motor driver: raise. Pull-down 10 kohm: pins float until the program starts"),
    ("lower_motor", "motor driver: lower. Pull-down 10 kohm"),
    ("motor_speed", "motor driver: enable, PWM of about 1 kHz. Pull-down 10 kohm"),
    ("top_switch", "end switch, made when the door is up; to ground"),
    ("bottom_switch", "end switch, made when the door is down; to ground"),
    ("hand_up", "push-button, raise; to ground; hold for a second"),
    ("hand_down", "push-button, lower; to ground"),
    ("keep_shut", "switch, keeps a lowered door down; to ground"),
    ("alarm_lamp", "lamp, blinks while an alarm stands (the board's own LED)"),
    ("cell_feed", "feeds the light cell's divider while it is measured"),
    ("light_cell", "between the light cell (from cell_feed) and its fixed resistor (to ground)"),
    ("battery", "between 300 kohm (from the battery's positive) and 100 kohm (to ground), 100 nF across it"),
)
_DRIVERS = {
    "two_inputs": {},
    "direction": {
        "raise_motor": "motor driver: direction, high raises. Pull-down 10 kohm",
        "lower_motor": "stays low; leave it open",
        "motor_speed": "motor driver: PWM of about 1 kHz. Pull-down 10 kohm: pins float until the program starts",
    },
    "relays": {
        "raise_motor": "relay that raises, through a transistor and with a diode across its coil. Pull-down 10 kohm",
        "lower_motor": "relay that lowers, the same. Wire each relay's motor wire to ground at rest, to supply when on",
        "motor_speed": "stays low; leave it open: relays know no speed, the door lowers as fast as it is raised",
    },
}
_CLOSED_SWITCH = "end switch, opens when the door is {place}; to ground. A broken wire reads as made, and stops"
_CURRENT = "shunt in the driver's ground, through 10 kohm and 1 uF to ground: the motor's mean current"
_CHIPS = {
    "ds3231": "DS3231 registers (3.3 to 5 V)",
    "ds1307": "DS1307 registers (5 V; a lost backup cell shows only as a halted clock)",
    "pcf8523": "PCF8523 registers (says when its backup cell is low)",
    "pcf8563": "PCF8563 registers (no backup switch of its own: the module's diode and cell)",
}
_CLOCKS = {
    "rtc": "A clock chip with {chip}: SDA to PC4 (A4), SCL to PC5 (A5), pull-ups 4.7 kohm, its own cell.",
    "crystal": "No clock chip: the time comes from the board's crystal and is lost at each power cut.",
    "none": "No clock: the program counts seconds by its crystal and learns the hour from the light.",
}


@dataclass(frozen=True, slots=True)
class Parts:
    """What is fitted, as the wiring notes tell it."""

    clock: str
    clock_chip: str
    lux_sensor: bool
    driver: str
    switches: str
    end_by_current: bool
    short_shows: bool


def _wiring(pins: Pins, parts: Parts) -> Iterator[tuple[str, str]]:
    """Pin and words of each thing to be wired."""
    for key, words in _WIRING:
        if key == "bottom_switch" and parts.end_by_current:
            words = "stays open: the motor's current tells the lower end"
        elif key in ("top_switch", "bottom_switch") and parts.switches == "normally_closed":
            words = _CLOSED_SWITCH.format(place="up" if key == "top_switch" else "down")
        yield getattr(pins, key), _DRIVERS[parts.driver].get(key, words)
    if parts.end_by_current and pins.motor_current is not None:
        yield pins.motor_current, _CURRENT


def makefile(mark: str, sources: Iterable[str], hz: int) -> str:
    """A Makefile for GNU make and avr-gcc; `make` builds door.hex, `make flash PORT=...` sends it."""
    objects = " \\\n    ".join(source.replace(".c", ".o") for source in sources)
    return f"""# {mark}. make: builds door.hex. make flash PORT=/dev/ttyUSB0: sends it to a board with a boot loader.
MCU = atmega328p
CC = avr-gcc
CFLAGS = -mmcu=$(MCU) -DF_CPU={hz}UL -std=gnu99 -Os -flto -mrelax -fno-inline-small-functions \\
    -Wall -Wextra -Wundef -ffunction-sections -fdata-sections
OBJECTS = {objects}

door.hex: door.elf
\tavr-objcopy -O ihex -R .eeprom $< $@

door.elf: $(OBJECTS)
\t$(CC) $(CFLAGS) -Wl,--gc-sections -o $@ $(OBJECTS)
\tavr-size $@

%.o: %.c $(wildcard *.h)
\t$(CC) $(CFLAGS) -c -o $@ $<

flash: door.hex
\tavrdude -p $(MCU) -c arduino -P $(PORT) -b 115200 -U flash:w:door.hex:i

clean:
\trm -f $(OBJECTS) door.elf door.hex

.PHONY: flash clean
"""


def sketch(mark: str, plan: YearPlan, pins: Pins, parts: Parts, stamp: Stamp) -> str:
    """The sketch's main file: all of it is a comment, because door_main.c has main()."""
    return comment_block(f"The door program of {plan.site.name}", _notes(mark, plan, pins, parts, stamp)) + "\n"


def _notes(mark: str, plan: YearPlan, pins: Pins, parts: Parts, stamp: Stamp) -> Iterator[str]:
    yield ""
    yield f"{mark}. Edit the configuration, then run: {stamp.command}"
    yield "The program is in the .c files beside this one; door_main.c has main(). Board: ATmega328P, 16 MHz, 5 V."
    yield f"Clock: {clock_words(plan)}"
    yield ""
    yield "Wiring"
    for pin, what in _wiring(pins, parts):
        yield f"  {pin} ({BOARD_NAMES[pin]:>3})  {what}"
    yield f"  {_CLOCKS[parts.clock].format(chip=_CHIPS[parts.clock_chip])}"
    if not parts.short_shows:
        yield "  This divider reads full Sun as it reads a shorted cell: a short is noticed at night only. A smaller"
        yield "  fixed resistor would show it by day as well."
    if parts.lux_sensor:
        yield "  Light sensor BH1750FVI on the same bus, address pin low; cell_feed and light_cell stay free."
    yield "  Serial line: 9600 baud on PD0 (D0), PD1 (D1). A power lamp and a USB chip draw more than the program."
    yield ""
    yield "Setting the clock: press Enter, wait for '# ready', then send: t 2027-03-01 17:45:00"
    yield f"  (the chip's own time, {clock_words(plan)})"
    yield "Tables: compiled in for the years of door_table.h. An exact year, changed rules or an order go in over the"
    yield "  serial line: sunsched chip load CONFIG. After the last year the light alone moves the door, with an alarm."
    yield ""
    yield "Cautions"
    yield from (f"  {line}" for line in CAUTIONS)
