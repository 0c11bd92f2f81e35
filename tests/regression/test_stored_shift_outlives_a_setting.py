"""A shift learned for a wrong clock stayed after the clock was lost and set right: the door closed 23 min late.

A shift that no night can have taught (memory gone wrong) was taken as well.
"""

from __future__ import annotations

import pytest

from sunsched.controller.decision import DoorDecision
from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import DayRow, Inputs, KeptOver, boot
from sunsched.controller.words import Kept

DAY = 9_862
ROW = DayRow(open_min=420, close_min=1080, midnight_min=1440, facts=15)
BITS = int(Kept.CELL_GOOD | Kept.STAMP | Kept.WIRING_PROVEN)


def _lost_then_set(by_min: int) -> DoorDecision:
    program = DoorDecision(DoorSettings(), lambda day: ROW if day >= DAY else None, KeptOver(23, DAY, 0, 12, BITS))
    for _ in range(600):
        program.step(Inputs(clock_valid=0, light_counts=700))
    program.step(Inputs(DAY, 12 * 60 + by_min, 700, clock_set=1))
    return program


@pytest.mark.parametrize("by_min", [0, 10, 45])
def test_a_setting_forgets_it(by_min: int) -> None:
    assert _lost_then_set(by_min).state.shift_min == 0


def test_a_power_up_keeps_what_a_night_can_have_taught() -> None:
    assert boot(DoorSettings(), KeptOver(shift_min=23)).shift_min == 23
    assert boot(DoorSettings(), KeptOver(shift_min=-720)).shift_min == -720


@pytest.mark.parametrize("shift_min", [9, -9, 721, -721, 32_767, -32_768])
def test_what_none_can_have_taught_is_refused(shift_min: int) -> None:
    assert boot(DoorSettings(), KeptOver(shift_min=shift_min)).shift_min == 0
