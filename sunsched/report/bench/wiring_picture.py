"""The wiring as a picture: the board as a bar at the left, each part beside the pins it is wired to.

Inputs stand above, outputs below, the power at the foot. Every wire is one level line, so none crosses another; words
at the part name its ground and supply. The picture is as wide as the others, so that it can be read on a telephone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from sunsched.hardware.wiring import BATTERY_DIVIDERS, Wire
from sunsched.job.bench import Bench
from sunsched.report.bench.parts import fitted_words, fuse_a
from sunsched.report.page.html import one_line
from sunsched.report.pictures.lettering import wrapped_lines
from sunsched.report.pictures.svg import MARGIN, TEXT, WIDTH, Attribute, Drawing

BOARD_LEFT, BOARD_RIGHT = MARGIN, 138.0
PART_LEFT, PART_WIDTH = 190.0, WIDTH - MARGIN - 190.0
INSET, LINE, ROW_GAP, GAP = 10.0, 18.0, 7.0, 14.0
POWER_BOX_HEIGHT = 72.0
OUTPUTS = ("motor driver", "relays", "alarm lamp", "serial line")
_ROLES = {
    "motor driver": "alarm",
    "relays": "alarm",
    "clock chip": "close",
    "light cell": "open",
    "light sensor": "open",
}


@dataclass(frozen=True, slots=True)
class _Row:
    """One wire with the lines of its other end's name; its y is that of the wire."""

    wire: Wire
    lines: tuple[str, ...]
    y: float


@dataclass(frozen=True, slots=True)
class _Box:
    """One part at its place: title, what is said beside it, its wires."""

    part: str
    title: tuple[str, ...]
    beside: tuple[str, ...]
    rows: tuple[_Row, ...]
    top: float
    height: float


def wiring_picture(bench: Bench) -> Drawing:
    """The wiring of one configuration, drawn from its pins."""
    pins = ", ".join(f"{wire.part} to {wire.pin}" for wire in bench.wires)
    description = f"{fitted_words(bench.machine.fitted)}. {pins}. The power goes through the fuse at the battery first."
    name = one_line(bench.work.plan.site.name, 60)
    board = bench.machine.board
    drawing = Drawing(WIDTH, 0.0, f"Wiring of the door at {name}", description, "wiring")
    below = drawing.heading(name, [f"Wiring: {len(bench.wires)} wires at {board.title}"])
    words = "All grounds are joined. Not a drawing of the board's shape: go by the names of the pins."
    below = drawing.lines(below + 8.0, words, fill="quiet")
    two = any(wire.printed != wire.pin for wire in bench.wires)
    named = "Printed name, then the chip's." if two else "Names are the chip's."
    below = drawing.lines(below, f"Board: {board.hz // 1_000_000} MHz, {board.supply_v:g} V. {named}", fill="quiet")
    ordered = sorted(bench.wires, key=lambda wire: wire.part in OUTPUTS)
    boxes = _placed(bench, ordered, below + 4.0)
    bottom = boxes[-1].top + boxes[-1].height if boxes else below + 40.0
    bar: dict[str, Attribute] = {"fill": "band", "stroke": "ink", "stroke_width": 1.5, "rx": 6}
    drawing.rect(BOARD_LEFT, below + 4.0, BOARD_RIGHT - BOARD_LEFT, bottom - below - 4.0, **bar)
    drawing.text(BOARD_LEFT + INSET, below + 24.0, "board", font_weight="bold", font_size=TEXT)
    for box in boxes:
        _part(drawing, box)
    drawing.height = _power(drawing, bench, bottom + 40.0)
    return drawing


def _placed(bench: Bench, wires: Sequence[Wire], top: float) -> list[_Box]:
    """The parts below one another, each as high as its words."""
    boxes, ends, room = [], _ends(bench), PART_WIDTH - 2 * INSET
    for part, members in groupby(wires, key=lambda wire: wire.part):
        beside = tuple(wrapped_lines(_beside(bench, part), room, TEXT))
        title = tuple(wrapped_lines(_title(bench, part), room, TEXT, bold=True))
        y = top + 6.0 + LINE * (len(title) + len(beside)) + ROW_GAP
        rows = []
        for wire in members:
            lines = tuple(wrapped_lines(ends[wire.key], room, TEXT))
            rows.append(_Row(wire, lines, y + 8.0))
            y += LINE * len(lines) + ROW_GAP
        boxes.append(_Box(part, title, beside, tuple(rows), top, y - top))
        top = y + GAP
    return boxes


def _part(d: Drawing, box: _Box) -> None:
    role = _ROLES.get(box.part, "third")
    d.rect(PART_LEFT, box.top, PART_WIDTH, box.height, fill="paper", stroke=role, stroke_width=1.5, rx=6)
    x, y = PART_LEFT + INSET, box.top + 20.0
    for line in box.title:
        d.text(x, y, line, font_weight="bold", font_size=TEXT)
        y += LINE
    for line in box.beside:
        d.text(x, y, line, font_size=TEXT, fill="quiet")
        y += LINE
    for row in box.rows:
        d.line(BOARD_RIGHT, row.y, PART_LEFT, row.y, stroke=role, stroke_width=2)
        d.add("circle", cx=BOARD_RIGHT, cy=row.y, r=3.5, fill=role)
        pin, printed = row.wire.pin, row.wire.printed
        label = pin if printed == pin else f"{printed} ({pin})"
        d.text(BOARD_RIGHT - 9, row.y + 5.0, label, text_anchor="end", font_size=TEXT)
        for number, line in enumerate(row.lines):
            d.text(x, row.y + 5.0 + LINE * number, line, font_size=TEXT)


