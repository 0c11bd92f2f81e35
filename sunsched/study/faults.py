"""Fault nights: what a broken cell, a wrong clock, a power cut or a lamp does to each strategy on its first night.

Each fault strikes every evening of the weather years by itself, after healthy days. "Clock and light" has here the
window, the natural-dusk test and the latch of the door's program, but believes its clock.

`program_nights` shows what the door's program itself makes of a clock that the keeper has just set wrong and insisted
on: the Python twin of the program, second by second, on a few evenings spread over the year, the clock unproven, the
cell as stated, light constant for a minute. It takes a tenth of a second an evening, hence few evenings.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from sunsched.controller.decision import step
from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import DAY_MIN, DayRow, DoorState, Inputs
from sunsched.controller.words import Place, TimeBy, Want
from sunsched.plan.year import YearPlan
from sunsched.study.block import Block, cell_seen_log, judged, weather_rng
from sunsched.study.evening_program import cell_counts
from sunsched.study.flock import SunHabit, draw_flock, passages
from sunsched.study.scene import LONGEST_HALF_DAY_MIN, Skies, Span, skies_of
from sunsched.study.settings import Setting
from sunsched.study.stage import Stage
from sunsched.study.tally import YearFigures, year_figures
from sunsched.study.trial import AFTER_NOON_MIN
from sunsched.study.weather import Floats, Ints, Light, WeatherYears, draw_years

STUCK_BRIGHT_LOG, STUCK_DARK_LOG = 6.0, -6.0
CUT_LONGEST_MIN = 180.0  # power comes back after up to so long: assumed
LAMP_LUX, LAMP_MIN, LAMPS = 60.0, 5, 2  # assumed: a yard lamp, twice an evening
FLASH_LUX, FLASHES_AN_HOUR = 30.0, 6  # assumed: headlights, a minute each
LAMP_SPAN_MIN = 240
LINGER_MIN = LAMP_SPAN_MIN + 75  # a door without a clock believes a sudden dark after an hour
COVER_LOG = -1.48  # a leaf or wet snow: a thirtieth of the light

Spoil = Callable[[Stage, WeatherYears, Skies, np.random.Generator], Light]
After = Callable[[Block, int, np.random.Generator], Floats]


@dataclass(frozen=True)
class Fault:
    """One thing gone wrong.

    cell    the light at the cell [log10 lux of open sky] instead of the healthy one
    fast_min   how fast the clock runs ahead [minutes]; it closes so much early
    after   the closing minutes (n_twilights,) instead of those that the rules gave
    linger_min   how much longer than a healthy evening it may last
    """

    words: str
    cell: Spoil | None = None
    fast_min: int = 0
    after: After | None = None
    linger_min: int = 0


@dataclass(frozen=True)
class FaultNights:
    """A fault on every evening of a block, as figures a year, in the order of the stage's settings."""

    fault: Fault
    figures: YearFigures
    n_nights: int


def fault_nights(stage: Stage, n_years: int, seed: int) -> list[FaultNights]:
    """Every fault on the same evenings; the first is none at all."""
    return [_one(stage, fault, n_years, seed) for fault in FAULTS]


def _one(stage: Stage, fault: Fault, n_years: int, seed: int) -> FaultNights:
    rng, own = weather_rng(seed, 0), np.random.default_rng([seed, 1])
    n_days = stage.scene.n_days
    drawn = draw_years(stage.climate, stage.scene.months, n_years, rng, stage.model)
    years = replace(drawn, clock_fast_min=np.zeros_like(drawn.clock_fast_min))  # the fault's own error alone
    flock = draw_flock(stage.birds, n_years, n_days, rng, stage.model)
    settings = tuple(_early(s, fault.fast_min) for s in stage.settings)
    wrong = replace(stage, settings=settings, linger_min=fault.linger_min)
    spoiler = fault.cell

    def spoil(skies: Skies) -> Skies:
        assert spoiler is not None
        return replace(skies, cell_log=spoiler(stage, years, skies, own))

    block = judged(wrong, years, flock, rng, spoil if spoiler else None)
    if fault.after is not None:
        moved = block.close_min.copy()
        for row in range(len(wrong.settings)):
            moved[row] = fault.after(block, row, own)
        block.close_min = moved
        block.close_min[:, np.isnan(np.tile(stage.scene.evening.planned_min, n_years))] = np.nan
    active = int(np.count_nonzero(~np.isnan(stage.scene.evening.planned_min)))
    return FaultNights(fault, year_figures(block), n_years * active)


def _early(setting: Setting, fast_min: int) -> Setting:
    return replace(setting, close_min=setting.close_min - fast_min)


def _stuck(level_log: float) -> Spoil:
    def cell(stage: Stage, years: WeatherYears, skies: Skies, rng: np.random.Generator) -> Light:
        held = np.full_like(skies.cell_log, level_log)
        if level_log == STUCK_DARK_LOG:
            held[0] = STUCK_BRIGHT_LOG  # it was light until the wire broke: the fall is sudden
        return held

    return cell


