"""The whole program for the chip as texts: the shipped C, the site's own headers, a Makefile and a sketch.

The folder compiles as it is, with plain avr-gcc (`make`) and as a sketch for a board with the chip.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal, NamedTuple

from sunsched.base.text_digest import with_digest_line
from sunsched.controller.door_settings import DoorSettings
from sunsched.emit import firmware_notes, firmware_rp2040
from sunsched.emit.c_header import C_COMMENT, comment_block, comment_text
from sunsched.emit.stamp import Stamp
from sunsched.hardware import wiring
from sunsched.hardware.boards import Board
from sunsched.hardware.pins import Pins
from sunsched.hardware.wiring import BATTERY_DIVIDERS
from sunsched.plan.year import YearPlan
from sunsched.table.layout import CODECS, reader_names

# Shipped C of the program beside the board's own file, where each lies below sunsched/controller/c/.
SOURCES = (
    "firmware/door_main.c",
    "firmware/door_program.c",
    "firmware/door_clock.c",
    "firmware/door_line.c",
    "firmware/door_log.c",
    "firmware/door_memory.c",
    "firmware/door_ring.c",
    "firmware/door_rows.c",
    "firmware/door_say.c",
    "firmware/door_site.c",
    "firmware/door_slots.c",
    "firmware/door_writer.c",
    "firmware/door_clock_chip.c",
    "firmware/door_board_sensor.c",
    "firmware/door_board_drive.c",
    "door_decision.c",
    "door_calm.c",
    "door_light.c",
    "door_motor.c",
    "door_plan.c",
    "door_time.c",
)
HEADERS = (
    "firmware/door_board.h",
    "firmware/door_board_drive.h",
    "firmware/door_board_sensor.h",
    "firmware/door_clock.h",
    "firmware/door_clock_chip.h",
    "firmware/door_image.h",
    "firmware/door_line.h",
    "firmware/door_log.h",
    "firmware/door_memory.h",
    "firmware/door_program.h",
    "firmware/door_ring.h",
    "firmware/door_rows.h",
    "firmware/door_say.h",
    "firmware/door_site.h",
    "firmware/door_slots.h",
    "firmware/door_text.h",
    "firmware/door_writer.h",
    "door_calm.h",
    "door_decision.h",
    "door_inner.h",
)
# In the order of their numbers in door_clock_chip.h and door_board_drive.h.
CLOCK_CHIPS = ("ds3231", "ds1307", "pcf8523", "pcf8563")
DRIVERS = ("two_inputs", "direction", "relays")
LEAST_END_COUNTS = 8  # between running and held: less is lost in the converter's noise and the motor's brushes
# What stands at each pin's macro names, DOOR_<name>_PORT and so on.
_PIN_NAMES = {
    "pulse": "PULSE",
    "raise_motor": "RAISE",
    "lower_motor": "LOWER",
    "motor_speed": "SPEED",
    "top_switch": "TOP",
    "bottom_switch": "BOTTOM",
    "hand_up": "HAND_UP",
    "hand_down": "HAND_DOWN",
    "keep_shut": "KEEP_SHUT",
    "alarm_lamp": "LAMP",
    "cell_feed": "FEED",
}
_WATCHED = ("pulse", "top_switch", "bottom_switch")
ADC_STEPS = 1024
# Rest voltage of a lead-acid battery as a share of its nominal one, about a third and a tenth left: common practice.
LOW_SHARE, SPENT_SHARE = 11.8 / 12.0, 11.3 / 12.0


@dataclass(frozen=True, slots=True)
class Machine:
    """The machine that the program drives: its settings beside the table.

    clock   what keeps the time
    battery_volts   nominal [V], or None: the battery is not watched
    lux_sensor   a digital sensor on the clock's bus instead of a cell on the converter
    clock_chip   whose registers the clock chip has
    driver, switches   as [motor] and [door] name them
    end_counts   converter counts of the shunt from which the lower end is reached; None: there is a lower switch
    short_shows   whether the light cell's divider can show a shorted cell by day
    """

    settings: DoorSettings
    board: Board
    pins: Pins
    clock: Literal["rtc", "crystal", "none"] = "rtc"
    battery_volts: float | None = None
    lux_sensor: bool = False
    clock_chip: str = "ds3231"
    driver: Literal["two_inputs", "direction", "relays"] = "two_inputs"
    switches: Literal["normally_open", "normally_closed"] = "normally_open"
    end_counts: int | None = None
    short_shows: bool = True

    @property
    def fitted(self) -> wiring.Fitted:
        """What is built onto the board."""
        return wiring.Fitted(
            self.clock,
            self.clock_chip,
            self.lux_sensor,
            self.battery_volts is not None,
            self.driver,
            self.switches,
            self.end_counts is not None,
            self.short_shows,
            self.board.supply_v,
            self.board.usb == "serial",
            self.board.pwm_khz,
        )


def wires(machine: Machine) -> tuple[wiring.Wire, ...]:
    """The wires that this machine uses."""
    return wiring.wires(machine.board, machine.pins, machine.fitted)


def sources(board: Board) -> tuple[str, ...]:
    """The C files of a board's program, in the order of the Makefile."""
    at = SOURCES.index("door_decision.c")
    return (*SOURCES[:at], board.program, *(part for part in board.parts if part.endswith(".c")), *SOURCES[at:])


