"""Which pin of the board does what, and whether the board's pins can do it."""

from collections.abc import Mapping
from typing import Annotated, Any

from pydantic import Field

from sunsched.base.model import Settings
from sunsched.hardware.boards import Board

Pin = Annotated[str, Field(pattern="^(P[A-Z][0-7]|GP[0-9]{1,2}|IO[0-9]{1,2})$")]


class Pins(Settings):
    """The board's wiring: switches pull their pin to ground, the pulse is the clock chip's 1 Hz output."""

    pulse: Pin | None = "PB0"  # None on a board that counts its own seconds
    raise_motor: Pin = "PB1"
    lower_motor: Pin = "PB2"
    motor_speed: Pin = "PD6"
    top_switch: Pin = "PD4"
    bottom_switch: Pin = "PD5"
    hand_up: Pin = "PC2"
    hand_down: Pin = "PC3"
    keep_shut: Pin = "PD7"
    alarm_lamp: Pin = "PB5"
    cell_feed: Pin = "PB4"
    light_cell: Pin = "PC0"
    battery: Pin = "PC1"
    motor_current: Pin | None = None  # where [motor] has a shunt


def pins_on(board: Board, written: Mapping[str, Any] | None = None) -> Pins:
    """The keeper's pins, and the board's own wiring where he says nothing. Raises pydantic's ValidationError."""
    return Pins(**{**board.wiring, **(written or {})})


def refuse_pins_that_cannot(pins: Pins, board: Board) -> None:
    """Raise ValueError with what was wanted where a pin is not free, is used twice or lacks the function needed."""
    if not board.program:
        raise ValueError(f"no such section: there is no program for '{board.name}', which takes the table reader alone")
    used: dict[str, str] = {}
    for key, pin in pins.model_dump(exclude_none=True).items():
        if pin not in board.pins:
            raise ValueError(f"{key} on a free pin ({', '.join(board.pins)}), not {pin}")
        if pin in used:
            raise ValueError(f"a pin of its own for {key}: {pin} is {used[pin]} already")
        used[pin] = key
    for key in ("pulse", "top_switch", "bottom_switch"):
        pin = getattr(pins, key)
        if board.wake_pins and pin not in board.wake_pins:
            free = ", ".join(pin for pin in board.pins if pin in board.wake_pins)
            raise ValueError(f"{key} on a pin whose change wakes the chip ({free}), not {pin}")
    if pins.motor_speed not in board.speed_pins:
        raise ValueError(f"motor_speed on a PWM pin ({', '.join(board.speed_pins)}), not {pins.motor_speed}")
    for key in ("light_cell", "battery", "motor_current"):
        pin = getattr(pins, key)
        if pin is not None and pin not in board.analog_pins:
            raise ValueError(f"{key} on a pin with a converter ({', '.join(board.analog_pins)}), not {pin}")
