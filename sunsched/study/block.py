"""One block of weather years through every setting: when the door moved, and what that meant for the birds.

A Stage holds what stays the same from one block to the next. `let_in` judges rule O5 of controller/RULES.md, the second
chance: some minutes after a closing by light, and not after the end of the evening's window, the door goes up once for
a stated time. A bird that has come meanwhile is waiting, or comes while it is up. Birds that walk out again, and what
else walks in, are not modelled.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from sunsched.hardware.light_cell import spread_sd_log10
from sunsched.hardware.model import MODEL, Model, Moved
from sunsched.hardware.parts import LightCell
from sunsched.study.flock import FlockYears, SunHabit, draw_flock, exact_flock, passages
from sunsched.study.measured import MeasuredMeans
from sunsched.study.scene import Bools, HalfDays, Scene, Skies, Span, skies_of, spans
from sunsched.study.settings import Setting
from sunsched.study.trial import (
    AFTER_NOON_MIN,
    Levels,
    Moves,
    Window,
    dawn_in_window,
    dawns_by_light,
    dusk_in_window,
    dusks_by_light,
    steep_falls,
)
from sunsched.study.weather import (
    BRIGHTEST_LOG,
    DARKEST_LOG,
    DRIFT_MIN_A_DAY,
    Climate,
    Floats,
    Ints,
    WeatherYears,
    clear_years,
    confirmed,
    draw_years,
    last_reaching,
    with_measured,
)


@dataclass(frozen=True)
class SecondChance:
    """How long after the closing it comes, and how long the door is up."""

    after_min: int = 10
    for_s: int = 180

    @property
    def words(self) -> str:
        """For a table's note."""
        return f"{self.for_s} s, {self.after_min} min after a closing by light"