def shipped_names(board: Board) -> tuple[str, ...]:
    """All C files that a board's folder holds as they are."""
    others = (part for part in board.parts if not part.endswith(".c"))
    return (*sources(board), *HEADERS, board.chip_header, *others, *sorted(reader_names([*CODECS.values()])))


def texts(
    plan: YearPlan, tables: str, stamp: Stamp, machine: Machine, shipped: Mapping[str, str], sketch: str
) -> dict[str, str]:
    """File name -> text of the program's folder.

    plan   of the first year
    tables   the text of door_table.h
    shipped   the C files of `shipped_names` by those names
    sketch   the folder's name, which a sketch's main file has to bear
    """
    files = {name.rpartition("/")[2]: _copied(name, shipped[name], stamp) for name in shipped_names(machine.board)}
    files["door_table.h"] = tables
    files["door_values.h"] = _values(plan, stamp, machine)
    files["door_pins.h"] = _pins(stamp, machine)
    own = [name.rpartition("/")[2] for name in sources(machine.board)]
    connections = (wires(machine), machine.fitted)
    notes = firmware_notes.sketch(_mark(stamp), plan, machine.board, connections, stamp)
    if machine.board.family == "rp2040":
        files["Makefile"] = firmware_rp2040.makefile(_mark(stamp), own)
        files["door_notes.h"] = notes
    else:
        files["Makefile"] = firmware_notes.makefile(_mark(stamp), own, machine.board)
        files[f"{sketch}.ino"] = notes
    return {name: text if name == "door_table.h" else _with_digest(name, text) for name, text in files.items()}


def _with_digest(name: str, text: str) -> str:
    return with_digest_line(text, "# {}" if name == "Makefile" or name.endswith(".py") else C_COMMENT)


def _mark(stamp: Stamp) -> str:
    return f"GENERATED by sunsched {stamp.version}"


def _copied(name: str, text: str, stamp: Stamp) -> str:
    said = f"{_mark(stamp)}: a copy of its own text; edits are lost when it is written again."
    return f"# {said}\n{text}" if name.endswith(".py") else f"/* {said} */\n{text}"


def _guarded(name: str, title: str, about: Iterator[str], body: Iterator[str]) -> str:
    head = comment_block(f"{name}.h - {title}", about)
    guard = f"{name.upper()}_H"
    return "\n".join([head, f"#ifndef {guard}", f"#define {guard}", *body, "#endif"]) + "\n"


class Said(NamedTuple):
    """What the program says of itself over its line: the site's name, the program's own, the first year's digest."""

    site: str
    program: str
    plan: str


def said_texts(plan: YearPlan, stamp: Stamp, board: str) -> Said:
    """The texts as they stand in flash: ASCII, at most 60 characters each."""
    name = comment_text(plan.site.name, 60).replace('"', "'")
    return Said(name, f"sunsched {stamp.version} {board}", stamp.plan_sha256[:16])


def _values(plan: YearPlan, stamp: Stamp, machine: Machine) -> str:
    def about() -> Iterator[str]:
        yield ""
        yield f"{_mark(stamp)}. Edit the configuration, then run:"
        yield f"  {stamp.command}"

    def body() -> Iterator[str]:
        said = said_texts(plan, stamp, machine.board.name)
        yield f'#define DOOR_SITE_NAME "{said.site}"'
        yield f'#define DOOR_PROGRAM "{said.program}"'
        yield f'#define DOOR_PLAN "{said.plan}" /* the first year\'s */'
        yield f"#define DOOR_CLOCK_CHIP {int(machine.clock == 'rtc')}u"
        yield f"#define DOOR_CLOCK_REGISTERS {CLOCK_CHIPS.index(machine.clock_chip)} /* {machine.clock_chip} */"
        yield f"#define DOOR_LUX_SENSOR {int(machine.lux_sensor)}"
        yield from _battery(machine.battery_volts, machine.board.supply_v)
        initialiser = machine.settings.c_initialiser().splitlines()
        yield ""
        yield "/* the decision core's constants: door_settings_t in door_decision.h */"
        yield " \\\n".join([f"#define DOOR_VALUES {initialiser[0]}", *initialiser[1:]])

    return _guarded("door_values", "the site's own constants", about(), body())


