"""Figures of each weather year, their sums over any number of years in the same memory, and what the sums say.

Every setting met the same weather, so the error of a difference is smaller than the errors of its parts; it is taken
from the sums of products. All errors are those of limits_of_mean.py, so that two of them either way hold 95 %; a
difference within two errors is reported as `cannot tell`.
"""

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from sunsched.base.rounding import DIGITS, rounded
from sunsched.study.block import Block
from sunsched.study.limits_of_mean import NOTHING_LEFT, TELLING_ERRORS, error_of_mean, widening
from sunsched.study.scene import Bools
from sunsched.study.settings import STRATEGIES, Setting, Strategy
from sunsched.study.stage import DAY_ALTITUDE_DEG
from sunsched.study.weather import Floats

# By setting and by share of followers of light:
BIRD_FIGURES = ("birds_out", "flock_nights", "open_after_dark_min", "open_before_light_min", "kept_waiting_min")
# By setting alone:
DOOR_FIGURES = ("late_nights", "never_shut_nights", "daytime_closings", "never_opened_days", "door_moves")
FLOCK_SHARE = 0.5  # a flock night: at least half the flock shut out
KEPT_YEARS = 400  # the years whose figures are kept one by one, for the bands
SHIFT_LOW_MIN, SHIFT_HIGH_MIN = -240, 120
LAMP_MIN, LAMP_LAST_MIN = 5, 240  # a lamp lit for five minutes at some time in the four hours after sunset

Bits = Floats


@dataclass(frozen=True)
class YearFigures:
    """Figures of each year of a block.

    birds   (n_years, n_follow, n_settings, len(BIRD_FIGURES))
    door    (n_years, n_settings, len(DOOR_FIGURES))
    shift_counts   (12, minutes) evenings by month and by minutes that weather moved the configuration's light rule
    reopened (n_years, 2) nights on which that rule, unlatched, opens again: by a lamp, by daylight
    out_by_month   (n_years, n_follow, n_settings, 12) birds out
    second_chance   (n_years, n_follow, 3) birds let in, minutes more open, nights used
    """

    birds: Floats
    door: Floats
    shift_counts: Floats
    reopened: Floats
    out_by_month: Floats
    second_chance: Floats


@dataclass
class Sums:
    """Running sums over years; memory does not grow with their number.

    products holds, for each share of followers, the sums of products of all settings' first five figures: what is
    needed for the sampling error of any difference between settings on the same weather.
    """

    n_years: int = 0
    birds: list[Floats] = field(default_factory=list)
    door: list[Floats] = field(default_factory=list)
    bird_sum: Floats | None = None
    bird_products: Floats | None = None
    door_sum: Floats | None = None
    door_squares: Floats | None = None
    shift_counts: Floats | None = None
    reopened: list[Floats] = field(default_factory=list)
    reopened_sum: Floats | None = None
    reopened_squares: Floats | None = None
    months: list[Floats] = field(default_factory=list)
    month_sum: Floats | None = None
    month_squares: Floats | None = None
    second: list[Floats] = field(default_factory=list)
    second_sum: Floats | None = None
    second_squares: Floats | None = None

    def add(self, figures: YearFigures) -> None:
        """Take in the years of a block."""
        n, follows = figures.birds.shape[:2]
        flat = figures.birds.reshape(n, follows, -1)
        self.bird_sum = _plus(self.bird_sum, flat.sum(axis=0))
        self.bird_products = _plus(self.bird_products, np.einsum("ywa,ywb->wab", flat, flat))
        self.door_sum = _plus(self.door_sum, figures.door.sum(axis=0))
        self.door_squares = _plus(self.door_squares, (figures.door**2).sum(axis=0))
        self.shift_counts = _plus(self.shift_counts, figures.shift_counts)
        self.reopened_sum = _plus(self.reopened_sum, figures.reopened.sum(axis=0))
        self.reopened_squares = _plus(self.reopened_squares, (figures.reopened**2).sum(axis=0))
        self.month_sum = _plus(self.month_sum, figures.out_by_month.sum(axis=0))
        self.month_squares = _plus(self.month_squares, (figures.out_by_month**2).sum(axis=0))
        self.second_sum = _plus(self.second_sum, figures.second_chance.sum(axis=0))
        self.second_squares = _plus(self.second_squares, (figures.second_chance**2).sum(axis=0))
        room = max(KEPT_YEARS - self.n_years, 0)
        if room:
            self.birds.append(figures.birds[:room])
            self.door.append(figures.door[:room])
            self.reopened.append(figures.reopened[:room])
            self.months.append(figures.out_by_month[:room])
            self.second.append(figures.second_chance[:room])
        self.n_years += n


