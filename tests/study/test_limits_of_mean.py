"""The factor on a standard error: against a published table for few years, against drawn years for skewed ones."""

import math
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as numpy_st

from sunsched.study.limits_of_mean import (
    OF_KURTOSIS,
    OF_SKEWNESS,
    STUDENT,
    TELLING_ERRORS,
    error_of_mean,
    error_of_years,
    student,
    widening,
)

# JCGM 100:2008 (GUM), table G.2, column 95.45 %, from memory: degrees of freedom, and t for them.
GUM_T = {2: 4.53, 3: 3.31, 4: 2.87, 5: 2.65, 7: 2.43, 10: 2.28, 15: 2.18, 20: 2.13, 30: 2.09, 50: 2.05, 100: 2.025}


@pytest.mark.parametrize(("free", "t"), GUM_T.items())
def test_few_years_have_students_limits(free: int, t: float) -> None:
    assert TELLING_ERRORS * student(free + 1) == pytest.approx(t, rel=0.01 if free == 2 else 0.003)


def test_a_single_year_is_left_alone() -> None:
    assert student(1) == 1.0 and widening(np.ones((1, 3)), 1).tolist() == [1.0, 1.0, 1.0]


def held(draw, n_years: int, runs: int, widened: bool) -> float:  # type: ignore[no-untyped-def]
    """Share of runs whose limits hold a truth of 0."""
    years = draw(np.random.default_rng(2), (n_years, runs))
    error = years.std(axis=0, ddof=1) / math.sqrt(n_years)
    return float(
        (np.abs(years.mean(axis=0)) <= TELLING_ERRORS * error * (widening(years, n_years) if widened else 1)).mean()
    )


def exponential(rng, shape):  # type: ignore[no-untyped-def]
    """Skewness 2, excess kurtosis 6 (any handbook of distributions)."""
    return rng.standard_exponential(shape) - 1.0


def test_the_expansion_foretells_how_often_plain_errors_of_exponential_years_hold() -> None:
    # No figure of the program: what plain limits hold falls short of a normal distribution's by 2 z phi(z) times the
    # sum of the terms. 40,000 runs know a share to 0.13 %.
    normal = NormalDist()
    n, z = 60, TELLING_ERRORS
    terms = STUDENT[0] + OF_SKEWNESS * 2.0**2 - OF_KURTOSIS * 6.0
    foretold = normal.cdf(z) - normal.cdf(-z) - 2 * z * normal.pdf(z) * terms / n
    assert held(exponential, n, 40_000, widened=False) == pytest.approx(foretold, abs=0.004)


def test_widened_limits_of_skewed_years_hold_more_of_what_they_claim() -> None:
    plain, widened = (held(exponential, 30, 20_000, one) for one in (False, True))
    assert plain < 0.925 and widened > 0.94  # 95.45 % is what two errors claim


def test_widened_limits_of_normal_years_hold_what_they_claim() -> None:
    def normal(rng, shape):  # type: ignore[no-untyped-def]
        return rng.standard_normal(shape)

    for n_years in (5, 12):
        # 20,000 runs know a share to 0.15 %. What is above comes of a few years' own chance skewness.
        assert held(normal, n_years, 20_000, widened=False) < 0.945
        assert 0.950 < held(normal, n_years, 20_000, widened=True) < 0.975


YEARS = numpy_st.arrays(np.float64, st.integers(2, 60), elements=st.floats(-1e4, 1e4, width=32))


@given(YEARS)
def test_no_limits_are_narrower_than_students(years: np.ndarray) -> None:
    factor = float(widening(years, len(years)))
    # n years have a skewness of at most the root of n, so its square over n stays below 1.
    assert student(len(years)) <= factor <= student(len(years)) + OF_SKEWNESS + OF_KURTOSIS * 3 / len(years)


@given(YEARS.filter(lambda years: np.ptp(years) > 1e-3), st.floats(0.5, 100), st.sampled_from((-1.0, 1.0)))
def test_units_and_signs_do_not_matter(years: np.ndarray, scale: float, sign: float) -> None:
    once, twice = (float(widening(one, len(years))) for one in (years, sign * scale * years))
    assert twice == pytest.approx(once, rel=1e-6)


def test_years_that_are_all_alike_have_no_error() -> None:
    same = np.full(20, 0.1)
    assert error_of_mean(float(same.var(ddof=1)), 0.01, same, 20) == 0.0


def test_one_figure_and_all_years_at_hand_agree() -> None:
    years = np.random.default_rng(3).standard_exponential(40)
    squares = float((years**2).mean())
    assert error_of_mean(float(years.var(ddof=1)), squares, years, 40) == pytest.approx(error_of_years(years), rel=1e-8)
    # Twice as many years of which these were kept: their shape counts, over the number of all.
    assert widening(years, 80) - student(80) == pytest.approx((widening(years, 40) - student(40)) / 2)
