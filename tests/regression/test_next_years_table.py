"""A table of next year, written into EEPROM in November, made the chip refuse every date of this year.

The image in EEPROM stood alone: days that it did not cover were taken for a clock gone wrong, and light alone moved
the door, into an order's days too. Now a table serves its own years only, and the tables compiled in all others.
"""

from __future__ import annotations

import datetime as dt

import pytest

from sunsched.controller.words import Why
from sunsched.job import compact
from tests.chip import sites
from tests.chip.runs import ChipRun


@pytest.mark.parametrize("day", [dt.date(2027, 11, 10), dt.date(2027, 11, 25)])
def test_this_year_goes_on_as_planned(day: dt.date) -> None:
    built = sites.built("larch_end", 2027)
    image = compact.compact(built.configuration, [2028], "auto").table.raw
    chip_run = ChipRun("larch_end", 2027, built.plan.row(day), ["clear"], chip=False, image=image, compiled_year=2027)
    chip_run.run()
    assert chip_run.faults() == []
    reasons = {Why(int(event["reason"])) for event in chip_run.life.events()}
    assert (Why.KEPT_IN in reasons) == (day == dt.date(2027, 11, 25))
    assert Why.LIGHT_ALONE not in reasons
    chip_run.life.end()