def _plus(total: Floats | None, more: Floats) -> Floats:
    return more if total is None else total + more


def year_figures(block: Block) -> YearFigures:
    """The figures of every year of a block."""
    stage, n_years = block.stage, block.years.n_years
    n_days, n_settings = stage.scene.n_days, len(stage.settings)
    active = ~np.isnan(np.tile(stage.scene.evening.planned_min, n_years))
    drawn = block.flock.birds
    scale = stage.birds / drawn if drawn else 0.0
    birds = np.zeros((n_years, len(stage.follow_light), n_settings, len(BIRD_FIGURES)))
    by_month = np.zeros((*birds.shape[:3], 12))
    month_share = (stage.scene.months[:, None] == np.arange(12)).astype(np.float64)
    for number in range(len(stage.follow_light) if drawn else 0):
        birds_in, birds_out = block.birds_in_min[number], block.birds_out_min[number]
        first_out, last_in = birds_out.min(axis=0), birds_in.max(axis=0)
        for row in range(n_settings):
            evening = _evening_figures(block, row, birds_in, last_in, active)
            morning = _morning_figures(block, row, birds_out, first_out)
            by_year = [_by_year(values, n_days, how) for values, how in (*evening, *morning)]
            birds[:, number, row] = np.stack(by_year, axis=1)
            by_month[:, number, row] = evening[0][0].reshape(n_years, n_days) @ month_share
    birds[..., 0] *= scale
    door, shifts = _door_figures(block, active), _shift_counts(block)
    return YearFigures(birds, door, shifts, _reopened(block), by_month * scale, let_in(block))


def evening_birds(block: Block) -> Floats:
    """Birds out and minutes open alone, at their places in (n_years, n_follow, n_settings, len(BIRD_FIGURES))."""
    stage, n_years, n_days = block.stage, block.years.n_years, block.stage.scene.n_days
    active = ~np.isnan(np.tile(stage.scene.evening.planned_min, n_years))
    birds = np.zeros((n_years, len(stage.follow_light), len(stage.settings), len(BIRD_FIGURES)))
    for number in range(len(stage.follow_light) if block.flock.birds else 0):
        birds_in = block.birds_in_min[number]
        last_in = birds_in.max(axis=0)
        for row in range(len(stage.settings)):
            n_out, _, minutes = _evening_figures(block, row, birds_in, last_in, active)
            birds[:, number, row, BIRDS_OUT] = _by_year(n_out[0], n_days, n_out[1])
            birds[:, number, row, OPEN_MINUTES] = _by_year(minutes[0], n_days, minutes[1])
    birds[..., BIRDS_OUT] *= stage.birds / max(block.flock.birds, 1)
    return birds


def _evening_figures(
    block: Block, row: int, birds_in: Floats, last_in: Floats, active: Bools
) -> tuple[tuple[Floats, str], ...]:
    closed = np.where(np.isnan(block.close_min[row]), np.inf, block.close_min[row])
    # Few nights have a bird out: those whose last one came too late.
    some = np.flatnonzero((last_in > closed) & active)
    came = birds_in[:, some]
    out = came > closed[some]
    n_out, last = np.zeros(len(closed)), last_in.copy()
    n_out[some] = np.count_nonzero(out, axis=0)
    last[some] = np.where(out, -np.inf, came).max(axis=0, initial=-np.inf)
    until = np.minimum(closed, block.next_opening_min)
    minutes = np.where(active, np.clip(until - last, 0, None), np.nan)
    minutes[np.isneginf(last)] = 0.0
    flock_night = (n_out >= FLOCK_SHARE * block.flock.birds) & active
    return (n_out, "sum"), (flock_night.astype(np.float64), "sum"), (minutes, "mean")


