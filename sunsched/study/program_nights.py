"""What the door's program itself makes of a clock that the keeper has just set wrong and insisted on.

The Python twin of the program, second by second, on a few evenings spread over the year: the clock unproven, the cell
as stated, light held for a minute. Slow (a tenth of a second an evening), hence few evenings.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from sunsched.controller.decision import step
from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import DAY_MIN, DayRow, DoorState, Inputs
from sunsched.controller.words import Facts, Place, TimeBy, Want
from sunsched.hardware.light_cell import divider_counts
from sunsched.hardware.parts import LightCell
from sunsched.plan.year import YearPlan
from sunsched.study.block import weather_rng
from sunsched.study.flock import SunHabit, draw_flock, passages
from sunsched.study.scene import HALF_DAY_MIN, Span
from sunsched.study.skies import Skies, skies_of
from sunsched.study.spells import Ints, draw_years
from sunsched.study.stage import Stage
from sunsched.study.weather import Floats

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
    counts = _counts(stage.cell, skies)
    birds = _birds(stage, skies, seed)
    tomorrow = stage.scene.morning.planned_min[rows + 1] + DAY_MIN
    for fast_min in FAST_MIN:
        closed = [_closing_min(plan, settings, skies, counts, column, fast_min) for column in range(len(rows))]
        yield ProgramNights(fast_min, np.array(closed), birds, tomorrow)


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
    whole = Span(rows, np.zeros(len(rows), dtype=np.int64), HALF_DAY_MIN)
    rng = weather_rng(seed, 2)
    years = draw_years(stage.climate, stage.scene.months, 1, rng)
    return next(iter(skies_of(stage.scene.evening, [whole], years, rng)))


def _counts(cell: LightCell, skies: Skies) -> Ints:
    lux = 10.0 ** skies.cell_log.astype(np.float64) * cell.sky_view
    if cell.kind == "lux":
        return np.floor(np.minimum(lux, 32_000)).astype(np.int64)
    return divider_counts(lux, cell.r10_ohm, cell.gamma, cell.fixed_ohm, cell.adc_steps)


def _birds(stage: Stage, skies: Skies, seed: int) -> Floats:
    flock = draw_flock(stage.birds, 1, stage.scene.n_days, weather_rng(seed, 3))
    threshold = np.repeat(flock.threshold_log.T, len(skies.rows), axis=1)
    found = passages(stage.scene.evening, SunHabit.of(stage.scene.evening), skies, threshold)
    whims = flock.evening_min[0, skies.rows].T
    return np.array([found.mixed(follow, whims) for follow in stage.follow_light])


def _closing_min(
    plan: YearPlan, settings: DoorSettings, skies: Skies, counts: Ints, column: int, fast_min: int
) -> float:
    """Study minute in which the program shuts the door on one evening; infinity if not within the half-day."""

    def reader(day: int) -> DayRow | None:
        row = day + DAY_2000 - plan.first_day
        if not 0 <= row < plan.n_days:
            return None
        return DayRow(int(plan.open_min[row]), int(plan.close_min[row]), int(plan.midnight_min[row]), _facts(plan, row))

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


def _facts(plan: YearPlan, row: int) -> int:
    bits = (
        (plan.dark_expected, Facts.DARK_EXPECTED),
        (plan.light_expected, Facts.LIGHT_EXPECTED),
        (plan.open_by_twilight, Facts.OPEN_BY_TWILIGHT),
        (plan.close_by_twilight, Facts.CLOSE_BY_TWILIGHT),
    )
    return sum(int(bit) for column, bit in bits if column[row])
