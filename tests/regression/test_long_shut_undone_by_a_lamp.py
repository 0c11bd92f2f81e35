"""With the time lost and a lamp of 30 lux, the airing after 18 h shut was undone within a minute: 67 s in 96 h."""

from __future__ import annotations

from sunsched.controller.decision import DoorDecision
from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import Inputs
from sunsched.controller.words import Want, Why

LAMP_COUNTS = 250


def test_the_airing_lasts_two_hours_each_time() -> None:
    program = DoorDecision(DoorSettings(), lambda day: None)
    lamp = Inputs(clock_valid=0, light_counts=LAMP_COUNTS)
    minutes = [(out.want, out.reason) for out in (_minute(program, lamp) for _ in range(48 * 60))]
    aired = sum(one == (Want.UP, Why.LONG_SHUT) for one in minutes)
    assert 2 * 120 <= aired <= 3 * 121
    assert minutes[-1][0] in (Want.UP, Want.DOWN)


def _minute(program: DoorDecision, inputs: Inputs):  # type: ignore[no-untyped-def]
    for _ in range(60):
        out = program.step(inputs)
    return out
