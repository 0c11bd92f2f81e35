"""What nights leave open: limits on the share left out, w under a noisy cell, and the yearly angle."""

import numpy as np
import pytest

from sunsched.base.errors import LogError
from sunsched.study import observations
from sunsched.study.night_limits import left_out_limits, update_of
from tests.study.coverage_proof import nights_of


# An independent check: keepers who ask to leave out 5 % of nights get 0.3 to 10.7 % (5 to 95 % of them, about 20 to 60
# nights). By hand for the latest of 19: the share is beta(1, 19), its quantiles 1 - 0.95^(1/19) and 1 - 0.05^(1/19).
def test_the_share_left_out_is_an_average_with_limits() -> None:
    mean, low, high = left_out_limits(19, 19)
    assert mean == pytest.approx(0.05)
    assert (low, high) == pytest.approx((1 - 0.95 ** (1 / 19), 1 - 0.05 ** (1 / 19)), abs=1e-6)
    mean, low, high = left_out_limits(40, 39)
    # beta(2, 39): chance below x is 1 - (1-x)^40 - 40 x (1-x)^39, by hand
    assert 1 - (1 - low) ** 40 - 40 * low * (1 - low) ** 39 == pytest.approx(0.05, abs=1e-6)
    assert low < 0.02 and 0.1 < high < 0.13


def test_limits_close_in_with_the_nights() -> None:
    few, many = left_out_limits(40, 39), left_out_limits(2000, 1950)
    assert many[2] - many[1] < 0.3 * (few[2] - few[1])


# The same check: with a cell noise of 0.2 in log10 the interval of w, two standard errors of the slope, held the truth
# in 30 of 100. It is now to hold in 90 or more at any noise to 0.3; the whole of it is in docs/coverage.md.
def test_a_noisy_cell_pulls_w_down_and_the_interval_allows_for_it() -> None:
    every = [observations.following(*nights_of(1.0, 0.2, 50, np.random.default_rng(k))) for k in range(100)]
    known = [one for one in every if one is not None]
    assert np.mean([abs(one.share - 1.0) < 2 * one.error for one in known]) < 0.75
    assert np.mean([one.low <= 1.0 <= one.high for one in known]) >= 0.9
    assert all(0.0 <= one.low <= one.high <= 1.0 for one in known)


def test_more_nights_are_asked_for_where_they_would_tell() -> None:
    every = [observations.following(*nights_of(0.6, 0.0, 20, np.random.default_rng(k)), 0.0) for k in range(20)]
    undecided = [one for one in every if one is not None and one.words == "cannot tell"]
    assert len(undecided) > 10 and any(one.more_nights is not None and one.more_nights > 10 for one in undecided)
    # w = 0.6 under a noisy cell: the slope, 0.3, may be a larger w that noise pulled down, however many the nights
    noisy = observations.following(*nights_of(0.6, 0.3, 3000, np.random.default_rng(4)))
    assert noisy is not None and noisy.words == "cannot tell" and noisy.more_nights is None


def test_a_yearly_angle_moves_the_way_the_counts_say() -> None:
    never = update_of([4.5] * 100, [0] * 100, 0.05, 4.5, "log")
    often = update_of([4.5] * 100, [1] * 40 + [0] * 60, 0.05, 4.5, "log")
    as_asked = update_of([4.5] * 100, [1] * 5 + [0] * 95, 0.05, 4.5, "log")
    assert often.proposed_deg > 5.0 and often.changed and often.low_deg > 4.5
    assert never.proposed_deg < 4.5 < often.proposed_deg
    assert as_asked.proposed_deg == pytest.approx(4.5, abs=0.1) and not as_asked.changed
    assert as_asked.low_deg <= 4.5 <= as_asked.high_deg


def test_too_few_nights_propose_nothing() -> None:
    with pytest.raises(LogError, match="59 nights with a closing and a count; wanted 60 or more"):
        update_of([4.5] * 59, [0] * 59, 0.05, 4.5, "log")
    with pytest.raises(LogError, match="wanted 200 or more"):
        update_of([4.5] * 100, [0] * 100, 0.01, 4.5, "log")
