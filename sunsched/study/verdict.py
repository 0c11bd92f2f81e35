"""What the sums say: figures with their sampling error, comparisons at equal minutes, and what cannot be told.

Every setting met the same weather, so the error of a difference is smaller than the errors of its parts; it is taken
from the sums of products. A difference within two standard errors is not told.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from sunsched.base.rounding import DIGITS, rounded
from sunsched.study.settings import STRATEGIES, Setting, Strategy
from sunsched.study.tally import BIRD_FIGURES, Sums
from sunsched.study.weather import Floats

CANNOT_TELL = "cannot tell"
TELLING_ERRORS = 2.0  # standard errors that a difference must exceed
NOTHING_LEFT = 1e-12  # of a sum's size: hundreds of times the last bits that its terms leave
BAND = (10.0, 90.0)  # percentiles of the years
N_FIGURES = len(BIRD_FIGURES)
BIRDS_OUT, OPEN_MINUTES = BIRD_FIGURES.index("birds_out"), BIRD_FIGURES.index("open_after_dark_min")
EARLY_MINUTES, WAITING_MINUTES = BIRD_FIGURES.index("open_before_light_min"), BIRD_FIGURES.index("kept_waiting_min")


@dataclass(frozen=True)
class Estimate:
    """A mean over weather years, its standard error, and what a tenth of the years lie below and above."""

    mean: float
    error: float
    low: float
    high: float

    @classmethod
    def of(cls, mean: float, error: float, years: Floats) -> "Estimate":
        """From a mean, its standard error, and the years of which the band is taken."""
        low, high = np.percentile(years, BAND)
        return cls(rounded(mean), error, rounded(low), rounded(high))


@dataclass(frozen=True)
class Difference:
    """One figure less another on the same weather; `told` is False within two standard errors."""

    mean: float
    error: float

    @property
    def told(self) -> bool:
        """True where the sampling error does not hide the sign."""
        return abs(self.mean) > TELLING_ERRORS * self.error

    def words(self, unit: str) -> str:
        """The difference with its error, or the words that it cannot be told."""
        return f"{self.mean:+.1f} {unit} (+-{TELLING_ERRORS * self.error:.1f})" if self.told else CANNOT_TELL


@dataclass(frozen=True)
class Matched:
    """A strategy at a stated figure of minutes: the straight line between the two settings on either side.

    weights   on every setting's figures, so that its error and differences follow from the sums
    """

    strategy: Strategy
    figure: float
    between: tuple[str, str]
    weights: Floats


def means(sums: Sums, follow: int) -> Floats:
    """Mean figures (n_settings, n_figures) for one share of followers."""
    assert sums.bird_sum is not None
    found: Floats = (sums.bird_sum[follow] / sums.n_years).reshape(-1, N_FIGURES)
    return np.round(found, DIGITS)


def covariance(sums: Sums, follow: int) -> Floats:
    """Covariance of the years' figures, settings x figures along both sides."""
    assert sums.bird_sum is not None and sums.bird_products is not None
    mean = sums.bird_sum[follow] / sums.n_years
    n = sums.n_years
    found: Floats = (sums.bird_products[follow] / n - np.outer(mean, mean)) * (n / max(n - 1, 1))
    return found


def estimate(sums: Sums, follow: int, row: int, figure: int) -> Estimate:
    """One figure of one setting; the band comes from the first 400 years."""
    place = row * N_FIGURES + figure
    assert sums.bird_products is not None
    squares = sums.bird_products[follow][place, place] / sums.n_years
    error = standard_error(covariance(sums, follow)[place, place], squares, sums.n_years)
    years = np.concatenate([block[:, follow, row, figure] for block in sums.birds])
    return Estimate.of(means(sums, follow)[row, figure], error, years)


def door_estimate(sums: Sums, row: int, figure: int) -> Estimate:
    """One figure of the door alone."""
    assert sums.door_sum is not None and sums.door_squares is not None
    mean = float(sums.door_sum[row, figure] / sums.n_years)
    squares = float(sums.door_squares[row, figure] / sums.n_years)
    variance = (squares - mean**2) * sums.n_years / max(sums.n_years - 1, 1)
    years = np.concatenate([block[:, row, figure] for block in sums.door])
    return Estimate.of(mean, standard_error(variance, squares, sums.n_years), years)