def _covered(stage: Stage, years: WeatherYears, skies: Skies, rng: np.random.Generator) -> Light:
    return skies.cell_log + np.float32(COVER_LOG)


def _lit(lux: float, minutes: int, number: float) -> Spoil:
    """Lamps of `lux` at the cell: `number` an evening, some time in the four hours after sunset."""

    def cell(stage: Stage, years: WeatherYears, skies: Skies, rng: np.random.Generator) -> Light:
        n = len(skies.columns)
        setting = stage.settings[0]
        level = np.log10(lux) - cell_seen_log(stage, years, setting, skies.columns, skies.evening)
        into = skies.start_min - stage.scene.evening.start_min[skies.rows]
        sunset = np.nan_to_num(stage.sunset_place)[skies.rows] - into
        lit = skies.cell_log.copy()
        for _ in range(int(number)):
            begin = (sunset + rng.uniform(0, LAMP_SPAN_MIN, n)).astype(np.int64)
            for minute in range(minutes):
                at = begin + minute
                held = np.flatnonzero((at >= 0) & (at < skies.n_min))
                lit[at[held], held] = np.maximum(lit[at[held], held], level[held])
        return lit

    return cell


def _dark_since_noon(block: Block, row: int, rng: np.random.Generator) -> Floats:
    """A door without a clock takes it for dusk as soon as dusk may be."""
    if block.stage.settings[row].strategy != "light":
        return np.asarray(block.close_min[row])
    noon = np.tile(block.stage.scene.evening.start_min, block.years.n_years)
    return np.asarray(noon + float(AFTER_NOON_MIN))


def _lost_clock(block: Block, row: int, rng: np.random.Generator) -> Floats:
    strategy = block.stage.settings[row].strategy
    if strategy == "both":
        light = next(n for n, s in enumerate(block.stage.settings) if s.strategy == "light")
        return np.asarray(block.close_min[light])
    if strategy == "light":
        return np.asarray(block.close_min[row])
    noon = np.tile(block.stage.scene.evening.start_min, block.years.n_years)
    return np.asarray(noon + rng.uniform(0, 720, len(noon)).round())


def _cut_then_asked(block: Block, row: int, rng: np.random.Generator) -> Floats:
    closed = block.close_min[row]
    back = closed + rng.uniform(0, CUT_LONGEST_MIN, len(closed)).round()
    return np.asarray(back + (block.stage.wait_min + 1))


def _cut_then_missed(block: Block, row: int, rng: np.random.Generator) -> Floats:
    return np.full_like(block.close_min[row], np.nan)


FAULTS = (
    Fault("none: healthy evenings"),
    Fault("cell stuck at bright", cell=_stuck(STUCK_BRIGHT_LOG)),
    Fault("cell's wire broken by day: reads dark", cell=_stuck(STUCK_DARK_LOG), after=_dark_since_noon),
    Fault("cell covered: a thirtieth of the light", cell=_covered),
    Fault("clock 60 min fast: closes early", fast_min=60),
    Fault("clock 20 min fast: closes early", fast_min=20),
    Fault("clock 20 min slow: closes late", fast_min=-20),
    Fault("clock 60 min slow (summer-time error): closes late", fast_min=-60),
    Fault("clock lost: some hour of the afternoon or night; both fall back on the light", after=_lost_clock),
    Fault("power cut over the closing, up to 3 h, state asked anew", after=_cut_then_asked),
    Fault("the same, door moved by edges only", after=_cut_then_missed),
    Fault(
        "two lamps of 60 lux, 5 min each, every evening", cell=_lit(LAMP_LUX, LAMP_MIN, LAMPS), linger_min=LINGER_MIN
    ),
    Fault(
        "headlights: 6 an hour, 30 lux, a minute each",
        cell=_lit(FLASH_LUX, 1, FLASHES_AN_HOUR * LAMP_SPAN_MIN / 60),
        linger_min=LINGER_MIN,
    ),
)


DAY_2000 = 10_957  # 2000-01-01 in days since 1970-01-01: the table's days count from there
EVENINGS = 16
RUN_IN_MIN = 45  # the program watches for so long before the wrong clock's window
FAST_MIN = (60, 20, -20, -60)  # how fast the clock was set


@dataclass(frozen=True)
class ProgramNights:
    """One wrong setting: how fast the clock is [min], closing minutes (n,), birds going in (n_follow, n_birds, n)."""

    fast_min: int
    close_min: Floats
    birds_in_min: Floats
    opening_min: Floats

    def birds_out(self, follow: int) -> Floats:
        """Birds shut out on each evening (n,)."""
        return np.asarray(np.count_nonzero(self.birds_in_min[follow] > self.close_min, axis=0), dtype=np.float64)

    def open_min(self, follow: int) -> Floats:
        """Minutes that the door stood open after the last bird in, on each evening (n,)."""
        inside = np.where(self.birds_in_min[follow] <= self.close_min, self.birds_in_min[follow], -np.inf)
        last = inside.max(axis=0, initial=-np.inf)
        until = np.minimum(self.close_min, self.opening_min)
        return np.where(np.isneginf(last), 0.0, np.clip(until - last, 0, None))


