"""The battery's daily balance: it closes, it is monotone, and it gives the days worked out by hand."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from sunsched.base.errors import RangeError
from sunsched.hardware import battery as charge
from sunsched.hardware.battery import ChargeYear, Winter

AUTHORITIES = Path(__file__).parent.parent / "authorities"


def read_rows() -> list[dict[str, str]]:
    with (AUTHORITIES / "battery.csv").open(newline="") as file:
        return list(csv.DictReader(file))


def row_of(**wanted: str) -> dict[str, str]:
    """The one row of battery.csv with these cells."""
    found = [row for row in read_rows() if all(row[key] == value for key, value in wanted.items())]
    assert len(found) == 1
    return found[0]


# By hand: 25 mA for 24 h = 0.60 Ah; 7 Ah x 0.5 [handbook practice, from memory] x 0.8 [cold, from memory] over 0.60
# plus 1.1 mAh of moves = 4.7 days; at 10.5 mA 11 days [physics]
@pytest.mark.parametrize(("standing_ma", "days", "tolerance"), [(25.0, 4.7, 0.05), (10.5, 11.0, 0.1)])
def test_autonomy_by_hand(standing_ma: float, days: float, tolerance: float) -> None:
    used = charge.standing_ah_per_day(standing_ma) + 0.0011
    usable = charge.usable_ah(7.0, 0.5, 0.8)
    assert usable == pytest.approx(2.8)
    assert charge.autonomy_days(usable, used) == pytest.approx(days, abs=tolerance)


def test_autonomy_without_any_use_is_endless() -> None:
    # physics
    assert charge.autonomy_days(2.8, 0.0) == np.inf


# By hand, 52 N in December: 1.25 kWh/m2 x 10 W x 0.7 = 8.8 Wh, / 12 V = 0.73 Ah a day [physics; 0.7 common practice]
def test_a_winter_day_of_panel() -> None:
    assert 12.0 * charge.panel_ah(10.0, 1.25, 0.7, 12.0) == pytest.approx(8.8, abs=0.06)
    assert charge.panel_ah(10.0, 1.25, 0.7, 12.0) == pytest.approx(0.73, abs=0.005)


# By hand: 23.5 h at 10.5 mA and 0.5 h at 25 mA = 0.25925 Ah
def test_a_day_of_the_board() -> None:
    assert charge.board_ah_per_day(10.5, 25.0, 30.0) == pytest.approx(0.25925)


# tests/authorities/battery.csv: 85 % at 0 C and 60 % at -20 C, "from memory, not checked"
def test_cold_is_the_datasheet_row_marked_from_memory() -> None:
    row = row_of(quantity="available capacity")
    assert row["how_read"].startswith("from memory")
    at_0, at_minus_20 = (float(part) / 100 for part in row["value"].split("/"))
    assert charge.cold_share([0.0, -20.0]) == pytest.approx([at_0, at_minus_20])
    assert charge.cold_share([-40.0, 35.0]) == pytest.approx([at_minus_20, 1.0])


# tests/authorities/battery.csv, Victron Energy Unlimited sec. 2.5.10, read: VRLA AGM 3 % a month at 20 C
def test_self_discharge_over_a_month_is_the_published_share() -> None:
    row = row_of(battery="VRLA AGM, Ca", condition="20 C")
    assert row["how_read"] == "read"
    share = float(row["value"]) / 100
    held = 7.0 * (1.0 - charge.self_discharge_share_per_day(share)) ** (365.25 / 12)
    assert held == pytest.approx(7.0 * (1 - share))


years = st.integers(0, 2**32 - 1).map(lambda seed: np.random.default_rng(seed).gamma(1.0, 0.4, (3, 40)))


def run(
    panel: NDArray[np.float64], used: float = 0.3, capacity: float = 7.0, leak: float = 0.001, **more: int
) -> ChargeYear:
    return charge.charge_year(panel, used, capacity, leak, **more)


# Conservation of charge: every day, to rounding.
@settings(deadline=None)
@given(years, st.floats(0, 3), st.floats(0.5, 50), st.floats(0, 0.02), st.integers(0, 39))
def test_the_balance_closes_on_every_day(
    panel: NDArray[np.float64], used: float, capacity: float, leak: float, start_row: int
) -> None:
    year = run(panel, used, capacity, leak, start_row=start_row)
    change = year.panel - year.overflow - year.used - year.self_discharge + year.unmet
    assert np.abs(year.end - year.start - change).max() < 1e-12 * max(1.0, capacity)
    assert np.all((year.end >= 0) & (year.end <= capacity))
    following = [row for row in range(40) if row != start_row]
    assert np.array_equal(year.start[:, following], np.roll(year.end, 1, axis=1)[:, following])
    assert np.all(year.start[:, start_row] == capacity)
    # nothing overflows from a battery that is not full, nothing is refused by one that is not empty
    assert np.all((year.overflow == 0) | (year.end == capacity))
    assert np.all((year.unmet == 0) | (year.end == 0))


def judged(year: ChargeYear, capacity: float = 7.0, cold: float | NDArray[np.float64] = 0.8) -> Winter:
    return charge.winter(year, capacity, 0.5, cold)


# Physics: more panel is never worse, on any day or in any count.
@settings(deadline=None)
@given(years, st.floats(1, 4))
def test_more_panel_is_never_worse(panel: NDArray[np.float64], factor: float) -> None:
    less, more = run(panel), run(panel * factor)
    assert np.all(more.end >= less.end - 1e-12)
    assert np.all(more.unmet <= less.unmet + 1e-12)
    for name in ("over_limit_days", "flat_days", "longest_flat_run", "longest_unfilled_run"):
        assert np.all(getattr(judged(more), name) <= getattr(judged(less), name)), name


# Physics: a colder winter is never better, day by day or in any count; the charge itself is the same.
@settings(deadline=None)
@given(years, st.floats(-30, 25), st.lists(st.floats(0, 20), min_size=40, max_size=40))
def test_a_colder_winter_is_never_better(panel: NDArray[np.float64], warm_c: float, colder_by_c: list[float]) -> None:
    year = run(panel, used=0.6)
    warm = judged(year, cold=charge.cold_share(np.full(40, warm_c))[None, :])
    cold = judged(year, cold=charge.cold_share(warm_c - np.array(colder_by_c))[None, :])
    for name in ("over_limit_days", "flat_days", "longest_flat_run"):
        assert np.all(getattr(cold, name) >= getattr(warm, name)), name


# By hand: no panel, no self-discharge: 2.8 Ah at 0.2531 Ah a day last 11.06 days, so day 12 ends past the limit; the
# 5.6 Ah that the cold leaves last 22.1 days, so day 23 ends flat; 7 Ah are gone within day 28
def test_no_panel_gives_the_days_worked_out_by_hand() -> None:
    year = run(np.zeros((1, 40)), used=0.2531, leak=0.0)
    outcome = judged(year)
    assert int(outcome.over_limit_days[0]) == 40 - 11
    assert int(outcome.flat_days[0]) == int(outcome.longest_flat_run[0]) == 40 - 22
    assert year.end[0, 26] == pytest.approx(7.0 - 27 * 0.2531)
    assert year.unmet[0, 26] == 0.0 and year.unmet[0, 27] == pytest.approx(28 * 0.2531 - 7.0)
    assert not outcome.refilled[0]


# By hand: 60 days without Sun inside a year of plenty; the run begins and ends on the right rows
def test_a_polar_night_is_one_run() -> None:
    panel = np.full((1, 365), 2.0)
    panel[:, 330:365] = panel[:, :25] = 0.0
    year = run(panel, used=0.05, leak=0.0, start_row=171)
    outcome = charge.winter(year, 7.0, 0.5, 0.8, start_row=171)
    assert int(outcome.longest_unfilled_run[0]) == 60 + 1  # two days of 2 Ah give 3.0 Ah back, the second ends full
    assert float(outcome.lowest_ah[0]) == pytest.approx(7.0 - 60 * 0.05)
    assert int(outcome.lowest_row[0]) == 24
    assert int(outcome.over_limit_days[0]) == 4  # 2.8 Ah are passed on days 57 to 60; day 61 ends 1.05 Ah short
    assert bool(outcome.refilled[0])


def test_runs_are_followed_round_the_new_year() -> None:
    # by hand
    days = np.array([[1, 1, 0, 0, 1, 1, 1], [0, 0, 0, 0, 0, 0, 0], [1, 1, 1, 1, 1, 1, 1]], dtype=bool)
    assert charge.longest_runs(days, start_row=3).tolist() == [5, 0, 7]
    assert charge.longest_runs(days).tolist() == [3, 0, 7]


# Wilson 1927, worked by hand: 0 of 200 gives 0 to 1.96^2 / (200 + 1.96^2) = 1.9 %; 10 of 20 gives 30 to 70 %
def test_chance_with_its_limits() -> None:
    assert charge.chance_with_limits(0, 200) == pytest.approx((0.0, 0.0, 0.0188), abs=1e-4)
    assert charge.chance_with_limits(10, 20) == pytest.approx((0.5, 0.299, 0.701), abs=1e-3)


def test_a_row_outside_the_year_is_refused() -> None:
    with pytest.raises(RangeError, match=r"^start_row is 40; wanted 0 to 39$"):
        run(np.zeros((1, 40)), start_row=40)
