"""One block of weather years through every setting: when the door moved, and what that meant for the birds.

Runs that differ in one assumption share what it does not touch: SameNights.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from sunsched.study.flock import FlockYears, draw_flock, exact_flock, passages
from sunsched.study.passing import confirmed, lightest_to_come, proving_stretch
from sunsched.study.scene import Bools, SameWeather, Skies, skies_of
from sunsched.study.settings import Setting
from sunsched.study.stage import MOST_CELL_Z, MOST_SKY_Z, SHIFT_FROM_MIN, Stage
from sunsched.study.trial import (
    AFTER_NOON_MIN,
    Levels,
    Moves,
    Window,
    dawn_in_window,
    dawns_by_light,
    dusk_in_window,
    dusks_by_light,
    falling_from,
    lit_again,
    steep_falls,
)
from sunsched.study.weather import Floats, Ints, WeatherYears, clear_years, draw_years, with_measured

SURE_MIN = 30  # half an hour of dark, or of light, proves the cell


@dataclass
class Block:
    """Outcomes of a block; twilights are year x n_days + day, minutes are study minutes, NaN for never.

    close_min, open_min   (n_settings, n_twilights)
    birds_in_min, birds_out_min   (n_follow, n_birds, n_twilights) when birds go in and want out
    deepest_log, brightest_log   {evening: (n_twilights,)} darkest and lightest half-hour at the cell, inf where sure;
      one that proves the cell at every threshold stands for a darker or a lighter one
    relit   (n_twilights,) the configuration's own light rule, unlatched, would have opened again by daylight
    """

    stage: Stage
    years: WeatherYears
    flock: FlockYears
    close_min: Floats
    open_min: Floats
    birds_in_min: Floats
    birds_out_min: Floats
    deepest_log: dict[bool, Floats]
    brightest_log: dict[bool, Floats]
    relit: Floats

    def take_doors(self, other: Block) -> None:
        """Let the doors move as those of another block of the same evenings did."""
        self.close_min, self.open_min, self.relit = other.close_min, other.open_min, other.relit
        self.deepest_log, self.brightest_log = other.deepest_log, other.brightest_log

    @cached_property
    def next_opening_min(self) -> Floats:
        """The planned opening after each evening (n_twilights,) [study minutes]."""
        return np.tile(self.stage.scene.next_opening_min, self.years.n_years)

    def clock_fast_min(self, row: int) -> Floats:
        """How fast the clock of a setting is on each day (n_twilights,), as far as its light does not correct it."""
        fast: Floats = self.years.clock_fast_min.ravel()
        if self.stage.settings[row].strategy == "both":
            fast = np.rint(np.where(np.abs(fast) >= SHIFT_FROM_MIN, 0.0, fast))
            return np.clip(fast, -self.stage.clock_room_min, self.stage.clock_room_min)
        return fast

    def planned_min(self, row: int, evening: bool) -> Floats:
        """When the clock of a setting shows the planned minute (n_twilights,) [study minutes]."""
        planned = np.tile(self.stage.settings[row].planned_min(evening), self.years.n_years)
        return np.asarray(planned - self.clock_fast_min(row))


def weather_rng(seed: int, block: int) -> np.random.Generator:
    """The random numbers of one block: they depend on the seed and the block's number alone."""
    return np.random.Generator(np.random.SFC64(np.random.SeedSequence([seed, block])))


def run_block(stage: Stage, n_years: int, rng: np.random.Generator, first_year: int = 0) -> Block:
    """Draw a block of weather years, the first of them numbered `first_year`, and judge every setting on it."""
    return judged(stage, *draw_block(stage, n_years, rng, first_year), rng)


def draw_block(
    stage: Stage, n_years: int, rng: np.random.Generator, first_year: int = 0
) -> tuple[WeatherYears, FlockYears]:
    """The weather and the flock of a block, the first of its years numbered `first_year`."""
    years = draw_years(stage.climate, stage.scene.months, n_years, rng, stage.model, stage.drift_ppm)
    if stage.measured is not None:
        years = with_measured(years, stage.measured.evening_log, stage.measured.morning_log, first_year)
    return years, draw_flock(stage.birds, n_years, stage.scene.n_days, rng, stage.model)