def _morning_figures(
    block: Block, row: int, birds_out: Floats, first_out: Floats
) -> tuple[tuple[Floats, str], tuple[Floats, str]]:
    opened = block.open_min[row]
    seen = np.isfinite(first_out) & ~np.isnan(np.tile(block.stage.scene.morning.planned_min, block.years.n_years))
    opened = np.where(np.isnan(opened), np.tile(block.stage.scene.morning.start_min, block.years.n_years) + 720, opened)
    before = np.where(seen, np.clip(first_out - opened, 0, None), np.nan)
    waits = np.clip(opened - birds_out, 0, None)
    waiting = np.where(seen, np.where(np.isfinite(birds_out), waits, 0).mean(axis=0), np.nan)
    return (before, "mean"), (waiting, "mean")


def _by_year(values: Floats, n_days: int, how: str) -> Floats:
    by_day = values.reshape(-1, n_days)
    if how == "sum":
        return np.asarray(np.nansum(by_day, axis=1))
    known = ~np.isnan(by_day)
    return np.asarray(np.nansum(by_day, axis=1) / np.maximum(known.sum(axis=1), 1))


def _door_figures(block: Block, active: Bools) -> Floats:
    stage, n_years = block.stage, block.years.n_years
    n_days = stage.scene.n_days
    late = np.tile(stage.late_min, n_years)
    start = np.tile(stage.scene.evening.start_min, n_years)
    days = np.tile(np.arange(n_days), n_years)
    found = np.zeros((n_years, len(stage.settings), len(DOOR_FIGURES)))
    for row, (closed, opened) in enumerate(zip(block.close_min, block.open_min, strict=True)):
        never = np.isnan(closed) & active
        place = np.clip(np.where(np.isnan(closed), 0, closed - start), 0, len(stage.scene.evening.altitude_deg) - 1)
        high = stage.scene.evening.altitude_deg[place.astype(np.int64), days] > DAY_ALTITUDE_DEG
        at_day = high & ~np.isnan(closed) & active
        not_opened = np.isnan(opened) & active
        moved = (active & ~never).astype(np.float64) + (active & ~not_opened)
        figures = ((never | (closed > late)) & active, never, at_day, not_opened, moved)
        found[:, row] = np.stack([f.reshape(n_years, n_days).sum(axis=1) for f in figures], axis=1)
    return found


def let_in(block: Block) -> Floats:
    """For each year and share of followers (n_years, n_follow, 3): birds let in, minutes more open, nights used.

    Rule O5 of controller/RULES.md, the second chance: some minutes after a closing by light, and not after the end of
    the evening's window, the door goes up once for a stated time. A bird that has come meanwhile is waiting, or comes
    while it is up. Birds that walk out again, and what else walks in, are not modelled.
    Of the configuration's own clock and light; zeros where it has none. Minutes are the night's mean, after the last
    bird. A closing in the planned minute counts as one by light: a doubted cell is rare in these worlds.
    """
    stage, n_years, n_days = block.stage, block.years.n_years, block.stage.scene.n_days
    found = np.zeros((n_years, len(stage.follow_light), 3))
    own = [n for n, s in enumerate(stage.settings) if s.strategy == "both" and s.role == "own"]
    if not own or not block.flock.birds:
        return found
    closed = block.close_min[own[0]]
    window_end = block.planned_min(own[0], True) + stage.settings[own[0]].window(True)[1]
    up_min = closed + stage.second_chance.after_min
    with np.errstate(invalid="ignore"):
        used = (closed < window_end) & (up_min <= window_end)
    down_min = up_min + stage.second_chance.for_s / 60.0
    nights = np.maximum(np.count_nonzero(~np.isnan(closed).reshape(n_years, n_days), axis=1), 1)
    for number, birds_in in enumerate(block.birds_in_min):
        with np.errstate(invalid="ignore"):
            late = (birds_in > closed) & (birds_in <= down_min) & used
        last = np.where(late, birds_in, -np.inf).max(axis=0)
        more = np.where(used, down_min - np.maximum(up_min, last), 0.0)
        n_late = np.count_nonzero(late, axis=0) * (stage.birds / block.flock.birds)
        by_year = [values.reshape(n_years, n_days).sum(axis=1) for values in (n_late, more, used)]
        found[:, number] = np.stack([by_year[0], by_year[1] / nights, by_year[2]], axis=1)
    return found