def program_nights(stage: Stage, plan: YearPlan, settings: DoorSettings, seed: int) -> Iterator[ProgramNights]:
    """The program on the same evenings for each wrong setting of the clock; nothing where no Sun decides an evening."""
    rows = _rows(stage, plan)
    if not len(rows):
        return
    skies = _skies(stage, rows, seed)
    counts = cell_counts(stage.cell, 10.0 ** skies.cell_log.astype(np.float64) * stage.cell.sky_view)
    birds = _birds(stage, skies, seed)
    tomorrow = stage.scene.morning.planned_min[rows + 1] + DAY_MIN
    for fast_min in FAST_MIN:
        yield ProgramNights(fast_min, closing_minutes(plan, settings, skies, counts, fast_min), birds, tomorrow)


def _rows(stage: Stage, plan: YearPlan) -> Ints:
    """Evenings spread over the days whose closing the Sun decides, with a neighbour on either side."""
    closes, opens = stage.scene.evening.planned_min, stage.scene.morning.planned_min
    usual = plan.close_by_twilight & ~np.isnan(closes)
    usual[1:] &= ~np.isnan(closes[:-1])
    usual[:-1] &= ~np.isnan(opens[1:])
    usual[[0, -1]] = False
    found = np.flatnonzero(usual)
    return found[np.linspace(0, len(found) - 1, min(EVENINGS, len(found))).astype(np.int64)]


def _skies(stage: Stage, rows: Ints, seed: int) -> Skies:
    whole = Span(rows, np.zeros(len(rows), dtype=np.int64), LONGEST_HALF_DAY_MIN)
    rng = weather_rng(seed, 2)
    years = draw_years(stage.climate, stage.scene.months, 1, rng, stage.model)
    return next(iter(skies_of(stage.scene.evening, [whole], years, rng, stage.model.minute_spread_log10)))


def _birds(stage: Stage, skies: Skies, seed: int) -> Floats:
    flock = draw_flock(stage.birds, 1, stage.scene.n_days, weather_rng(seed, 3), stage.model)
    threshold = np.repeat(flock.threshold_log.T, len(skies.rows), axis=1)
    found = passages(stage.scene.evening, SunHabit.of(stage.scene.evening), skies, threshold)
    whims = flock.evening_min[0, skies.rows].T
    return np.array([found.mixed(follow, whims) for follow in stage.follow_light])


def closing_minutes(plan: YearPlan, settings: DoorSettings, skies: Skies, counts: Ints, fast_min: int) -> Floats:
    """Study minutes in which the program, its clock `fast_min` fast, shuts the door on evenings of `skies` (n,).

    counts   what the cell gives, minutes by evenings (m, n); infinity for a door that does not shut in the half-day
    """
    columns = range(len(skies.rows))
    return np.array([_closing_min(plan, settings, skies, counts, column, fast_min) for column in columns])


def _closing_min(
    plan: YearPlan, settings: DoorSettings, skies: Skies, counts: Ints, column: int, fast_min: int
) -> float:
    """Study minute in which the program shuts the door on one evening; infinity if not within the half-day."""

    def reader(day: int) -> DayRow | None:
        row = day + DAY_2000 - plan.first_day
        if not 0 <= row < plan.n_days:
            return None
        return DayRow(
            int(plan.open_min[row]), int(plan.close_min[row]), int(plan.midnight_min[row]), int(plan.fact_bits[row])
        )

    row = int(skies.rows[column])
    of_row = plan.first_day + row - DAY_2000
    begin = int(plan.close_min[row]) - int(skies.start_min[column]) - max(fast_min, 0) - RUN_IN_MIN
    begin = max(begin + min(settings.evening_from_min, 0), 0)
    shown = int(skies.start_min[column]) + begin + fast_min
    door = DoorState(
        own_day=of_row + shown // DAY_MIN, own_min=shown % DAY_MIN, boot_s=30_000, time=int(TimeBy.CLOCK), known=1,
        age_dark=0, age_bright=0, since_bright_s=0, since_dark_s=10_000, plan=int(Want.UP), place=int(Place.UP),
        wiring_proven=1,
    )  # fmt: skip
    for place in range(begin, skies.n_min):
        shown = int(skies.start_min[column]) + place + fast_min
        inputs = Inputs(clock_day=of_row + shown // DAY_MIN, clock_min=shown % DAY_MIN, top=1)
        inputs.light_counts = int(counts[place, column])
        for _ in range(60):
            step(door, settings, reader, inputs)
            if door.plan == Want.DOWN:
                return float(skies.start_min[column] + place)
    return float("inf")
