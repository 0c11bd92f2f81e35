"""Light to counts and back against datasheet figures and sums done by hand."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypedDict

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sunsched.base.errors import RangeError
from sunsched.hardware import light_cell as cell


class Cell(TypedDict):
    """The part's own two figures, as keyword arguments."""

    r10_ohm: float
    gamma: float


CELL: Cell = {"r10_ohm": 50_000.0, "gamma": 0.7}


# By hand: floor(1024 x 10k / (10k + 50k (E/10)^-0.7)) [physics; gamma's definition: photoresistor datasheets]
TEN_KILOHM = [(400, 743), (40, 353), (10, 170), (3.4, 87), (1, 39), (0.25, 15)]


@pytest.mark.parametrize(("lux", "counts"), TEN_KILOHM)
def test_counts_of_a_ten_kilohm_divider(lux: float, counts: int) -> None:
    assert cell.divider_counts(lux, **CELL, fixed_ohm=10_000) == counts


# By hand, another cell (R10 12.65 kohm): 1024 x 10 / 22.65 = 452.1 at 10 lux [physics]
@pytest.mark.parametrize(("lux", "counts"), [(1, 139), (5, 335), (10, 452), (30, 645), (100, 817)])
def test_counts_of_a_lower_cell(lux: int, counts: int) -> None:
    # within one count: the published row does not print the cell's resistance to more than four figures
    assert abs(int(cell.divider_counts(lux, 12_650, 0.7, 10_000)) - counts) <= 1


# Formula printed in some datasheets with 1023 steps: code = 1023 Rf / (Rf + R) [from memory]
def test_the_other_number_of_steps() -> None:
    # by hand: 1023 x 10 / 60 = 170.5; 1024 x 10 / 60 = 170.67; equal resistors: 511.5 and 512
    assert cell.divider_counts(10, **CELL, fixed_ohm=50_000, adc_steps=1023) == 511
    assert cell.divider_counts(10, **CELL, fixed_ohm=50_000, adc_steps=1024) == 512


def test_dark_gives_none_and_no_light_passes_the_top() -> None:
    counts = cell.divider_counts([0.0, 1e12], **CELL, fixed_ohm=10_000)
    assert counts.tolist() == [0, 1023]
    assert [cell.top_count(steps) for steps in (1023, 1024, 4095, 4096)] == [1023, 1023, 4095, 4095]


# By hand: at 3.4 lux R = 106.4 kohm; slope 1024 x 0.7 / 4 = 179; with 10 kohm x = 0.0859, slope 56 [physics]
def test_best_fixed_resistor_and_its_slope() -> None:
    best_ohm = cell.best_fixed_ohm(3.4, **CELL)
    assert best_ohm == pytest.approx(106_400, rel=0.005)
    assert round(float(cell.counts_per_efold(3.4, **CELL, fixed_ohm=best_ohm))) == 179
    assert round(float(cell.counts_per_efold(3.4, **CELL, fixed_ohm=10_000))) == 56


def test_no_other_resistor_is_steeper() -> None:
    best = float(cell.counts_per_efold(3.4, **CELL, fixed_ohm=cell.best_fixed_ohm(3.4, **CELL)))
    others = [float(cell.counts_per_efold(3.4, **CELL, fixed_ohm=ohm)) for ohm in np.geomspace(1e3, 1e7, 200)]
    assert max(others) <= best


# R10 ranges of the GL55xx series (a compiled table, read at second hand; the last row and gamma from memory)
GL55XX = [
    (2e3, 6e3, 0.6),
    (5e3, 10e3, 0.6),
    (10e3, 20e3, 0.7),
    (16e3, 50e3, 0.7),
    (30e3, 90e3, 0.8),
    (45e3, 140e3, 0.9),
]


def test_tolerance_moves_a_threshold_by_about_a_factor_of_two() -> None:
    # published practice: a factor of 1.9 in lux either way; the six parts spread around it
    factors = [cell.spread_of_tolerance(*part) for part in GL55XX]
    assert min(factors) < 1.9 < max(factors)
    assert float(np.exp(np.mean(np.log(factors)))) == pytest.approx(1.9, rel=0.06)


def test_two_sigmas_of_the_default_spread() -> None:
    # log10(1.9) / 2 = 0.139: the 0.14 used for a part's standard deviation
    assert cell.spread_sd_log10(1.9) == pytest.approx(0.14, abs=0.002)