def let_in(block: Block) -> Floats:
    """For each year and share of followers (n_years, n_follow, 3): birds let in, minutes more open, nights used.

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


MOST_CELL_Z, MOST_SKY_Z = 3.5, 2.5  # cells, and skies over them, further out than this are drawn in
SHIFT_FROM_MIN = 20  # rule M4: three nights' light correct a proven clock that is so far off
ROOMY_CELL_SD_LOG = 0.28
DAY_ALTITUDE_DEG = 5.0  # a closing with the Sun this high is no dusk


@dataclass(frozen=True)
class Stage:
    """A site, its weather, its flock and the settings to judge.

    late_min   (n_days,) study minute of the stated late hour of each evening
    linger_min more minutes of each twilight to look at
    measured   twilight means that take the place of drawn ones
    second_chance   the configuration's, or what it would be
    model      what weather, cell, clock and flock are taken for; scene must be of the same model
    drift_ppm  most that the clock gains or loses [parts in a million]
    roomy      hold the minutes that any model within its ranges needs: other models then meet the same weather
    """

    scene: Scene
    climate: Climate
    cell: LightCell
    birds: int
    settings: tuple[Setting, ...]
    follow_light: tuple[float, ...]
    late_min: Floats
    linger_min: int = 0
    measured: MeasuredMeans | None = None
    second_chance: SecondChance = field(default_factory=SecondChance)
    model: Model = MODEL
    drift_ppm: float = 0.0
    roomy: bool = False

    @cached_property
    def cell_sd_log(self) -> float:
        """Standard deviation of the part's spread [log10 lux]."""
        return spread_sd_log10(self.cell.spread)

    @cached_property
    def wait_min(self) -> int:
        """Whole minutes of confirmation beside the first."""
        return (self.cell.confirm_s - 1) // 60

    def half(self, evening: bool) -> HalfDays:
        """The evenings or the mornings."""
        return self.scene.evening if evening else self.scene.morning

    @cached_property
    def habits(self) -> dict[bool, SunHabit]:
        """What birds that follow the Sun go by, for evenings (True) and mornings."""
        return {evening: SunHabit.of(self.half(evening)) for evening in (True, False)}

    @cached_property
    def spans(self) -> dict[bool, list[Span]]:
        """The minutes that matter, for evenings (True) and mornings."""
        found = {}
        for evening in (True, False):
            acting = [s.window(evening) for s in self.settings if s.strategy == "both"] or [(0, 0)]
            room = self.clock_room_min
            widest = min(first for first, _ in acting) - room, max(last for _, last in acting) + room
            found[evening] = spans(
                self.half(evening),
                self.least_lux,
                self.most_lux,
                self.cell.sky_view,
                widest,
                self._cell_room_log,
                self.linger_min,
                self._most("dirt_log10"),
            )
        return found

    def _most(self, key: str) -> float:
        """A [model] key's value, or where the stage is roomy the top of its range."""
        value = float(getattr(self.model, key))
        tops = [m.high for m in Model.model_fields[key].metadata if isinstance(m, Moved)] if self.roomy else []
        return max(value, *tops) if tops else value

    @property
    def clock_room_min(self) -> int:
        """How far the window of clock and light may lie off [min]: beyond this the light corrects the clock."""
        most = 3.5 * self.model.clock_set_min + self.drift_ppm * DRIFT_MIN_A_DAY * self.model.clock_set_every_days
        return SHIFT_FROM_MIN if self.roomy else min(SHIFT_FROM_MIN, int(np.ceil(most)))

    @property
    def least_lux(self) -> float:
        """The lowest threshold of all settings [lux at the cell]."""
        return min((s.dark_lux for s in self.settings), default=self.cell.dark_lux)

    @property
    def most_lux(self) -> float:
        """The highest threshold of all settings [lux at the cell]."""
        return max((s.light_lux for s in self.settings), default=self.cell.light_lux)

    @property
    def _cell_room_log(self) -> float:
        sd_log = max(self.cell_sd_log, ROOMY_CELL_SD_LOG) if self.roomy else self.cell_sd_log
        return MOST_CELL_Z * sd_log + MOST_SKY_Z * self._most("cell_sky_log10") + 0.05

    def sure_of_dark(self, evening: bool) -> Bools:
        """Days (n,) whose half surely holds half an hour of dark: the clear sky alone is dim enough."""
        least = np.log10(self.least_lux) - BRIGHTEST_LOG - np.log10(self.cell.sky_view) - self._cell_room_log
        return np.asarray(np.count_nonzero(self.half(evening).clear_log < least, axis=0) >= 40)

    def sure_of_light(self, evening: bool) -> Bools:
        """Days (n,) whose half surely holds half an hour of light: the thickest cloud still leaves enough."""
        most = (
            np.log10(self.most_lux)
            - DARKEST_LOG
            - np.log10(self.cell.sky_view)
            + self._most("dirt_log10")
            + self._cell_room_log
        )
        return np.asarray(np.count_nonzero(self.half(evening).clear_log > most, axis=0) >= 40)

    def on_same_minutes(self, other: Stage) -> Stage:
        """`other`, a stage of the same days, holding the minutes that this one holds."""
        vars(other).update(spans=self.spans, habits=self.habits)
        return other

    @cached_property
    def sunset_place(self) -> Floats:
        """Minutes into each evening (n,) at which the Sun passes the horizon; NaN where it does not."""
        up = self.scene.evening.altitude_deg > -0.3
        passed = up.any(axis=0) & ~up.all(axis=0)
        return np.where(passed, len(up) - up[::-1].argmax(axis=0), np.nan)


SURE_MIN = 30  # half an hour of dark, or of light, proves the cell


