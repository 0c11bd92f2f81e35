"""Three dawns under snow or cloud moved the windows of a clock that was right, by 20 minutes for three days.

Learned from three nights alike; far in the north a dawn under snow comes half an hour late, dusk before it in time.
"""

from __future__ import annotations

import datetime as dt

from tests.chip import sites, skies
from tests.chip.lives import Led

NAME = "birch_hollow"
SNOWED_UP: list[skies.Kind] = ["clear", "clear", "clear", "snow", "snow", "snow", "snow", "clear", "clear"]


def test_four_dawns_under_snow_shift_nothing() -> None:
    row = sites.built(NAME, 2027).plan.row(dt.date(2027, 10, 8))
    led = Led(NAME, 2027, row, SNOWED_UP, chip=False)
    led.lead()
    assert led.faults() == []
    assert "sun_shift" not in led.life.host_log
    led.life.end()
