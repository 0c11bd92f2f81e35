"""After power-up, light that belongs to the plan's own minute was taken for a wrong clock.

A site that closes deep in twilight found a dull June evening too dark for its clock: it closed early that evening and
the next. One that closes while it is still bright was held open for over an hour, on days on end, and learned a shift.
"""

from __future__ import annotations

import datetime as dt

import pytest

from tests.chip import sites, skies
from tests.chip.runs import ChipRun

STARTS: list[tuple[str, dt.date, list[skies.Kind]]] = [
    ("east_terrace", dt.date(2027, 6, 20), ["dull", "dull", "clear"]),
    ("east_terrace", dt.date(2027, 6, 20), ["clear", "dull", "dull"]),
    ("birch_hollow", dt.date(2027, 1, 12), ["clear", "clear", "dull", "clear"]),
]


@pytest.mark.parametrize(("name", "date", "kinds"), STARTS)
def test_the_first_evenings_move_when_plan_and_light_say(name: str, date: dt.date, kinds: list[skies.Kind]) -> None:
    chip_run = ChipRun(name, 2027, sites.built(name, 2027).plan.row(date), kinds, chip=False)
    chip_run.run()
    assert chip_run.faults() == []
    assert "sun_shift" not in chip_run.life.host_log and "contradiction" not in chip_run.life.host_log
    chip_run.life.end()
