"""Three dawns under snow or cloud moved the windows of a clock that was right, by 20 minutes for three days.

Learned from three nights alike; far in the north a dawn under snow comes half an hour late, dusk before it in time.
"""

from __future__ import annotations

import datetime as dt

from tests.chip import sites, skies
from tests.chip.runs import ChipRun

NAME = "birch_hollow"
SNOWED_UP: list[skies.Kind] = ["clear", "clear", "clear", "snow", "snow", "snow", "snow", "clear", "clear"]


def test_four_dawns_under_snow_shift_nothing() -> None:
    row = sites.built(NAME, 2027).plan.row(dt.date(2027, 10, 8))
    chip_run = ChipRun(NAME, 2027, row, SNOWED_UP, chip=False)
    chip_run.run()
    assert chip_run.faults() == []
    assert "sun_shift" not in chip_run.life.host_log
    chip_run.life.end()