def run_clear_block(stage: Stage, n_years: int) -> Block:
    """The same without weather, spread, whims or stragglers: every figure has one exact answer."""
    n_days = stage.scene.n_days
    return judged(stage, clear_years(n_days, n_years), exact_flock(stage.birds, n_years, n_days), None)


def judged(
    stage: Stage,
    years: WeatherYears,
    flock: FlockYears,
    rng: np.random.Generator | None,
    spoil: Callable[[Skies], Skies] | None = None,
) -> Block:
    """Every setting on the given weather and flock; `rng` draws the minutes, None leaves them at their mean.

    spoil   makes the cell see wrong on every evening, each as on a first night: the days before were healthy
    """
    return _judged(stage, years, flock, rng, spoil, (True, False))


class SameNights:
    """The first of several runs over the same random numbers and minutes, for those that follow it.

    A run that differs from it in the birds alone has its doors, one that differs in the cell or clock alone its birds,
    and both have its skies.
    """

    def __init__(self) -> None:
        self.weather = SameWeather()
        self.block: Block | None = None

    def kept(self, block: Block) -> tuple[bool, bool]:
        """Whether a run's doors, and whether its birds, are those of the first; the first itself keeps none."""
        one, two = block, self.block
        if two is None:
            self.block = block
            return False, False
        its, own = two.stage.model, one.stage.model
        if (
            one.stage.scene is not two.stage.scene
            or one.stage.settings is not two.stage.settings
            or own.minute_spread_log10 != its.minute_spread_log10
            or not (one.years.same_sky(two.years, True) and one.years.covers.same(two.years.covers))
        ):
            return False, False
        cells = one.stage.cell == two.stage.cell and own.cell_sky_log10 == its.cell_sky_log10
        cells = cells and one.stage.clock_room_min == two.stage.clock_room_min
        return cells and one.years.same_cell(two.years), one.flock.same_evenings(two.flock)


def judged_evenings(
    stage: Stage,
    years: WeatherYears,
    flock: FlockYears,
    rng: np.random.Generator | None,
    same: SameNights | None = None,
) -> Block:
    """Evenings alone, for half the time: mornings stay empty, and count as having proven the cell.

    same   of runs over the same random numbers, whose stages have the same settings and hold the same minutes
    """
    return _judged(stage, years, flock, rng, None, (True,), same)


def _judged(
    stage: Stage,
    years: WeatherYears,
    flock: FlockYears,
    rng: np.random.Generator | None,
    spoil: Callable[[Skies], Skies] | None,
    halves: tuple[bool, ...],
    same: SameNights | None = None,
) -> Block:
    block = _empty(stage, years, flock)
    if False not in halves:
        block.deepest_log[False][:], block.brightest_log[False][:] = -np.inf, np.inf
    same_doors, same_birds = (False, False) if same is None else same.kept(block)
    if same is not None and same.block is not None:
        if same_doors:
            block.take_doors(same.block)
        if same_birds:
            block.birds_in_min = same.block.birds_in_min
        if same_doors and same_birds:
            return block
    for evening in halves:
        moves = block.close_min if evening else block.open_min
        for row in range(0 if same_doors else len(stage.settings)):
            moves[row] = block.planned_min(row, evening)
        spread_log = stage.model.minute_spread_log10
        weather = None if same is None else same.weather
        for skies in skies_of(stage.half(evening), stage.spans[evening], years, rng, spread_log, weather):
            if not same_birds:
                _let_birds_pass(block, skies)
            if not same_doors:
                levels = _levels(block, skies)
                _judge(block, spoil(skies) if spoil and evening else skies, levels, moves)
                _note_extremes(block, skies, levels)
    if same_doors:
        return block
    for row, setting in enumerate(stage.settings):
        if setting.strategy == "both":
            _clock_where_unproven(block, row, setting)
    idle = np.isnan(np.tile(stage.scene.evening.planned_min, years.n_years))
    block.close_min[:, idle] = np.nan
    block.open_min[:, np.isnan(np.tile(stage.scene.morning.planned_min, years.n_years))] = np.nan
    return block


