"""The error of a matched difference in a world that is known: its minutes are the own setting's, its years a pool of
drawn ones. Runs of 48 years taken from the pool with replacement scatter about the pool's own difference, which is the
truth there; their printed errors have to be that scatter, and their limits have to hold that truth.

Longer, with years drawn afresh for every run: python -m tests.study.coverage_proof
"""

from functools import cache
from itertools import combinations

import numpy as np
import pytest

from sunsched.study.block import draw_block, judged_evenings, weather_rng
from sunsched.study.limits_of_mean import TELLING_ERRORS
from sunsched.study.settings import STRATEGIES, Setting, Strategy
from sunsched.study.tally import OPEN_MINUTES, Sums, evening_birds, matched, matched_difference, means
from sunsched.study.weather import Floats, Ints
from tests.support import study_sites as sites

POOL_YEARS, BLOCK_YEARS = 1024, 32
YEARS, RUNS = 48, 600
LUX, SHIFTS = (3.0, 5.0, 8.0), (-6, 0)
PAIRS = list(combinations(STRATEGIES, 2))


@cache
def world() -> tuple[Floats, tuple[Setting, ...], int]:
    """Figures of the pool's evenings year by year, the settings, and the row of the own one: both at 5 lux."""
    c = sites.configuration()
    # The world of the check: cell and birds under one sky, every clock right. Its years are the most skewed.
    found = sites.scene(c, sites.ONE_SKY)
    on = sites.stage(c, sites.settings(found, LUX, SHIFTS), found, model=sites.ONE_SKY)
    own = next(n for n, s in enumerate(on.settings) if (s.strategy, s.label) == ("both", "5 lux"))
    blocks = []
    for block in range(POOL_YEARS // BLOCK_YEARS):
        rng = weather_rng(1, block)
        blocks.append(evening_birds(judged_evenings(on, *draw_block(on, BLOCK_YEARS, rng), rng)))
    return np.concatenate(blocks), on.settings, own


def sums_of(years: Floats) -> Sums:
    """What the comparison keeps of these years."""
    flat = years.reshape(len(years), years.shape[1], -1)
    products = np.stack([of_share.T @ of_share for of_share in np.moveaxis(flat, 1, 0)])
    return Sums(n_years=len(years), birds=[years], bird_sum=flat.sum(axis=0), bird_products=products)


def drawn_rows(n_runs: int, n_years: int = YEARS) -> Ints:
    """Which years of the pool each run has, (n_runs, n_years)."""
    return np.random.default_rng(1).integers(0, POOL_YEARS, (n_runs, n_years))


@cache
def runs() -> list[tuple[Floats, Sums]]:
    """Years of each run, and their sums."""
    pool, _, _ = world()
    return [(pool[rows], sums_of(pool[rows])) for rows in drawn_rows(RUNS)]


def gap(sums: Sums, follow: int, one: Strategy, other: Strategy, with_own: bool = True) -> tuple[float, float, Floats]:
    """The difference, its printed error, and the weights of the figures in it."""
    _, settings, own = world()
    minutes = float(means(sums, follow)[own, OPEN_MINUTES])
    at = matched(sums, settings, follow, minutes, own=own if with_own else None)
    a, b = at[one], at[other]
    assert a is not None and b is not None
    found = matched_difference(sums, follow, a, b)
    return found.mean, found.error, a.weights - b.weights


@cache
def found(follow: int, one: Strategy, other: Strategy) -> tuple[float, Floats, Floats, Floats]:
    """The pool's difference; the runs' differences, printed errors, and standard errors without anything added."""
    truth = gap(sums_of(world()[0]), follow, one, other)[0]
    rows = []
    for years, sums in runs():
        mean, error, weights = gap(sums, follow, one, other)
        by_year = years[:, follow].reshape(YEARS, -1) @ weights
        rows.append((mean, error, by_year.std(ddof=1) / np.sqrt(YEARS)))
    mean, error, plain = np.array(rows).T
    return truth, mean, error, plain


@pytest.mark.parametrize("follow", [0, 1, 2])
def test_the_weights_leave_no_term_of_the_scatter_out(follow: int) -> None:
    for one, other in PAIRS:
        _, mean, _, plain = found(follow, one, other)
        # The root mean square, since a variance is right on average and its root is not. Six hundred runs know a
        # spread to 3 % where the means are normal, to a little less here.
        assert 0.92 < mean.std(ddof=1) / np.sqrt((plain**2).mean()) < 1.08, (one, other)


@pytest.mark.parametrize("follow", [0, 1, 2])
def test_a_printed_error_is_no_smaller_than_the_scatter_of_runs(follow: int) -> None:
    for one, other in PAIRS:
        _, mean, error, _ = found(follow, one, other)
        # Without the terms for skewed and few years 1.04 to 1.17. The more skewed the years, the farther below 1: most
        # runs meet none of the worst years, and the error of those that do has to be the larger.
        assert 0.78 < mean.std(ddof=1) / error.mean() < 1.03, (one, other)


# Least shares of runs whose limits hold the truth; 95 % is claimed, and 600 runs know a share to 1 %. "light - both" is
# the most skewed difference: a run of 48 years that met no bad cell cannot know of one. Without the two terms: 0.92 at
# w = 0 for "light - clock", and 0.89, 0.85 and 0.80 for "light - both".
LEAST_HELD = {0: 0.91, 1: 0.885, 2: 0.83}


@pytest.mark.parametrize("follow", [0, 1, 2])
def test_limits_hold_the_truth(follow: int) -> None:
    for one, other in PAIRS:
        truth, mean, error, _ = found(follow, one, other)
        held = (np.abs(mean - truth) <= TELLING_ERRORS * error).mean()
        assert held >= (LEAST_HELD[follow] if (one, other) == ("light", "both") else 0.93), (one, other, held)


def test_an_error_that_takes_the_own_minutes_as_known_is_far_too_wide() -> None:
    # An independent check found 8.0 printed for a true 1.3, 5.0 for 0.7 and 2.8 for 0.6 ("light - both").
    for follow in range(3):
        _, mean, _, _ = found(follow, "light", "both")
        without = [gap(sums, follow, "light", "both", with_own=False)[1] for _, sums in runs()]
        assert np.mean(without) > 1.5 * mean.std(ddof=1)


def test_light_alone_is_told_from_both() -> None:
    # The same check: with the own minutes' slope light and both always differ significantly at 200 years. Here 48
    # years for birds that follow the Sun; for those that follow the light the gap is a third of a bird: on the pool.
    _, mean, error, _ = found(0, "light", "both")
    assert (np.abs(mean) > TELLING_ERRORS * error).mean() > 0.9
    every, error_of_all, _ = gap(sums_of(world()[0]), 2, "light", "both")
    assert abs(every) > TELLING_ERRORS * error_of_all
