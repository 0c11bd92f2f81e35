"""Where a limit closed the door hours after dusk, rule C6 took the evening for a dark mid-day.

Larch end with `not_before = "19:30"`: alarm CELL each evening from 31 October on, though cell and clock were right. A
door started in December counted a contradiction a day and never proved its clock. A closing two hours after dusk, or by
a twilight as deep as 18 degrees, did the same.
"""

from __future__ import annotations

import datetime as dt
import tomllib
from functools import cache
from typing import Any

import numpy as np
import pytest

from sunsched.base.civil_time import DAY_MIN, day_number
from sunsched.config import toml_file
from sunsched.controller.door_settings import DoorSettings, door_settings
from sunsched.controller.words import Alarm
from sunsched.hardware.drive import drive_constants
from sunsched.hardware.parts import LightCell
from sunsched.job.pipeline import plan_of
from sunsched.plan.window_light import window_light
from sunsched.plan.year import YearPlan
from sunsched.sky.daylight import clear_sky_lux_at
from tests.controller.fault_table import CONFIGS
from tests.controller.trial_runner import CoreRunner, use_table
from tests.trials.door_world import DAY_2000, day_rows, trial_counts
from tests.trials.fault_nights import NO_FAULT, NO_JAM, NO_RESET, WORLD_MINUTE, History

NOON = DAY_MIN // 2
BY_TWILIGHT: dict[str, Any] = {}
BY_LIMIT, LATER, DEEP = {"not_before": "19:30"}, {"later_min": 120}, {"depression_deg": 18.0, "not_after": "01:30"}
OCTOBER, DECEMBER, JUNE = dt.date(2027, 10, 27), dt.date(2027, 12, 7), dt.date(2027, 6, 10)


@cache
def _planned(*evening: tuple[str, Any]) -> tuple[YearPlan, DoorSettings, LightCell]:
    """Larch end in 2027 without its days kept in, and with another evening."""
    data = tomllib.loads((CONFIGS / "larch_end.toml").read_text())
    del data["kept_in"]
    data["evening"] |= dict(evening)
    c = toml_file.validated(data, "larch_end.toml")
    plan = plan_of(c, 2027)
    light = window_light(plan, c.rules, c.light_cell)
    assert c.door is not None and c.spool is not None and c.motor is not None
    drive = drive_constants(c.door, c.spool, c.motor)
    return plan, door_settings(c.rules, c.light_cell, c.clock, drive, window_light=light), c.light_cell


def _lived(
    evening: dict[str, Any], first: dt.date, days: int, dark_from_h: float = np.inf
) -> tuple[CoreRunner, History, list[float]]:
    """The compiled core from a power-up at noon on, under a clear sky; from `dark_from_h` hours on the cell reads 0.

    Also the hours after the power-up at which the alarm CELL came on.
    """
    plan, settings, cell = _planned(*evening.items())
    first_min = (day_number(first) - plan.first_day) * DAY_MIN + NOON
    minutes = np.arange(first_min, first_min + days * DAY_MIN + 1)
    utc_min = plan.first_day * float(DAY_MIN) + minutes - plan.chip_offset_min
    world = np.zeros(len(minutes), WORLD_MINUTE)
    world["clock"] = (plan.first_day - DAY_2000) * DAY_MIN + minutes
    lux = clear_sky_lux_at(utc_min, plan.site.latitude_deg, plan.site.longitude_deg) * cell.sky_view
    world["counts"] = np.where(minutes - first_min < dark_from_h * 60, trial_counts(lux, cell), 0)
    world["power"] = 1
    world["jam_mm"] = world["wedge_mm"] = NO_JAM
    world["reset_s"] = NO_RESET
    world["top_fault"] = world["bottom_fault"] = NO_FAULT
    runner = CoreRunner(settings)
    table = use_table(day_rows(plan), plan.first_day - DAY_2000, runner.library)
    history = runner.run(world)
    del table
    on = (history["alarms"] & int(Alarm.CELL)) != 0
    return runner, history, (np.flatnonzero(on[1:] & ~on[:-1]) / 60).tolist()


@pytest.mark.parametrize(
    ("first", "evening"),
    [
        *((first, evening) for first in (OCTOBER, DECEMBER) for evening in (BY_LIMIT, BY_TWILIGHT, LATER)),
        *((JUNE, evening) for evening in (BY_TWILIGHT, DEEP)),
    ],
    ids=str,
)
def test_a_clear_evening_before_a_late_closing_raises_no_alarm_and_proves_the_clock(
    first: dt.date, evening: dict[str, Any]
) -> None:
    runner, history, _ = _lived(evening, first, 8)
    # C5 may be asked on the first evening before it is dark, at midsummer; its alarm goes with the first dawn.
    assert not np.bitwise_or.reduce(history["alarms"][DAY_MIN:])
    assert (runner.state.proven, runner.state.odd_days, runner.state.odd_today) == (1, 0, 0)


# Dark from 13:00 of the third day on: the last sure light is at most 1 h old, and C5 waits for 26 h.
@pytest.mark.parametrize(("evening", "at_least_h", "at_most_h"), [(BY_TWILIGHT, 1, 2), (BY_LIMIT, 25, 27)], ids=str)
def test_a_cell_dark_at_noon_is_alarmed_within_two_hours_or_where_a_limit_decides_the_next_day(
    evening: dict[str, Any], at_least_h: float, at_most_h: float
) -> None:
    dark_from_h = 49.0
    (after_h,) = (at - dark_from_h for at in _lived(evening, DECEMBER, 5, dark_from_h)[2])
    assert at_least_h <= after_h <= at_most_h