@dataclass
class Block:
    """Outcomes of a block; twilights are year x n_days + day, minutes are study minutes, NaN for never.

    close_min, open_min   (n_settings, n_twilights)
    birds_in_min, birds_out_min   (n_follow, n_birds, n_twilights) when birds go in and want out
    deepest_log, brightest_log   {evening: (n_twilights,)} darkest and lightest half-hour at the cell, inf where sure
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


def judged_evenings(stage: Stage, years: WeatherYears, flock: FlockYears, rng: np.random.Generator | None) -> Block:
    """Evenings alone, for half the time: mornings stay empty, and count as having proven the cell."""
    return _judged(stage, years, flock, rng, None, (True,))


def _judged(
    stage: Stage,
    years: WeatherYears,
    flock: FlockYears,
    rng: np.random.Generator | None,
    spoil: Callable[[Skies], Skies] | None,
    halves: tuple[bool, ...],
) -> Block:
    block = _empty(stage, years, flock)
    if False not in halves:
        block.deepest_log[False][:], block.brightest_log[False][:] = -np.inf, np.inf
    for evening in halves:
        moves = block.close_min if evening else block.open_min
        for row in range(len(stage.settings)):
            moves[row] = block.planned_min(row, evening)
        spread_log = stage.model.minute_spread_log10
        for skies in skies_of(stage.half(evening), stage.spans[evening], years, rng, spread_log):
            _judge(block, spoil(skies) if spoil and evening else skies, moves)
            _let_birds_pass(block, skies)
            _note_extremes(block, skies)
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
        dark, light = stage.sure_of_dark(evening), stage.sure_of_light(evening)
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


def _judge(block: Block, skies: Skies, moves: Floats) -> None:
    stage = block.stage
    settled = confirmed(skies.cell_log, stage.wait_min, skies.evening)
    ratio_log = float(np.log10(stage.cell.light_lux / stage.cell.dark_lux))
    steep = steep_falls(skies.cell_log, ratio_log) if skies.evening else np.zeros(0, dtype=np.bool_)
    levels = {
        row: Levels.of(
            s.dark_lux,
            s.light_lux,
            cell_seen_log(stage, block.years, s, skies.columns, skies.evening),
            stage.cell.confirm_s,
        )
        for row, s in enumerate(stage.settings)
        if s.strategy != "clock"
    }
    alone = [row for row in levels if stage.settings[row].strategy == "light"]
    if alone:
        several = [levels[row] for row in alone]
        if skies.evening:
            into = skies.start_min - stage.scene.evening.start_min[skies.rows]
            first = np.maximum(AFTER_NOON_MIN - into, 0)
            found = dusks_by_light(skies.cell_log, settled, steep, several, first)
        else:
            found = dawns_by_light(settled, several)
        for row, move in zip(alone, found, strict=True):
            moves[row, skies.columns] = np.where(move.place < 0, np.nan, skies.start_min + move.place)
            if skies.evening and stage.settings[row].role == "own":
                block.relit[skies.columns] = _relit(stage, skies, levels[row], move)
    for row in levels:
        if stage.settings[row].strategy == "both":
            window = _window(block, row, skies)
            if skies.evening:
                move = dusk_in_window(skies.cell_log, settled, steep, levels[row], window)
            else:
                move = dawn_in_window(settled, levels[row], window)
            moves[row, skies.columns] = skies.start_min + move.place


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


def _relit(stage: Stage, skies: Skies, levels: Levels, closed: Moves) -> Floats:
    bright = confirmed(skies.cell_log, stage.wait_min, False)
    last_bright = last_reaching(bright, levels.light_log)
    again: Floats = ((closed.place >= 0) & (last_bright > closed.place + stage.wait_min)).astype(np.float64)
    return again


def _let_birds_pass(block: Block, skies: Skies) -> None:
    if not block.flock.birds:
        return
    stage, n_days = block.stage, block.stage.scene.n_days
    threshold = block.flock.threshold_log[skies.columns // n_days].T
    found = passages(stage.half(skies.evening), stage.habits[skies.evening], skies, threshold)
    whims = block.flock.evening_min if skies.evening else block.flock.morning_min
    whim = whims.reshape(-1, block.flock.birds)[skies.columns].T
    target = block.birds_in_min if skies.evening else block.birds_out_min
    for number, follow in enumerate(stage.follow_light):
        target[number][:, skies.columns] = found.mixed(follow, whim)


def _note_extremes(block: Block, skies: Skies) -> None:
    """Darkest and lightest half-hour of the twilights whose cell might not be proven by them."""
    deepest, brightest = block.deepest_log[skies.evening], block.brightest_log[skies.evening]
    covered = skies.cell_log is not skies.sky_log
    open_dark = np.flatnonzero((deepest[skies.columns] > -np.inf) | covered)
    open_light = np.flatnonzero((brightest[skies.columns] < np.inf) | covered)
    if len(open_dark):
        longest = confirmed(skies.cell_log[:, open_dark], SURE_MIN - 1, True)
        deepest[skies.columns[open_dark]] = longest[SURE_MIN - 1 :].min(axis=0)
    if len(open_light):
        longest = confirmed(skies.cell_log[:, open_light], SURE_MIN - 1, False)
        brightest[skies.columns[open_light]] = longest[SURE_MIN - 1 :].max(axis=0)


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
