"""A lower switch that read made for one sample in mid-lowering was believed: the plate hung at 190 mm all night.

The upper one for one sample halted the door as wired the wrong way, open every night until a hand came.
"""

from __future__ import annotations

import pytest

from sunsched.controller.words import Alarm
from tests.controller.broken_nights import nights_with


@pytest.mark.parametrize("switch", ["lower", "upper"])
def test_the_lowering_goes_on(switch: str) -> None:
    for verdict in nights_with(f"{switch} switch made for one sample in each run", (80, 250)):
        assert verdict.left_open.sum() == 0 and verdict.locked_min.max() == 0
        assert not verdict.alarms & Alarm.WRONG_WAY