def _empty(stage: Stage, years: WeatherYears, flock: FlockYears) -> Block:
    n = years.n_years * stage.scene.n_days
    moves = (len(stage.settings), n)
    birds = (len(stage.follow_light), flock.birds, n)
    deepest, brightest = {}, {}
    for evening in (True, False):
        dark, light = stage.sure_of_dark[evening], stage.sure_of_light[evening]
        deepest[evening] = np.tile(np.where(dark, -np.inf, np.inf), years.n_years)
        brightest[evening] = np.tile(np.where(light, np.inf, -np.inf), years.n_years)
    return Block(
        stage=stage,
        years=years,
        flock=flock,
        close_min=np.full(moves, np.nan),
        open_min=np.full(moves, np.nan),
        birds_in_min=np.full(birds, np.nan),
        birds_out_min=np.full(birds, np.nan),
        deepest_log=deepest,
        brightest_log=brightest,
        relit=np.zeros(n),
    )


def cell_seen_log(stage: Stage, years: WeatherYears, setting: Setting, columns: Ints, evening: bool) -> Floats:
    """What the cell sees of the birds' sky [log10]: its view, its dirt, its error, its own sky of that twilight."""
    error = np.clip(years.cell_z, -MOST_CELL_Z, MOST_CELL_Z) if setting.cell_z is None else setting.cell_z
    by_year = np.log10(stage.cell.sky_view) + stage.cell_sd_log * np.broadcast_to(error, (years.n_years,))
    own_sky = stage.model.cell_sky_log10 * np.clip(years.sky_z[evening].ravel()[columns], -MOST_SKY_Z, MOST_SKY_Z)
    seen: Floats = by_year[columns // stage.scene.n_days] + years.dirt_log.ravel()[columns] + own_sky
    return seen


def _judge(block: Block, skies: Skies, levels: dict[int, Levels], moves: Floats) -> None:
    stage = block.stage
    wait_min = stage.wait_min
    settled = skies.once("settled", wait_min, lambda: confirmed(skies.cell_log, wait_min, skies.evening))
    ratio_log = float(np.log10(stage.cell.light_lux / stage.cell.dark_lux))
    none = np.zeros(0, dtype=np.bool_)
    steep = skies.once("steep", ratio_log, lambda: steep_falls(skies.cell_log, ratio_log)) if skies.evening else none
    alone = [row for row in levels if stage.settings[row].strategy == "light"]
    if alone:
        several = [levels[row] for row in alone]
        if skies.evening:
            into = skies.start_min - stage.scene.evening.start_min[skies.rows]
            first = np.maximum(AFTER_NOON_MIN - into, 0)
            falling = skies.once("falling", wait_min, lambda: falling_from(settled, first))
            found = dusks_by_light(skies.cell_log, falling, steep, several, first)
        else:
            found = dawns_by_light(settled, several)
        for row, move in zip(alone, found, strict=True):
            moves[row, skies.columns] = np.where(move.place < 0, np.nan, skies.start_min + move.place)
            if skies.evening and stage.settings[row].role == "own":
                block.relit[skies.columns] = _relit(skies, levels[row], move)
    for row in levels:
        if stage.settings[row].strategy == "both":
            window = _window(block, row, skies)
            if skies.evening:
                move = dusk_in_window(skies.cell_log, settled, steep, levels[row], window)
            else:
                move = dawn_in_window(settled, levels[row], window)
            moves[row, skies.columns] = skies.start_min + move.place


def _levels(block: Block, skies: Skies) -> dict[int, Levels]:
    """The thresholds of every setting that has a cell; cells of the same error see the same."""
    stage, seen = block.stage, dict[float | None, Floats]()
    found = {}
    for row, s in enumerate(stage.settings):
        if s.strategy == "clock":
            continue
        if s.cell_z not in seen:
            seen[s.cell_z] = cell_seen_log(stage, block.years, s, skies.columns, skies.evening)
        found[row] = Levels.of(s.dark_lux, s.light_lux, seen[s.cell_z], stage.cell.confirm_s)
    return found


def _window(block: Block, row: int, skies: Skies) -> Window:
    stage, setting = block.stage, block.stage.settings[row]
    planned_min = block.planned_min(row, skies.evening)[skies.columns]
    idle = np.isnan(planned_min)
    planned = np.where(idle, 0, planned_min - skies.start_min).astype(np.int64)
    from_min, until_min = setting.window(skies.evening)
    first, last = planned + from_min, planned + until_min
    if skies.evening:
        into = skies.start_min - stage.scene.evening.start_min[skies.rows]
        first = np.maximum(first, np.minimum(AFTER_NOON_MIN - into, planned))
    return Window(first, planned, last, np.ones(len(planned), dtype=np.bool_))


def _relit(skies: Skies, levels: Levels, closed: Moves) -> Floats:
    sees = "sky" if skies.cell_log is skies.sky_log else "cell"
    to_come = skies.once(f"{sees} to come", 0, lambda: lightest_to_come(skies.cell_log))
    return lit_again(skies.cell_log, to_come, levels, closed).astype(np.float64)


def _let_birds_pass(block: Block, skies: Skies) -> None:
    if not block.flock.birds:
        return
    stage = block.stage
    threshold = block.flock.threshold_log.T[:, skies.columns // stage.scene.n_days]
    found = passages(stage.half(skies.evening), stage.habits[skies.evening], skies, threshold)
    whims = block.flock.evening_min if skies.evening else block.flock.morning_min
    whim = np.ascontiguousarray(whims.reshape(-1, block.flock.birds)[skies.columns].T)
    target = block.birds_in_min if skies.evening else block.birds_out_min
    for number, follow in enumerate(stage.follow_light):
        target[number][:, skies.columns] = found.mixed(follow, whim)


def _note_extremes(block: Block, skies: Skies, levels: dict[int, Levels]) -> None:
    """Darkest and lightest half-hour of the twilights whose cell might not be proven by them."""
    of_both = [its for row, its in levels.items() if block.stage.settings[row].strategy == "both"]
    if not of_both:
        return
    deepest, brightest = block.deepest_log[skies.evening], block.brightest_log[skies.evening]
    covered = skies.cell_log is not skies.sky_log
    open_dark = np.flatnonzero((deepest[skies.columns] > -np.inf) | covered)
    open_light = np.flatnonzero((brightest[skies.columns] < np.inf) | covered)
    if len(open_dark):
        least = np.minimum.reduce([its.dark_log[open_dark] for its in of_both])
        deepest[skies.columns[open_dark]] = proving_stretch(skies.cell_log, SURE_MIN, open_dark, least, True)
    if len(open_light):
        most = np.maximum.reduce([its.light_log[open_light] for its in of_both])
        brightest[skies.columns[open_light]] = proving_stretch(skies.cell_log, SURE_MIN, open_light, most, False)


def _clock_where_unproven(block: Block, row: int, setting: Setting) -> None:
    """Where the cell has not seen dark and light within 26 h, the planned minute moves the door."""
    years, n_days = block.years, block.stage.scene.n_days
    every = np.arange(years.n_years * n_days)
    levels = {
        half: Levels.of(
            setting.dark_lux,
            setting.light_lux,
            cell_seen_log(block.stage, years, setting, every, half),
            block.stage.cell.confirm_s,
        )
        for half in (True, False)
    }

    def by_day(met: Bools) -> Bools:
        return met.reshape(years.n_years, n_days)

    dark = {half: by_day(block.deepest_log[half] < levels[half].dark_log) for half in (True, False)}
    light = {half: by_day(block.brightest_log[half] > levels[half].light_log) for half in (True, False)}
    dark_night = dark[True] | np.roll(dark[False], -1, axis=1)
    light_day = light[True] | light[False]
    before_dark, before_light = np.roll(dark_night, 1, axis=1), np.roll(light_day, 1, axis=1)
    proven = {
        True: before_dark & (light_day | before_light),
        False: (before_dark | np.roll(dark_night, 2, axis=1)) & before_light,
    }
    for evening, moves in ((True, block.close_min), (False, block.open_min)):
        planned = block.planned_min(row, evening)
        moves[row] = np.where(proven[evening].ravel(), moves[row], planned)
