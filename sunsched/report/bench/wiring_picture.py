"""The wiring as a picture: the board in the middle with the pins in use, each part beside the pins it is wired to.

Inputs stand on the left, outputs on the right, the power below. Every wire is one straight line, so none crosses
another; words at the part name its ground and 5 V.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from sunsched.hardware.wiring import Wire
from sunsched.job.bench import Bench
from sunsched.report.bench.parts import fitted_words, fuse_a
from sunsched.report.page.html import one_line
from sunsched.report.pictures.svg import Drawing

WIDTH = 1040.0
BOARD_LEFT, BOARD_RIGHT = 440.0, 600.0
PART_LEFT, PART_RIGHT, PART_WIDTH = 20.0, 720.0, 300.0
TOP, ROW, HEAD, GAP = 84.0, 26.0, 42.0, 14.0
POWER_HEIGHT = 150.0
OUTPUTS = ("motor driver", "relays", "alarm lamp", "serial line")
_ROLES = {
    "motor driver": "alarm",
    "relays": "alarm",
    "clock chip": "close",
    "light cell": "open",
    "light sensor": "open",
}


@dataclass(frozen=True, slots=True)
class _Box:
    """One part with its wires, at its place."""

    part: str
    wires: tuple[Wire, ...]
    top: float

    @property
    def height(self) -> float:
        return HEAD + ROW * len(self.wires)

    def row_y(self, row: int) -> float:
        return self.top + HEAD + ROW * row + 6


def wiring_picture(bench: Bench) -> Drawing:
    """The wiring of one configuration, drawn from its pins."""
    left = _placed([wire for wire in bench.wires if wire.part not in OUTPUTS])
    right = _placed([wire for wire in bench.wires if wire.part in OUTPUTS])
    bottom = max(boxes[-1].top + boxes[-1].height for boxes in (left, right) if boxes)
    pins = ", ".join(f"{wire.part} to {wire.pin}" for wire in bench.wires)
    description = f"{fitted_words(bench.machine.fitted)}. {pins}. The power goes through the fuse at the battery first."
    name = one_line(bench.work.plan.site.name, 60)
    drawing = Drawing(WIDTH, bottom + POWER_HEIGHT + 60, f"Wiring of the door at {name}", description, "wiring")
    drawing.text(20, 32, f"Wiring: {name}", font_size=20)
    drawing.text(
        20, 54, "All grounds are joined. Not a drawing of the board's shape: go by the names of the pins.", fill="quiet"
    )
    _board(drawing, bench, bottom)
    for boxes, right_side in ((left, False), (right, True)):
        for box in boxes:
            _part(drawing, bench, box, right_side)
    _power(drawing, bench, bottom + 34)
    return drawing


def _placed(wires: Sequence[Wire]) -> list[_Box]:
    boxes, top = [], TOP
    for part, members in groupby(wires, key=lambda wire: wire.part):
        box = _Box(part, tuple(members), top)
        boxes.append(box)
        top += box.height + GAP
    return boxes


def _board(d: Drawing, bench: Bench, bottom: float) -> None:
    board = bench.machine.board
    d.rect(
        BOARD_LEFT,
        TOP - 8,
        BOARD_RIGHT - BOARD_LEFT,
        bottom - TOP + 8,
        fill="band",
        stroke="ink",
        stroke_width=1.5,
        rx=6,
    )
    d.text((BOARD_LEFT + BOARD_RIGHT) / 2, TOP + 12, board.title, text_anchor="middle", font_weight="bold")
    d.text(
        (BOARD_LEFT + BOARD_RIGHT) / 2,
        TOP + 29,
        f"{board.hz // 1_000_000} MHz, 5 V",
        text_anchor="middle",
        font_size=12,
    )


def _part(d: Drawing, bench: Bench, box: _Box, right_side: bool) -> None:
    x = PART_RIGHT if right_side else PART_LEFT
    role = _ROLES.get(box.part, "third")
    d.rect(x, box.top, PART_WIDTH, box.height, fill="paper", stroke=role, stroke_width=1.5, rx=6)
    d.text(x + 10, box.top + 18, _title(bench, box.part), font_weight="bold", font_size=13)
    d.text(x + 10, box.top + 34, _beside(bench, box.part), font_size=11, fill="quiet")
    for row, wire in enumerate(box.wires):
        y = box.row_y(row)
        inner, outer = (BOARD_RIGHT, x) if right_side else (BOARD_LEFT, x + PART_WIDTH)
        d.line(inner, y, outer, y, stroke=role, stroke_width=2)
        d.add("circle", cx=inner, cy=y, r=3.5, fill=role)
        label, anchor = f"{wire.printed} ({wire.pin})", "end" if right_side else "start"
        d.text(inner + (-9 if right_side else 9), y + 4.5, label, text_anchor=anchor, font_size=12)
        name = _ends(bench)[wire.key]
        d.text(
            x + (10 if right_side else PART_WIDTH - 10),
            y + 4.5,
            name,
            text_anchor="start" if right_side else "end",
            font_size=12,
        )


_END = {
    "pulse": "1 Hz output, open drain",
    "sda": "SDA, 4.7 kohm to 5 V",
    "scl": "SCL, 4.7 kohm to 5 V",
    "cell_feed": "feed: the cell's free end",
    "light_cell": "middle: cell and resistor",
    "battery": "middle of 300 and 100 kohm",
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
    ends = dict(_END)
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
    kind = bench.machine.fitted.switches.replace("_", " ")
    return {
        "clock chip": "5 V and ground; its own cell",
        "light sensor": "5 V and ground; address pin low",
        "light cell": f"fixed resistor {c.light_cell.fixed_ohm / 1000:g} kohm to ground",
        "battery divider": "from the battery, behind the fuse; 100 nF",
        "top switch": f"{kind}; cuts the raising too",
        "bottom switch": f"{kind}; cuts the lowering too",
        "motor current": "a shunt in the driver's ground",
        "hand switches": "each to ground",
        "motor driver": "its logic side; the motor's is below",
        "relays": "a transistor and a diode for each coil",
        "alarm lamp": "the board's LED, or an LED with 1 kohm",
        "serial line": "the board's USB, 9600 baud",
    }[part]


def _power(d: Drawing, bench: Bench, top: float) -> None:
    """Battery, fuse and the loads behind it, from left to right."""
    c = bench.work.configuration
    volts = (c.motor.volts if c.motor else None) or (c.battery.volts if c.battery else 12.0)
    rating = fuse_a(c.motor, bench.sums) if c.motor and bench.sums else None
    y, middle = top + 26, top + 70
    fuse = f"fuse {rating:g} A" if rating else "fuse"
    driver = "relays" if bench.machine.fitted.driver == "relays" else "motor driver"
    boxes = [(20.0, "battery", f"{volts:g} V, + terminal"), (220.0, fuse, "time-lag, at the +")]
    boxes += [
        (720.0, driver, "contacts" if driver == "relays" else "470 uF at its supply"),
        (900.0, "motor", f"{volts:g} V"),
    ]
    d.text(20, top + 10, "Power", font_weight="bold")
    for x, name, what in boxes:
        d.rect(
            x, middle - 24, 120 if name == "motor" else 150, 48, fill="paper", stroke="alarm", stroke_width=1.5, rx=6
        )
        d.text(x + 8, middle - 5, name, font_size=13, font_weight="bold")
        d.text(x + 8, middle + 12, what, font_size=11, fill="quiet")
    d.line(170, middle, 220, middle, stroke="alarm", stroke_width=2.5)
    d.line(370, middle, 720, middle, stroke="alarm", stroke_width=2.5)
    d.line(870, middle, 900, middle, stroke="alarm", stroke_width=2.5)
    d.line(520, middle, 520, y - 4, stroke="alarm", stroke_width=2.5)
    d.rect(450, y - 34, 140, 40, fill="paper", stroke="alarm", stroke_width=1.5, rx=6)
    d.text(458, y - 17, "5 V supply", font_size=13, font_weight="bold")
    d.text(458, y - 3, "to the board's 5 V", font_size=11, fill="quiet")
    d.text(
        20,
        middle + 54,
        "Ground: battery -, supply, board, driver, switches and parts, joined at one point.",
        fill="quiet",
    )
    if c.battery and c.battery.panel_w:
        note = f"Panel {c.battery.panel_w:g} W: through its charge controller to the battery, with a fuse of its own."
        d.text(20, middle + 74, note, fill="quiet")
