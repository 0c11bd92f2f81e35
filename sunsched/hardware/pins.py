"""Which pin of an ATmega328P does what; the numbers printed on common boards stand beside the chip's own names."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from sunsched.base.model import Settings

# Chip's name -> what common boards print beside the pin. Not here: PD0, PD1 (serial line), PC4, PC5 (clock bus),
# PB6, PB7 (crystal), PC6 (reset).
BOARD_NAMES = {
    **{f"PD{n}": f"D{n}" for n in range(2, 8)},
    **{f"PB{n}": f"D{n + 8}" for n in range(6)},
    **{f"PC{n}": f"A{n}" for n in range(4)},
}
SPEED_PINS = ("PD5", "PD6")  # timer 0's outputs
ANALOG_PINS = ("PC0", "PC1", "PC2", "PC3")

Pin = Annotated[str, Field(pattern="^P[BCD][0-7]$")]


class Pins(Settings):
    """The board's wiring: switches pull their pin to ground, the pulse is the clock chip's 1 Hz output."""

    pulse: Pin = "PB0"
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

    @model_validator(mode="after")
    def _pins_can_do_it(self) -> Pins:
        used: dict[str, str] = {}
        for key, pin in self.model_dump(exclude_none=True).items():
            if pin not in BOARD_NAMES:
                raise ValueError(f"{key} on a free pin ({', '.join(BOARD_NAMES)}), not {pin}")
            if pin in used:
                raise ValueError(f"a pin of its own for {key}: {pin} is {used[pin]} already")
            used[pin] = key
        if self.motor_speed not in SPEED_PINS:
            raise ValueError(f"motor_speed on a PWM pin ({', '.join(SPEED_PINS)}), not {self.motor_speed}")
        for key in ("light_cell", "battery", "motor_current"):
            if getattr(self, key) not in (*ANALOG_PINS, *([None] if key == "motor_current" else [])):
                raise ValueError(
                    f"{key} on a pin with a converter ({', '.join(ANALOG_PINS)}), not {getattr(self, key)}"
                )
        return self