_END = {
    "pulse": "1 Hz output, open drain",
    "sda": "SDA, 4.7 kohm to {volts:g} V",
    "scl": "SCL, 4.7 kohm to {volts:g} V",
    "cell_feed": "feed: the cell's free end",
    "light_cell": "middle: cell and resistor",
    "battery": "middle of {upper} and {lower} kohm",
    "top_switch": "made when up",
    "bottom_switch": "made when down",
    "motor_current": "10 kohm, 1 uF to ground",
    "hand_up": "button: raise",
    "hand_down": "button: lower",
    "keep_shut": "switch: keep shut",
    "raise_motor": "raise, 10 kohm to ground",
    "lower_motor": "lower, 10 kohm to ground",
    "motor_speed": "speed (PWM), 10 kohm to ground",
    "alarm_lamp": "lamp",
    "rxd": "from the computer",
    "txd": "to the computer",
}


def _ends(bench: Bench) -> dict[str, str]:
    """What a wire's other end is called: the switches' by their kind, the motor's by the driver's."""
    fitted = bench.machine.fitted
    upper, lower = BATTERY_DIVIDERS[fitted.supply_v]
    ends = {key: text.format(volts=fitted.supply_v, upper=upper, lower=lower) for key, text in _END.items()}
    if fitted.switches == "normally_closed":
        ends |= {"top_switch": "opens when up", "bottom_switch": "opens when down"}
    if fitted.driver == "direction":
        ends["raise_motor"] = "direction, 10 kohm to ground"
    return ends


def _title(bench: Bench, part: str) -> str:
    fitted = bench.machine.fitted
    if part == "clock chip":
        name = fitted.clock_chip.upper()
        return f"{name} and light sensor BH1750" if fitted.lux_sensor else f"clock chip {name}"
    return "light sensor BH1750FVI" if part == "light sensor" else part


def _beside(bench: Bench, part: str) -> str:
    c = bench.work.configuration
    fitted = bench.machine.fitted
    kind = fitted.switches.replace("_", " ")
    adapter = "the board's USB" if fitted.serial_by_usb else "a USB to serial adapter"
    return {
        "clock chip": f"{fitted.supply_v:g} V and ground; its own cell",
        "light sensor": f"{fitted.supply_v:g} V and ground; address pin low",
        "light cell": f"fixed resistor {c.light_cell.fixed_ohm / 1000:g} kohm to ground",
        "battery divider": "from the battery, behind the fuse; 100 nF",
        "top switch": f"{kind}; cuts the raising too",
        "bottom switch": f"{kind}; cuts the lowering too",
        "motor current": "a shunt in the driver's ground",
        "hand switches": "each to ground",
        "motor driver": "its logic side; the motor's is below",
        "relays": "a transistor and a diode for each coil",
        "alarm lamp": "the board's LED, or an LED with 1 kohm",
        "serial line": f"{adapter}, 9600 baud",
    }[part]


def _power(d: Drawing, bench: Bench, top: float) -> float:
    """Battery and fuse, and the loads behind the fuse; returns the y below."""
    c = bench.work.configuration
    volts = (c.motor.volts if c.motor else None) or (c.battery.volts if c.battery else 12.0)
    rating = fuse_a(c.motor, bench.sums) if c.motor and bench.sums else None
    relays, volts_at_pins = bench.machine.fitted.driver == "relays", bench.machine.fitted.supply_v
    d.text(MARGIN, top, "Power", font_weight="bold", font_size=TEXT)
    first, second = top + 14.0, top + 14.0 + POWER_BOX_HEIGHT + 40.0
    half, bus = POWER_BOX_HEIGHT / 2, second - 20.0
    wire: dict[str, Attribute] = {"stroke": "alarm", "stroke_width": 2.5}
    d.line(164.0, first + half, 204.0, first + half, **wire)
    d.line(279.0, first + POWER_BOX_HEIGHT, 279.0, bus, **wire)
    d.line(84.0, bus, 279.0, bus, **wire)
    for x in (84.0, 239.0):
        d.line(x, bus, x, second, **wire)
    d.line(322.0, second + half, 346.0, second + half, **wire)
    _load(d, MARGIN, first, 150.0, "battery", f"{volts:g} V, + terminal")
    _load(d, 204.0, first, 150.0, f"fuse {rating:g} A" if rating else "fuse", "time-lag, at the +")
    _load(
        d,
        MARGIN,
        second,
        140.0,
        "5 V supply",
        "feeds the board" if volts_at_pins == 5.0 else f"the board makes {volts_at_pins:g} V",
    )
    _load(
        d,
        172.0,
        second,
        150.0,
        "relays" if relays else "motor driver",
        "contacts" if relays else "470 uF at its supply",
    )
    _load(d, 346.0, second, 100.0, "motor", f"{volts:g} V")
    words = "Ground: battery -, supply, board, driver, switches and parts, joined at one point."
    y = d.lines(second + POWER_BOX_HEIGHT + 24.0, words, fill="quiet")
    if c.battery and c.battery.panel_w:
        note = f"Panel {c.battery.panel_w:g} W: through its charge controller to the battery, with a fuse of its own."
        y = d.lines(y, note, fill="quiet")
    return y


def _load(d: Drawing, x: float, y: float, width: float, name: str, what: str) -> None:
    d.rect(x, y, width, POWER_BOX_HEIGHT, fill="paper", stroke="alarm", stroke_width=1.5, rx=6)
    d.text(x + 8, y + 20.0, name, font_size=TEXT, font_weight="bold")
    for number, line in enumerate(wrapped_lines(what, width - 16.0, TEXT)):
        d.text(x + 8, y + 40.0 + LINE * number, line, font_size=TEXT, fill="quiet")
