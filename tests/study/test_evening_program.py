"""The evening of a picture is the program's own: the compiled core lives through the days before and the evening."""

from __future__ import annotations

import ctypes
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from sunsched.base.civil_time import clock_text
from sunsched.config import toml_file
from sunsched.config.configuration import Configuration
from sunsched.controller.door_settings import DoorSettings, door_settings
from sunsched.controller.door_window import evening_windows, morning_windows
from sunsched.controller.words import Want
from sunsched.job import pipeline
from sunsched.plan.window_light import window_light
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.report.page.page import evening_rows
from sunsched.report.pictures.evening import OVERCAST, evening_chart, evening_of
from sunsched.study.evening_program import Sky, closing, closings, minute_counts
from tests.conftest import CONFIGS
from tests.controller.core_library import CInputs, COutputs, c_settings, core_library
from tests.controller.twin_and_core import Table, booted
from tests.trials.door_world import DAY_2000, day_rows

DAYS_BEFORE = 3  # a first night proves the time, a second the cell's proof under this sky
CountsOf = Callable[[NDArray[np.int64]], NDArray[np.int64]]


@cache
def planned(path: Path) -> tuple[YearPlan, Configuration, DoorSettings]:
    """Plan of 2027, configuration and the program's constants of a shipped configuration."""
    c = toml_file.read(str(path))
    plan = pipeline.plan_of(c, 2027)
    settings = door_settings(c.rules, c.light_cell, c.clock, window_light=window_light(plan, c.rules, c.light_cell))
    return plan, c, settings


