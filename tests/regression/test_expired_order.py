"""A table whose year was over was served again by month and day, an order of one year (kept in) with it.

Now a day that no table serves is light alone with the alarm `expired`, and an order holds in its own year only.
"""

from __future__ import annotations

import datetime as dt

from sunsched.controller.words import Want, Why
from tests.chip import sites
from tests.chip.runs import ChipRun


def test_an_order_of_2027_keeps_nobody_in_in_2028() -> None:
    row = sites.built("larch_end", 2028).plan.row(dt.date(2028, 11, 25))
    chip_run = ChipRun("larch_end", 2028, row, ["clear", "clear"], chip=False, compiled_year=2027)
    chip_run.run()
    events = chip_run.life.events()
    ups = [Why(int(event["reason"])) for event in events if event["want"] == int(Want.UP)]
    assert Why.LIGHT_ALONE in ups
    assert Why.KEPT_IN not in {Why(int(event["reason"])) for event in events}
    assert "expired" in chip_run.life.host_log
    assert "# expired: no table for this day" in chip_run.life.host_log
    chip_run.life.end()
