"""On every shipped divider full Sun reads as a short does, so a shorted cell was never at the rail.

It was alarmed after 19 h, and with the clock lost too the birds were locked in for 509 min, not 44.
"""

from __future__ import annotations

import pytest

from sunsched.controller.words import Alarm
from tests.controller.broken_nights import nights_with

SHORTED = "cell shorted (reads 1023)"


@pytest.mark.parametrize("cell", ["larch_end", "fig_yard"])
def test_it_is_alarmed_within_an_hour_of_the_closing(cell: str) -> None:
    """Shorted at 13:00; the closing is about 18:20 in the clock's summer time of these days."""
    for verdict in nights_with(SHORTED, (80, 250), cell=cell):
        assert verdict.alarms & Alarm.CELL and verdict.alarm_after_h <= 7
        assert verdict.left_open.sum() == 0


@pytest.mark.parametrize("cell", ["larch_end", "fig_yard"])
def test_with_the_clock_lost_too_the_estimate_serves(cell: str) -> None:
    for verdict in nights_with(f"{SHORTED} AND clock lost in a 30 min power cut", (80, 250), cell=cell):
        assert verdict.locked_min.max() <= 60