def test_threshold_with_its_spread() -> None:
    # by hand: at 5 / 1.9 = 2.632 lux R = 127.3 k: 1024 / 2.273 = 450.5; at 5: 565.0; at 9.5 51.8 k: 674.5
    found = cell.threshold_counts(5.0, **CELL, fixed_ohm=100_000, adc_steps=1024, spread=1.9)
    assert (found.counts_low, found.counts, found.counts_high) == (450, 565, 674)
    assert found.lux_high / found.lux_low == pytest.approx(1.9**2)


# ATmega328P datasheet: optimized for sources of about 10 kohm or less [public source, from memory]
def test_source_resistance() -> None:
    # by hand: 100 k and 106.4 k in parallel = 51.5 k; greatest fixed one: 1 / (1/10k - 1/106.4k) = 11.04 k
    assert float(cell.source_ohm(3.4, **CELL, fixed_ohm=100_000)) == pytest.approx(51_500, rel=0.005)
    greatest = cell.greatest_fixed_ohm(3.4, **CELL)
    assert greatest == pytest.approx(11_040, rel=0.005)
    assert float(cell.source_ohm(3.4, **CELL, fixed_ohm=greatest)) == pytest.approx(cell.ADC_SOURCE_OHM)
    assert cell.greatest_fixed_ohm(10_000, **CELL) == float("inf")


# IEC 60063: the E12 series
@pytest.mark.parametrize(("ohm", "preferred"), [(106_400, 100_000), (11_040, 12_000), (8_300, 8_200), (95, 100)])
def test_preferred_values(ohm: int, preferred: int) -> None:
    assert cell.preferred_ohm(ohm) == preferred


def test_preferred_value_below_a_bound() -> None:
    assert cell.preferred_ohm(11_040, at_most=11_040) == 10_000


# ROHM BH1750FVI technical note 2009.04 Rev.B [read]: lux = count / 1.2; full scale 54612.5 lx, 27306.25 lx
def test_digital_sensor_by_its_makers_figures() -> None:
    one_lux, half_lux = cell.DIGITAL_SENSORS[:2]
    assert one_lux.counts([5.0, 15.0, 1000.0]).tolist() == [6, 18, 1200]
    assert one_lux.full_scale_lux == pytest.approx(54_612.5)
    assert half_lux.full_scale_lux == pytest.approx(27_306.25)
    assert one_lux.counts(1e9) == 65_535
    row = cell.sensor_row(one_lux, [5.0])
    # by hand: 5 x 0.96 = 4.8 and 5 x 1.44 = 7.2
    assert (row["counts_low"], row["counts_high"]) == ([4], [8])


@given(st.floats(0.05, 20_000), st.floats(1e3, 1e6), st.floats(0.5, 1.0), st.floats(1e3, 1e6))
def test_counts_read_back_within_their_step(lux: float, r10_ohm: float, gamma: float, fixed_ohm: float) -> None:
    counts = cell.divider_counts(lux, r10_ohm, gamma, fixed_ohm)
    found = float(cell.divider_lux(counts, r10_ohm, gamma, fixed_ohm))
    assert cell.divider_counts(found, r10_ohm, gamma, fixed_ohm) == counts


@given(st.lists(st.floats(0, 1e5), min_size=2, max_size=20))
def test_more_light_never_gives_fewer_counts(lux: list[float]) -> None:
    counts = cell.divider_counts(sorted(lux), **CELL, fixed_ohm=10_000)
    assert bool(np.all(np.diff(counts) >= 0))


@pytest.mark.parametrize(
    "call",
    [
        lambda: cell.divider_counts(-1.0, **CELL, fixed_ohm=10_000),
        lambda: cell.divider_counts(1.0, 0.0, 0.7, 10_000),
        lambda: cell.divider_counts(1.0, 50_000, float("nan"), 10_000),
        lambda: cell.divider_lux(1024, **CELL, fixed_ohm=10_000),
        lambda: cell.divider_lux(-1, **CELL, fixed_ohm=10_000),
        lambda: cell.spread_of_tolerance(20e3, 10e3, 0.7),
        lambda: cell.spread_sd_log10(0.9),
        lambda: cell.top_count(1),
        lambda: cell.DIGITAL_SENSORS[0].counts(-0.1),
    ],
)
def test_what_cannot_be_is_refused(call: Callable[..., Any]) -> None:
    with pytest.raises(RangeError):
        call()