def battery_counts(volts: float, supply_v: float) -> int:
    """Converter counts of a battery voltage [V] behind the divider of a board, against its supply [V]."""
    upper_kohm, lower_kohm = BATTERY_DIVIDERS[supply_v]
    return round(volts * lower_kohm / (upper_kohm + lower_kohm) / supply_v * ADC_STEPS)


def battery_levels(volts: float, supply_v: float) -> tuple[int, int]:
    """Converter counts below which a battery of nominal `volts` is low, and spent."""
    return battery_counts(volts * LOW_SHARE, supply_v), battery_counts(volts * SPENT_SHARE, supply_v)


def _battery(volts: float | None, supply_v: float) -> Iterator[str]:
    yield f"#define DOOR_BATTERY_FITTED {int(volts is not None)}"
    if volts is not None:
        shares = (LOW_SHARE, SPENT_SHARE)
        for word, share, counts in zip(("LOW", "SPENT"), shares, battery_levels(volts, supply_v), strict=True):
            yield f"#define DOOR_BATTERY_{word}_COUNTS {counts}u /* {volts * share:.1f} V at rest */"


def _pins(stamp: Stamp, machine: Machine) -> str:
    def about() -> Iterator[str]:
        yield ""
        yield f"{_mark(stamp)}. Pins are set in the configuration's [pins]."

    return _guarded("door_pins", "which pin does what", about(), _pin_lines(machine))


def _pin_lines(machine: Machine) -> Iterator[str]:
    pins, board = machine.pins, machine.board
    places = pins.model_dump(exclude_none=True)
    header = board.chip_header.rpartition("/")[2]
    yield f'#define DOOR_CHIP_HEADER "{header}" /* {board.title} */'
    yield f"#define DOOR_DRIVER {DRIVERS.index(machine.driver)} /* {machine.driver} */"
    yield f"#define DOOR_SWITCHES_CLOSED {int(machine.switches == 'normally_closed')} /* {machine.switches} */"
    yield f"#define DOOR_CURRENT_FITTED {int(machine.end_counts is not None)}"
    if machine.end_counts is not None and pins.motor_current is not None:
        yield f"#define DOOR_CURRENT_CHANNEL {board.analog_pins[pins.motor_current]}u"
        yield f"#define DOOR_CURRENT_COUNTS {machine.end_counts}u"
    if board.family == "rp2040":
        for key, name in _PIN_NAMES.items():
            yield f"#define DOOR_{name}_GPIO {places[key].removeprefix('GP')}u /* {key} */"
    else:
        yield from _avr_registers(places, board)
    yield f"#define DOOR_CELL_CHANNEL {board.analog_pins[pins.light_cell]}u"
    yield f"#define DOOR_BATTERY_CHANNEL {board.analog_pins[pins.battery]}u"


def _avr_registers(places: Mapping[str, str], board: Board) -> Iterator[str]:
    for key, name in _PIN_NAMES.items():
        pin = places[key]
        yield f"/* {key}: {pin}, {board.pins[pin]} */"
        for register in ("PORT", "DDR", "PIN"):
            yield f"#define DOOR_{name}_{register} {register}{pin[1]}"
        yield f"#define DOOR_{name}_BIT {pin[2]}"
    output = board.speed_pins[places["motor_speed"]]
    yield f"#define DOOR_SPEED_OCR OCR0{output}"
    yield f"#define DOOR_SPEED_COM (1u << COM0{output}1)"
    for port in sorted({pin[1] for pin in board.pins}):
        watched = sum(1 << int(places[key][2]) for key in _WATCHED if places[key][1] == port)
        free = sum(1 << int(pin[2]) for pin in board.pins if pin not in places.values() and pin[1] == port)
        yield f"#define DOOR_WATCHED_{port} 0x{watched:02X}u"
        yield f"#define DOOR_UNUSED_{port} 0x{free:02X}u"
