"""A cell's offset from the clear-sky model, found from its own evenings."""

from __future__ import annotations

import pytest

from sunsched.study.calibration import EveningFit, calibration, parted
from tests.support.known import known


def fits(offsets: list[float], rms: float = 0.01) -> list[EveningFit]:
    return [EveningFit(row, offset, offset - 0.05, rms) for row, offset in enumerate(offsets)]


def test_dull_evenings_do_not_count() -> None:
    # by hand: four clear evenings around -0.20, three overcast ones far below
    found = calibration(fits([-0.20, -1.1, -0.22, -0.9, -0.18, -0.20, -1.3]))
    assert known(found).evenings == (0, 2, 4, 5)
    assert known(found).dark_log == pytest.approx(-0.20)
    assert known(found).light_log == pytest.approx(-0.25)
    # by hand: sd of (0, -0.02, 0.02, 0) = 0.01633; 1.2533 x 0.01633 / 2 = 0.01023; with 0.03 of the model and the sd
    # once more: root of 0.000105 + 0.0009 + 0.000267 = 0.0357
    assert known(found).sd_log == pytest.approx(0.01633, abs=1e-4)
    assert known(found).se_log == pytest.approx(0.0357, abs=1e-4)


def test_ragged_evenings_do_not_count() -> None:
    assert calibration(fits([-0.2] * 5, rms=0.2)) is None


def test_too_few_evenings_tell_nothing() -> None:
    assert calibration(fits([-0.2, -0.2])) is None
    assert calibration([]) is None


def test_the_error_shrinks_with_the_evenings_but_not_below_their_spread() -> None:
    few, many = (calibration(fits([-0.25, -0.15] * pairs)) for pairs in (2, 200))
    # by hand: sd 0.0577 of four evenings: root of 0.0362^2 + 0.03^2 + 0.0577^2
    # sd 0.0501 of 400: root of 0.0031^2 + 0.03^2 + 0.0501^2
    assert known(few).se_log == pytest.approx(0.0744, abs=2e-4)
    assert known(many).se_log == pytest.approx(0.0585, abs=2e-4)


# By hand: dusk reads 0.7 log10 too much and dawn 0.3 too little, 0.07 a minute: the cell reads 0.2 too much, the clock
# is fast by 0.5 / 0.07 = 7.1 min.
def test_dusk_and_dawn_part_the_cell_from_the_clock() -> None:
    found = parted(known(calibration(fits([0.7] * 4))), calibration(fits([-0.3] * 4)), 0.07)
    assert found.dark_log == pytest.approx(0.2) and found.clock_fast_min == pytest.approx(7.143, abs=0.001)


def test_evenings_alone_cannot_part_them_and_the_error_says_so() -> None:
    dusk = known(calibration(fits([0.3] * 4)))
    alone, both = parted(dusk, None, 0.07), parted(dusk, calibration(fits([0.3] * 4)), 0.07)
    assert alone.clock_fast_min is None and alone.dark_log == pytest.approx(0.3)
    # three minutes of an unchecked clock, 0.21 in log10, on top of the evenings' own error
    assert alone.se_log == pytest.approx((dusk.se_log**2 + 0.21**2) ** 0.5) and alone.se_log > both.se_log
