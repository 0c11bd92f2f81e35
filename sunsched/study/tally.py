"""Figures of each weather year, and their sums over any number of years in the same memory."""

from dataclasses import dataclass, field

import numpy as np

from sunsched.study.block import Block
from sunsched.study.scene import Bools
from sunsched.study.second_chance import let_in
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
    month_sum: Floats | None = None
    month_squares: Floats | None = None
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


def _evening_figures(
    block: Block, row: int, birds_in: Floats, last_in: Floats, active: Bools
) -> tuple[tuple[Floats, str], ...]:
    closed = np.where(np.isnan(block.close_min[row]), np.inf, block.close_min[row])
    out = birds_in > closed
    n_out = np.where(active, np.count_nonzero(out, axis=0), 0).astype(np.float64)
    some = n_out > 0
    last = last_in.copy()
    last[some] = np.where(out[:, some], -np.inf, birds_in[:, some]).max(axis=0)
    until = np.minimum(closed, _next_opening(block))
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


def _next_opening(block: Block) -> Floats:
    opening = block.stage.scene.morning.planned_min
    usual = np.nanmean(opening) if not np.isnan(opening).all() else 0.0
    tomorrow = np.roll(np.where(np.isnan(opening), usual, opening), -1) + 1440.0
    return np.tile(tomorrow, block.years.n_years)


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


def _own_light(block: Block) -> int | None:
    own = [n for n, s in enumerate(block.stage.settings) if s.strategy == "light" and s.role == "own"]
    return own[0] if own else None


def clear_closing_min(block: Block, row: int) -> Floats:
    """When the light rule of a setting would shut the door under a clear sky, same cell and dirt (n_twilights,)."""
    stage, n_days = block.stage, block.stage.scene.n_days
    setting = stage.settings[row]
    columns = np.arange(block.years.n_years * n_days)
    error = block.years.cell_z if setting.cell_z is None else np.full(block.years.n_years, setting.cell_z)
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