def _own_light(block: Block) -> int | None:
    own = [n for n, s in enumerate(block.stage.settings) if s.strategy == "light" and s.role == "own"]
    return own[0] if own else None


def clear_closing_min(block: Block, row: int) -> Floats:
    """When the light rule of a setting would shut the door under a clear sky, same cell and dirt (n_twilights,)."""
    stage, n_days = block.stage, block.stage.scene.n_days
    setting = stage.settings[row]
    columns = np.arange(block.years.n_years * n_days)
    error = block.years.cell_z if setting.cell_z is None else np.full(block.years.n_years, setting.cell_z)
    # The cell's own sky of that evening is weather: it belongs to what is counted here.
    seen_log = np.log10(stage.cell.sky_view) + stage.cell_sd_log * error[columns // n_days]
    level = np.log10(setting.dark_lux) - seen_log - block.years.dirt_log.ravel()
    place = stage.habits[True].at(level.astype(np.float32), columns % n_days)
    start = stage.scene.evening.start_min[columns % n_days]
    never = place >= len(stage.scene.evening.clear_log)
    return np.where(never, np.nan, start + place + stage.wait_min)


def _shift_counts(block: Block) -> Floats:
    counts = np.zeros((12, SHIFT_HIGH_MIN - SHIFT_LOW_MIN + 1))
    row = _own_light(block)
    if row is None:
        return counts
    shift = block.close_min[row] - clear_closing_min(block, row)
    known = ~np.isnan(shift)
    bins = np.clip(np.rint(shift[known]), SHIFT_LOW_MIN, SHIFT_HIGH_MIN).astype(np.int64) - SHIFT_LOW_MIN
    np.add.at(counts, (np.tile(block.stage.scene.months, block.years.n_years)[known], bins), 1.0)
    return counts


def _reopened(block: Block) -> Floats:
    """Nights a year on which an unlatched light rule opens again: by a lamp each evening, and by daylight."""
    n_years, n_days = block.years.n_years, block.stage.scene.n_days
    row = _own_light(block)
    if row is None:
        return np.zeros((n_years, 2))
    # One drawn minute for each evening, the same for all settings: a fixed sequence that fills the span evenly.
    turn = (np.arange(n_years * n_days) * 0.6180339887498949) % 1.0
    lit = np.tile(block.stage.scene.evening.start_min + block.stage.sunset_place, n_years) + turn * LAMP_LAST_MIN
    by_lamp = block.close_min[row] < lit + LAMP_MIN - block.stage.wait_min - 1
    return np.stack([v.reshape(n_years, n_days).sum(axis=1) for v in (by_lamp, block.relit > 0)], axis=1).astype(float)


CANNOT_TELL = "cannot tell"
BAND = (10.0, 90.0)  # percentiles of the years
N_FIGURES = len(BIRD_FIGURES)
BIRDS_OUT, OPEN_MINUTES = BIRD_FIGURES.index("birds_out"), BIRD_FIGURES.index("open_after_dark_min")
EARLY_MINUTES, WAITING_MINUTES = BIRD_FIGURES.index("open_before_light_min"), BIRD_FIGURES.index("kept_waiting_min")


@dataclass(frozen=True)
class Estimate:
    """A mean over weather years, its error, and what a tenth of the years lie below and above."""

    mean: float
    error: float
    low: float
    high: float

    @classmethod
    def of(cls, mean: float, error: float, years: Floats) -> "Estimate":
        """From a mean, its error, and the years of which the band is taken."""
        low, high = np.percentile(years, BAND)
        return cls(rounded(mean), error, rounded(low), rounded(high))


@dataclass(frozen=True)
class Difference:
    """One figure less another on the same weather; `significant` is False within two errors."""

    mean: float
    error: float

    @property
    def significant(self) -> bool:
        """True where the sampling error does not hide the sign."""
        return abs(self.mean) > TELLING_ERRORS * self.error

    def words(self, unit: str) -> str:
        """The difference with its error, or the words for a difference within its error."""
        return f"{self.mean:+.1f} {unit} (+-{TELLING_ERRORS * self.error:.1f})" if self.significant else CANNOT_TELL


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
    place, n = row * N_FIGURES + figure, sums.n_years
    assert sums.bird_sum is not None and sums.bird_products is not None
    # As in `means` and `covariance`, without all the other figures.
    mean, squares = sums.bird_sum[follow, place] / n, sums.bird_products[follow, place, place] / n
    variance = (squares - mean * mean) * (n / max(n - 1, 1))
    years = np.concatenate([block[:, follow, row, figure] for block in sums.birds])
    return Estimate.of(np.round(mean, DIGITS), error_of_mean(variance, squares, years, n), years)


def door_estimate(sums: Sums, row: int, figure: int) -> Estimate:
    """One figure of the door alone."""
    assert sums.door_sum is not None and sums.door_squares is not None
    mean = float(sums.door_sum[row, figure] / sums.n_years)
    squares = float(sums.door_squares[row, figure] / sums.n_years)
    variance = (squares - mean**2) * sums.n_years / max(sums.n_years - 1, 1)
    years = np.concatenate([block[:, row, figure] for block in sums.door])
    return Estimate.of(mean, error_of_mean(variance, squares, years, sums.n_years), years)


def means_and_errors(total: Floats, squares: Floats, kept: list[Floats], n_years: int) -> tuple[Floats, Floats]:
    """Means over the years and their errors, any shape, from sums of the years' figures and their squares.

    kept   the figures of the first years, year by year
    """
    mean, size = total / n_years, squares / n_years
    left = size - mean**2
    left = np.where(left > NOTHING_LEFT * size, left, 0.0)
    error = np.sqrt(left / max(n_years - 1, 1)) * widening(np.concatenate(kept), n_years)
    return np.round(mean, DIGITS), np.round(error, DIGITS)


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
    own: int | None = None,
) -> dict[Strategy, Matched | None]:
    """Each strategy's figure `of` where its figure `by` is `minutes`; None where its settings do not reach it.

    own   the setting whose figure `by` the minutes are: they were estimated on the same weather years, so they move
      with the curves, and most of their error cancels. None: the minutes are a number that is known.
    The error allows for the place between the two settings being estimated too.
    """
    found: dict[Strategy, Matched | None] = {}
    mean = means(sums, follow)
    for strategy in STRATEGIES:
        rows = [n for n, s in enumerate(settings) if s.strategy == strategy and s.on_curve]
        rows.sort(key=lambda row: mean[row, by])
        pairs = [(a, b) for a, b in pairwise(rows) if mean[a, by] <= minutes <= mean[b, by]]
        pairs = [(a, b) for a, b in pairs if mean[b, by] > mean[a, by]]
        found[strategy] = _between(settings, mean, *pairs[0], minutes, by, of, own) if pairs else None
    return found


