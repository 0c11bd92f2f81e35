"""Worlds so simple that every figure has one exact answer."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sunsched.config.configuration import Configuration
from sunsched.hardware.parts import LightCell
from sunsched.sky.daylight import clear_sky_lux, refraction_deg
from sunsched.study.scene import Scene
from sunsched.study.tally import BIRD_FIGURES, DOOR_FIGURES, means, year_figures
from tests.support import study_sites as sites

BIRDS_OUT, OPEN_MIN = BIRD_FIGURES.index("birds_out"), BIRD_FIGURES.index("open_after_dark_min")


@pytest.fixture(scope="module")
def clear_sky_site() -> tuple[Configuration, Scene]:
    """A cell without spread that sees the whole sky, dark at what a clear sky gives at the planned angle."""
    c = sites.configuration(cell=replace_cell(sky_view=1.0, spread=1.0))
    return c, sites.scene(c)


def replace_cell(**keys: float) -> LightCell:
    return sites.NO_SPREAD.model_copy(update=keys)


def test_under_a_clear_sky_light_and_clock_differ_by_the_confirmation_alone(
    clear_sky_site: tuple[Configuration, Scene],
) -> None:
    c, found = clear_sky_site
    # What a clear sky gives with the Sun 4.5 degrees below the horizon: both ask for the same moment.
    made = sites.settings(found, dark_lux=(float(clear_sky_lux(-4.5 + refraction_deg(-4.5))),))
    block = sites.clear_block(sites.stage(c, made, found))
    by_light, by_clock, by_both = block.close_min
    # Light is held at its middle for a minute, so the first dark minute is the planned one or that before it, half
    # and half; 100 s later is one minute on.
    late = by_light - by_clock
    assert set(np.unique(late)) == {0.0, 1.0}
    assert late.mean() == pytest.approx(0.5, abs=0.08)
    assert np.array_equal(by_both, by_light)


def test_without_spread_the_trade_off_is_a_step(clear_sky_site: tuple[Configuration, Scene]) -> None:
    c, found = clear_sky_site
    shifts = (-30, -1, 0, 1, 30)
    made = sites.settings(found, shifts_min=shifts)
    block = sites.clear_block(sites.stage(c, made, found))
    # Every bird passes in the same minute of an evening, so a door shuts out all or none.
    entry = block.birds_in_min[0]
    assert np.ptp(entry, axis=0).max() == 0
    # With no weather the followers of light and of Sun are the same birds, but for a rounding of 0.01 in log10 lux.
    apart = np.abs(block.birds_in_min[0] - block.birds_in_min[2])
    assert apart.max() <= 1 and apart.mean() < 0.1
    figures = year_figures(block)
    by_shift = figures.birds[0, 0, 1 : 1 + len(shifts), BIRDS_OUT]
    out_evenings = [(entry[0] > found.evening.planned_min + s).sum() for s in shifts]
    assert by_shift.tolist() == [6.0 * n for n in out_evenings]
    assert by_shift[0] == 6 * 365 and by_shift[-1] == 0


def test_minutes_open_are_those_after_the_last_bird(clear_sky_site: tuple[Configuration, Scene]) -> None:
    c, found = clear_sky_site
    block = sites.clear_block(sites.stage(c, sites.settings(found, shifts_min=(0, 30)), found))
    figures = year_figures(block)
    minutes = figures.birds[0, 0, 1:3, OPEN_MIN]
    expected = (found.evening.planned_min - block.birds_in_min[0][0]).mean()
    assert minutes[0] == pytest.approx(expected)
    assert minutes[1] == pytest.approx(expected + 30)


def test_a_flock_of_none_gives_no_birds_and_the_same_door() -> None:
    c = sites.configuration(birds=0)
    found = sites.scene(c)
    sums = sites.summed(sites.stage(c, sites.settings(found), found), 2)
    assert not means(sums, 0).any()
    assert sums.door_sum is not None
    assert sums.door_sum[1, DOOR_FIGURES.index("door_moves")] == 2 * 730


def test_a_large_flock_is_scaled_from_a_small_one() -> None:
    c = sites.configuration(birds=12)
    found = sites.scene(c)
    small = sites.stage(c, sites.settings(found), found)
    twelve, thousand = (sites.summed(on, 2) for on in (small, replace(small, birds=1200)))
    assert np.allclose(means(thousand, 1)[:, BIRDS_OUT], 100 * means(twelve, 1)[:, BIRDS_OUT])


def test_a_polar_night_keeps_birds_in_and_the_clock_decides() -> None:
    c = sites.configuration(latitude_deg=80.0)
    found = sites.scene(c)
    on = sites.stage(c, sites.settings(found), found)
    block = sites.clear_block(on)
    by_light, by_clock, by_both = block.close_min
    midwinter, midsummer = 355, 172
    # Never light enough at 80 N in December: a hen stays in, an unproven cell leaves the door to the clock.
    assert block.birds_in_min[1][0, midwinter] < found.evening.start_min[midwinter] + 10
    assert by_both[midwinter] == by_clock[midwinter] == found.evening.planned_min[midwinter]
    # Never dark in June: light alone does not close at all, the clock does.
    assert np.isnan(by_light[midsummer]) and by_both[midsummer] == by_clock[midsummer]
    assert np.isinf(block.birds_out_min[1][0, midwinter])
    figures = year_figures(block)
    assert figures.door[0, 0, DOOR_FIGURES.index("never_shut_nights")] > 100
    assert figures.door[0, 2, DOOR_FIGURES.index("never_shut_nights")] == 0


def test_days_on_which_the_door_stays_down_count_for_no_strategy() -> None:
    c = sites.configuration()
    rules = {"kept_in": ({"from": "01-01", "to": "03-31", "why": "housing order"},)}
    kept = type(c).model_validate({**c.model_dump(by_alias=True), **rules})
    found = sites.scene(kept)
    sums = sites.summed(sites.stage(kept, sites.settings(found), found), 2)
    assert sums.door_sum is not None
    moves = sums.door_sum[:, DOOR_FIGURES.index("door_moves")]
    assert moves.tolist() == [2 * 2 * (365 - 90)] * 3