def standard_error(variance: float, squares: float, n_years: int) -> float:
    """Standard error of a mean over `n_years`. The variance is what is left of `squares`, sums of the same unit, when
    the mean's square is taken off: of less than 1e-12 of them only the last bits are left, so it is 0.
    """
    return rounded(float(np.sqrt(variance / n_years))) if variance > NOTHING_LEFT * squares else 0.0


def difference(sums: Sums, follow: int, row: int, other: int, figure: int) -> Difference:
    """Figure of setting `row` less that of `other`, with the error of the difference."""
    weights = np.zeros(means(sums, follow).size)
    weights[row * N_FIGURES + figure] += 1.0
    weights[other * N_FIGURES + figure] -= 1.0
    return _weighted(sums, follow, weights, 0.0)


def matched(
    sums: Sums,
    settings: tuple[Setting, ...],
    follow: int,
    minutes: float,
    by: int = OPEN_MINUTES,
    of: int = BIRDS_OUT,
) -> dict[Strategy, Matched | None]:
    """Each strategy's figure `of` where its figure `by` is `minutes`; None where its settings do not reach it.

    The error allows for the place between the two settings being estimated too.
    """
    found: dict[Strategy, Matched | None] = {}
    mean = means(sums, follow)
    for strategy in STRATEGIES:
        rows = [n for n, s in enumerate(settings) if s.strategy == strategy and s.on_curve]
        rows.sort(key=lambda row: mean[row, by])
        pairs = [(a, b) for a, b in pairwise(rows) if mean[a, by] <= minutes <= mean[b, by]]
        pairs = [(a, b) for a, b in pairs if mean[b, by] > mean[a, by]]
        found[strategy] = _between(settings, mean, *pairs[0], minutes, by, of) if pairs else None
    return found


def _between(
    settings: tuple[Setting, ...], mean: Floats, low: int, high: int, minutes: float, by: int, of: int
) -> Matched:
    share = (minutes - mean[low, by]) / (mean[high, by] - mean[low, by])
    slope = (mean[high, of] - mean[low, of]) / (mean[high, by] - mean[low, by])
    weights = np.zeros(mean.size)
    for row, weight in ((low, 1 - share), (high, share)):
        weights[row * N_FIGURES + of] += weight
        weights[row * N_FIGURES + by] -= weight * slope
    figure = rounded((1 - share) * mean[low, of] + share * mean[high, of])
    return Matched(settings[low].strategy, figure, (settings[low].label, settings[high].label), weights)


def matched_error(sums: Sums, follow: int, one: Matched) -> float:
    """Standard error of a matched figure."""
    return _weighted(sums, follow, one.weights, 0.0).error


def matched_difference(sums: Sums, follow: int, one: Matched, other: Matched) -> Difference:
    """One strategy's matched figure less another's, on the same weather."""
    spread = _weighted(sums, follow, one.weights - other.weights, 0.0)
    return Difference(rounded(one.figure - other.figure), spread.error)


def _weighted(sums: Sums, follow: int, weights: Floats, offset: float) -> Difference:
    mean = float(means(sums, follow).ravel() @ weights) + offset
    assert sums.bird_products is not None
    size = np.abs(weights)
    variance = float(weights @ covariance(sums, follow) @ weights)
    squares = float(size @ np.abs(sums.bird_products[follow]) @ size) / sums.n_years
    return Difference(rounded(mean), standard_error(variance, squares, sums.n_years))


@dataclass(frozen=True)
class Better:
    """A setting at least as good as the configuration's on both counts for every share of followers.

    told   the sampling error hides neither count for any share; otherwise which is better cannot be told
    """

    row: int
    birds: tuple[Difference, ...]
    minutes: tuple[Difference, ...]
    told: bool


def at_least_as_good(sums: Sums, settings: tuple[Setting, ...], own: int, n_follow: int) -> tuple[Better, ...]:
    """Settings with no more birds out and no more minutes open than `own`, whatever share follows the light."""
    found = []
    for row, setting in enumerate(settings):
        if row == own or setting.role == "device":
            continue
        birds = tuple(difference(sums, follow, row, own, BIRDS_OUT) for follow in range(n_follow))
        minutes = tuple(difference(sums, follow, row, own, OPEN_MINUTES) for follow in range(n_follow))
        every = birds + minutes
        if all(d.mean <= 0 for d in every) and any(d.mean < 0 for d in every):
            told = all(d.told or (d.mean == 0 and d.error == 0) for d in every)
            found.append(Better(row, birds, minutes, told))
    return tuple(found)
