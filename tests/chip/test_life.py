"""The whole program living on an emulated ATmega328P: real weather's worst days, against plan, light and twin.

The whole year is one command: `python tests/chip/whole_year.py larch_end` (it prints its wall time).
"""

from __future__ import annotations

import datetime as dt

import pytest
import sites
import skies
from lives import Led, Twin

# One life in each season; the first day is clear, so that the program proves its clock before the weather turns.
SEASONS: dict[str, tuple[dt.date, skies.Kind]] = {
    "spring": (dt.date(2027, 3, 27), "storm"),
    "summer": (dt.date(2027, 6, 20), "dull"),
    "autumn": (dt.date(2027, 9, 23), "passing_lamps"),
    "winter": (dt.date(2027, 12, 20), "snow"),
}
CASES = [(name, season) for n, name in enumerate(sites.SHIPPED) for season in list(SEASONS)[n % 2 :: 2]]


@pytest.mark.parametrize(("name", "season"), CASES)
def test_every_move_is_at_the_planned_or_light_decided_second(name: str, season: str) -> None:
    date, kind = SEASONS[season]
    row = sites.built(name, 2027).plan.row(date)
    led = Led(name, 2027, row, ["clear", kind])
    led.lead()
    assert led.faults() == []
    assert led.differences() == []
    led.life.end()


@pytest.mark.parametrize("name", sites.SHIPPED)
def test_chip_computer_and_twin_live_the_same_day(name: str) -> None:
    row = sites.built(name, 2027).plan.row(dt.date(2027, 4, 11))
    led = Led(name, 2027, row, ["steady_lamp"])
    led.lead(recorded=True)
    assert led.differences() == []
    twin = Twin(name, led.plan)
    for record in led.recorded:
        assert twin.differences(record) == []
    led.life.end()