def lived_wants(plan: YearPlan, settings: DoorSettings, row: int, counts_of: CountsOf) -> NDArray[np.int64]:
    """Where the compiled core wants the door in each minute of the two days from a row's midnight, after DAYS_BEFORE.

    counts_of   the cell's counts for chip minutes of the row's date; each is held for its minute
    """
    library, table = core_library(), Table(day_rows(plan), plan.first_day - DAY_2000)
    table.hand_to(library)
    minutes = np.arange(-DAYS_BEFORE * 1440, 2 * 1440)
    clock = (plan.first_day + row - DAY_2000) * 1440 + minutes
    inputs = np.zeros(len(minutes) * 60, np.dtype(CInputs))
    inputs["clock_valid"] = 1
    inputs["clock_day"], inputs["clock_min"] = np.repeat(clock // 1440, 60), np.repeat(clock % 1440, 60)
    inputs["light_counts"] = np.repeat(counts_of(minutes), 60)
    inputs["top"] = 1
    outputs = np.zeros(len(inputs), np.dtype(COutputs))
    given, told = (
        array.ctypes.data_as(ctypes.POINTER(kind)) for array, kind in ((inputs, CInputs), (outputs, COutputs))
    )
    state = booted(settings, None, library)
    library.trial_seconds(ctypes.byref(state), ctypes.byref(c_settings(settings)), given, len(inputs), told, None)
    return np.asarray(outputs["want"].reshape(-1, 60)[DAYS_BEFORE * 1440 :, -1], np.int64)


def lived_closing(plan: YearPlan, settings: DoorSettings, row: int, counts_of: CountsOf) -> int:
    """The chip minute in which the core first wants the door down after the row's noon."""
    noon = int(plan.noon_min[row])
    return noon + int(np.argmax(lived_wants(plan, settings, row, counts_of)[noon:] == Want.DOWN))


@pytest.mark.parametrize("share", [1.0, OVERCAST], ids=["clear", "dull"])
def test_a_pictures_evening_closes_when_the_program_does(config_path: Path, share: float) -> None:
    plan, c, settings = planned(config_path)
    to_civil = plan.civil_min(plan.close_min) - plan.close_min
    for row in evening_rows(plan):
        evening = evening_of(plan, c.rules, c.light_cell, row)
        drawing = evening_chart(plan, c.rules, c.light_cell, row, "e")
        assert evening is not None and drawing is not None

        def counts(minutes: NDArray[np.int64], row: int = row) -> NDArray[np.int64]:
            return minute_counts(plan, c.light_cell, row, minutes, share)

        minute = lived_closing(plan, settings, row, counts) + float(to_civil[row])
        assert (evening.clear if share == 1 else evening.dull)[0] == minute
        assert clock_text(round(minute)) in drawing.title and clock_text(round(minute)) in drawing.description


def test_evenings_stepped_together_close_as_each_by_itself(config_path: Path) -> None:
    plan, c, _ = planned(config_path)
    skies = [Sky(row, share) for row in (0, *evening_rows(plan), plan.n_days - 1) for share in (1.0, OVERCAST, 0.01)]
    together = closings(plan, c.rules, c.light_cell, skies)
    assert together == [closing(plan, c.rules, c.light_cell, *sky) for sky in skies]
    assert any(one is not None for one in together)


def under(plan: YearPlan, c: Configuration, row: int, evening: int) -> CountsOf:
    """Clear days, but from 40 min before the evening's window on `evening` counts, after a fall of half an hour."""
    first = int(evening_windows(plan, c.rules).first_min[row])

    def counts(minutes: NDArray[np.int64]) -> NDArray[np.int64]:
        clear = minute_counts(plan, c.light_cell, row, minutes, 1.0)
        share = np.clip((minutes - (first - 40)) / 30, 0, 1)
        held = np.rint(clear + share * (evening - clear)).astype(np.int64)
        held += np.where(held > 50, minutes % 3 * 5, 0)  # a light that does not change is a lamp
        return np.where(minutes < 1440 + int(plan.noon_min[row]) - 720, held, clear)

    return counts


def test_the_light_moves_the_door_within_its_window_and_no_further(config_path: Path) -> None:
    plan, c, settings = planned(config_path)
    windows = evening_windows(plan, c.rules)
    row = evening_rows(plan)[0]  # near an equinox the nights are dark and the days light everywhere
    bright = settings.dusk_counts + 20
    for evening, window in ((0, windows.first_min), (bright, windows.last_min)):
        assert lived_closing(plan, settings, row, under(plan, c, row, evening)) == window[row]


# By hand, from configs/birch_hollow.toml: not_after 23:00 and cell_until_min 20 let the light close at 23:20. A dull
# evening of 11 May is the last but one before the nights without dark, and still light at 23:20.
def test_a_limit_binds_the_planned_minute_and_the_light_may_pass_it() -> None:
    plan, c, settings = planned(CONFIGS[0].parent / "birch_hollow.toml")
    row = 130
    to_civil = plan.civil_min(plan.close_min) - plan.close_min
    known = plan.close_min != NO_MINUTE
    assert float((plan.close_min + to_civil)[known].max()) == 23 * 60

    def counts(minutes: NDArray[np.int64]) -> NDArray[np.int64]:
        return minute_counts(plan, c.light_cell, row, minutes, OVERCAST)

    def shown(minute: int) -> str:
        return clock_text(minute + int(to_civil[row]))

    assert shown(int(plan.close_min[row])) == "23:00"
    windows = evening_windows(plan, c.rules)
    assert (shown(int(windows.first_min[row])), shown(int(windows.last_min[row]))) == ("22:50", "23:20")
    assert shown(lived_closing(plan, settings, row, counts)) == "23:20"
    without = c.evening.model_copy(update={"cell_from_min": 0, "cell_until_min": 0})
    alone = door_settings(c.rules.model_copy(update={"evening": without}), c.light_cell, c.clock)
    assert shown(lived_closing(plan, alone, row, counts)) == "23:00"


# By hand, from configs/larch_end.toml: not_before 06:30 and cell_from_min -10 let the light open at 06:20.
def test_an_opening_limit_binds_the_planned_minute_too() -> None:
    plan, c, settings = planned(CONFIGS[0].parent / "larch_end.toml")
    row = evening_rows(plan)[1]

    def counts(minutes: NDArray[np.int64]) -> NDArray[np.int64]:
        return minute_counts(plan, c.light_cell, row, minutes, 1.0)

    after_midnight = lived_wants(plan, settings, row, counts)[1440:]
    opened = int(np.argmax(after_midnight == Want.UP))
    to_civil = int((plan.civil_min(plan.open_min) - plan.open_min)[row + 1])
    assert opened == morning_windows(plan, c.rules).first_min[row + 1]
    assert clock_text(int(plan.open_min[row + 1]) + to_civil) == "06:30"
    assert clock_text(opened + to_civil) == "06:20"