def _between(
    settings: tuple[Setting, ...],
    mean: Floats,
    low: int,
    high: int,
    minutes: float,
    by: int,
    of: int,
    own: int | None,
) -> Matched:
    share = (minutes - mean[low, by]) / (mean[high, by] - mean[low, by])
    slope = (mean[high, of] - mean[low, of]) / (mean[high, by] - mean[low, by])
    weights = np.zeros(mean.size)
    for row, weight in ((low, 1 - share), (high, share)):
        weights[row * N_FIGURES + of] += weight
        weights[row * N_FIGURES + by] -= weight * slope
    if own is not None:
        weights[own * N_FIGURES + by] += slope
    figure = rounded((1 - share) * mean[low, of] + share * mean[high, of])
    return Matched(settings[low].strategy, figure, (settings[low].label, settings[high].label), weights)


def matched_error(sums: Sums, follow: int, one: Matched) -> float:
    """Error of a matched figure."""
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
    used = np.flatnonzero(weights)
    row, figure = np.divmod(used, N_FIGURES)
    years = np.concatenate([block[:, follow, row, figure] @ weights[used] for block in sums.birds])
    return Difference(rounded(mean), error_of_mean(variance, squares, years, sums.n_years))


@dataclass(frozen=True)
class Better:
    """A setting at least as good as the configuration's on both counts for every share of followers.

    significant   the sampling error hides neither count for any share; otherwise the better one is unknown
    """

    row: int
    birds: tuple[Difference, ...]
    minutes: tuple[Difference, ...]
    significant: bool


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
            significant = all(d.significant or (d.mean == 0 and d.error == 0) for d in every)
            found.append(Better(row, birds, minutes, significant))
    return tuple(found)
