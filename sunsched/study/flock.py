"""When each bird goes in and would come out: hens that go to roost by themselves, some by the light, some by the Sun.

A door does not bring ducks, geese or turkeys in. What share of the habit follows the evening's own light (`w`) and what
the Sun alone (a clear sky at the same hour) is not known and decides the comparison, so results are shown for several.
All figures here are assumed; a published study says that hens follow a roughly constant light level and then settle
(Kent et al. 1997); junglefowl went to roost 2 min before sunset and left it 7 min before sunrise (Arshad et al. 2001).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sunsched.hardware.model import MODEL, Model
from sunsched.study.passing import confirmed, first_above, last_reaching, lightest_to_come
from sunsched.study.scene import LONGEST_HALF_DAY_MIN, HalfDays, Skies
from sunsched.study.weather import Floats, Ints

# Levels, whims and stragglers stand in [model]: all assumed.
THRESHOLD_LUX, THRESHOLD_SPREAD_LOG = MODEL.bird_level_lux, MODEL.bird_level_spread_log10
JITTER_MIN, STRAGGLER_SHARE, STRAGGLER_MEAN_MIN = MODEL.bird_jitter_min, MODEL.straggler_share, MODEL.straggler_min
SETTLE_MIN = 5  # it must have been so dim (so light) for five minutes
HABIT_MIN = 45.0  # assumed: where it never gets dim, birds go in this long before the planned closing
LOWEST_LEVEL_LOG, HIGHEST_LEVEL_LOG, LEVEL_STEP_LOG = -2.0, 4.0, 0.01  # 0.01 is a fifth of a minute at dusk
LEARNT_MIN = 15.0  # assumed: and are in this long before a closing that a limit brings before dusk
MOST_DRAWN = 12  # birds drawn for a flock; larger flocks are scaled from these

Birds = NDArray[np.float32]


@dataclass(frozen=True)
class FlockYears:
    """The birds of a block: each year's flock with its own thresholds and each evening's and morning's whims.

    threshold_log        (n_years, birds) [log10 lux]
    evening_min, morning_min   (n_years, n_days, birds) minutes later than the light or the Sun would have it
    """

    threshold_log: Birds
    evening_min: Birds
    morning_min: Birds

    @property
    def birds(self) -> int:
        """How many birds were drawn."""
        return int(self.threshold_log.shape[1])

    def same_evenings(self, other: "FlockYears") -> bool:
        """Whether the birds of both go in alike."""
        return np.array_equal(self.threshold_log, other.threshold_log) and np.array_equal(
            self.evening_min, other.evening_min
        )


def draw_flock(birds: int, n_years: int, n_days: int, rng: np.random.Generator, model: Model = MODEL) -> FlockYears:
    """Draw the flocks of a block of years; at most MOST_DRAWN birds, and none for a flock of none."""
    drawn = min(birds, MOST_DRAWN)
    shape = (n_years, n_days, drawn)
    levels, evenings, mornings, stragglers = rng.spawn(4)
    threshold = np.log10(model.bird_level_lux) + model.bird_level_spread_log10 * levels.standard_normal(
        (n_years, drawn)
    )
    evening = np.float32(model.bird_jitter_min) * evenings.standard_normal(shape, dtype=np.float32)
    # The first of the least likely bird-nights straggle whatever the share: more of them are the same ones and others.
    chance = stragglers.random(evening.size, dtype=np.float32)
    late = np.flatnonzero(chance < model.straggler_share)
    late = late[np.argsort(chance[late], kind="stable")]
    evening.ravel()[late] += (model.straggler_min * stragglers.standard_exponential(len(late))).astype(np.float32)
    morning = np.float32(model.bird_jitter_min) * mornings.standard_normal(shape, dtype=np.float32)
    return FlockYears(threshold.astype(np.float32), evening, morning)


def exact_flock(birds: int, n_years: int, n_days: int) -> FlockYears:
    """A flock without spread, whims or stragglers: every bird at the same light."""
    drawn = min(birds, MOST_DRAWN)
    still = np.zeros((n_years, n_days, drawn), dtype=np.float32)
    return FlockYears(np.full((n_years, drawn), np.log10(THRESHOLD_LUX), dtype=np.float32), still, still)


@dataclass(frozen=True)
class SunHabit:
    """When a clear sky passes each level on each day: what a bird that follows the Sun alone goes by.

    place  (n_levels, n_days) minutes into the half-day, LONGEST_HALF_DAY_MIN where it never does
    """

    place: NDArray[np.int16]

    @classmethod
    def of(cls, half: HalfDays) -> "SunHabit":
        """The habit for the evenings or mornings of a scene."""
        level = np.arange(LOWEST_LEVEL_LOG, HIGHEST_LEVEL_LOG, LEVEL_STEP_LOG, dtype=np.float32)
        levels = np.repeat(level[:, None], half.n_days, axis=1)
        passing = last_reaching if half.evening else first_above
        return cls(passing(half.clear_log, levels).astype(np.int16))

    def at(self, threshold_log: Birds, rows: Ints) -> Ints:
        """Minutes into the half-day at which the clear sky passes `threshold_log` (n_birds, n) on `rows` (n,)."""
        step = np.rint((threshold_log - LOWEST_LEVEL_LOG) / LEVEL_STEP_LOG).astype(np.int64)
        n_levels, n_days = self.place.shape
        at = np.clip(step, 0, n_levels - 1) * n_days + rows
        return np.asarray(self.place.reshape(-1).take(at), dtype=np.int64)


@dataclass(frozen=True)
class Passages:
    """Study minutes at which birds pass the door by light and by Sun, (n_birds, n), before whims.

    Birds that a polar night keeps in stand at the half-day's first minute in the evening, at infinity in the morning.
    latest   (n,) where a limit shuts the door before dusk, birds learn to be in by then; infinity elsewhere
    """

    by_light: Floats
    by_sun: Floats
    latest: Floats

    def mixed(self, follow_light: float, whim_min: Birds) -> Floats:
        """Minutes at which the birds pass when the share `follow_light` (0..1) of their habit follows the light."""
        never = np.isinf(self.by_sun)
        some_never = bool(never.any())
        by_sun = np.where(never, 0.0, self.by_sun) if some_never else self.by_sun
        mixed: Floats = follow_light * self.by_light + (1 - follow_light) * by_sun + whim_min
        if some_never:
            mixed[never] = np.inf
        return mixed if np.isinf(self.latest).all() else np.minimum(mixed, self.latest + whim_min)


def passages(half: HalfDays, habit: SunHabit, skies: Skies, threshold_log: Birds) -> Passages:
    """When each bird of each twilight goes in (evenings) or wants out (mornings); thresholds (n_birds, n)."""
    if skies.evening:
        to_come = skies.once("sky to come", 0, lambda: lightest_to_come(skies.sky_log))
        by_light = skies.n_min - to_come.leading(threshold_log, np.less)
        # It has been so dim for SETTLE_MIN only that long after the last minute that was not.
        by_light = np.where(by_light > 0, np.minimum(by_light + SETTLE_MIN - 1, skies.n_min), 0)
    else:
        by_light = first_above(confirmed(skies.sky_log, SETTLE_MIN - 1, brightest=False), threshold_log)
    by_sun = habit.at(threshold_log, skies.rows)
    never = by_sun >= LONGEST_HALF_DAY_MIN
    light_min = (skies.start_min + by_light).astype(np.float64)
    sun_min = (half.start_min[skies.rows] + by_sun + SETTLE_MIN - 1).astype(np.float64)
    if skies.evening:
        planned_min = half.planned_min[skies.rows]
        latest = np.where(half.by_twilight[skies.rows], np.inf, planned_min - LEARNT_MIN)
        by_habit = planned_min - HABIT_MIN
        return Passages(np.where(never, by_habit, light_min), np.where(never, by_habit, sun_min), latest)
    return Passages(light_min, np.where(never, np.inf, sun_min), np.full(len(skies.rows), np.inf))
