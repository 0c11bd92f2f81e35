"""Errors of means over weather years such that twice the error either way holds the truth in 95 of 100 runs.

A weather year draws its own light cell, and the few cells that read worst lose most of the birds: the figures of years
are far from normal. Birds out a year of "light alone" less those of "clock and light" had a skewness of 18 in 13,800
years, and a twentieth of the years carried most of its variance. The standard error of so skewed a mean is right on
average (the root mean square over many runs is the scatter of the means), yet most runs meet none of the worst years:
they print a mean that is too small with an error that is much too small, and twice that error holds the truth too
rarely. A straight normal interval leaves two terms out, and `widening` is the factor with both:

  few years   Student's t in place of the normal distribution: Abramowitz & Stegun 1964, 26.7.5. Against JCGM 100:2008
      (GUM), table G.2, in 95.45 %: within 0.3 % from 3 years' degrees of freedom on, 12 % too small at a single one.
  skewed years   the next term of the Edgeworth expansion of a mean over its own standard error, for limits that lie as
      far below as above: Hall 1992, The Bootstrap and Edgeworth Expansion, 2.6 (from memory; held by drawn
      exponential years in tests/study/test_limits_of_mean.py)

With z errors either way, n years, their skewness g and excess kurtosis k, the second is
(g**2 (z**4 + 2 z**2 - 3) / 18 - k (z**2 - 3) / 12) / n. A symmetric bootstrap-t (Efron & Tibshirani 1993, chapter 12)
of the same years held the truth as often, with limits that were wider and had to be drawn.

What no formula can add: years that were not met. docs/coverage.md counts how often the limits hold the truth.
"""

import numpy as np

from sunsched.base.rounding import rounded
from sunsched.study.weather import Floats

TELLING_ERRORS = 2.0  # errors that the limits lie from a mean, and that a difference must exceed
NOTHING_LEFT = 1e-12  # of a sum's size: hundreds of times the last bits that its terms leave
_Z2 = TELLING_ERRORS**2
# Student's quantile over the normal one, in powers of 1 / degrees of freedom.
STUDENT = (
    (_Z2 + 1) / 4,
    (5 * _Z2**2 + 16 * _Z2 + 3) / 96,
    (3 * _Z2**3 + 19 * _Z2**2 + 17 * _Z2 - 15) / 384,
    (79 * _Z2**4 + 776 * _Z2**3 + 1482 * _Z2**2 - 1920 * _Z2 - 945) / 92160,
)
OF_SKEWNESS = (_Z2**2 + 2 * _Z2 - 3) / 18
OF_KURTOSIS = (_Z2 - 3) / 12


def student(n_years: int) -> float:
    """Quantile of Student's t for `n_years` over the normal one; 1 for a single year, which has no error."""
    free = n_years - 1
    return 1.0 + sum(factor / free**power for power, factor in enumerate(STUDENT, 1)) if free > 0 else 1.0


def widening(years: Floats, n_years: int) -> Floats:
    """Factors on standard errors of means over `n_years`, from figures year by year (n, ...); returns shape (...).

    years   all of them, or those that were kept: their skewness and kurtosis stand for the others'
    Never below Student's factor: a kurtosis without skewness would narrow the limits, and is known least of all.
    """
    off = years - years.mean(axis=0)
    squares = (off**2).mean(axis=0)
    some = squares > NOTHING_LEFT * (years**2).mean(axis=0)
    squares = np.where(some, squares, 1.0)
    skewness_2 = (off**3).mean(axis=0) ** 2 / squares**3
    kurtosis = (off**4).mean(axis=0) / squares**2 - 3.0
    more = np.where(some, OF_SKEWNESS * skewness_2 - OF_KURTOSIS * kurtosis, 0.0) / n_years
    found: Floats = student(n_years) + np.maximum(more, 0.0)
    return found


def error_of_mean(variance: float, squares: float, years: Floats, n_years: int) -> float:
    """Error of one mean over `n_years`, widened. The variance is what is left of `squares`, sums of the same unit,
    when the mean's square is taken off: of less than 1e-12 of them only the last bits are left, so it is 0.
    """
    if variance <= NOTHING_LEFT * squares:
        return 0.0
    return rounded(float(np.sqrt(variance / n_years) * widening(years, n_years)))


def error_of_years(years: Floats) -> float:
    """Error of the mean of two or more figures (n_years,), all of which are at hand."""
    return float(years.std(ddof=1) / np.sqrt(len(years)) * widening(years, len(years)))
