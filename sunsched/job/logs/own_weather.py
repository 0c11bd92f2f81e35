"""What a keeper's own records tell a comparison: the weather of a light log, and the flock of noted nights."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from pathlib import Path
from statistics import NormalDist
from typing import Any

import numpy as np

from sunsched.base.civil_time import DAY_MIN, month_day
from sunsched.base.errors import LogError
from sunsched.config.configuration import Configuration
from sunsched.hardware.model import Model, Moved
from sunsched.job.logs.angle import AngleFit
from sunsched.job.logs.replay import chip_offset_of, chunks, readable_lux
from sunsched.job.logs.settling import settled
from sunsched.job.pipeline import span_of
from sunsched.plan.year import YearPlan
from sunsched.sky.daylight import depression_of_clear_sky_lux
from sunsched.study import light_log
from sunsched.study.calibration import EveningFit, calibration, evening_fits
from sunsched.study.flock import SETTLE_MIN
from sunsched.study.log_light import logged_half_days
from sunsched.study.measured import MeasuredMeans
from sunsched.study.observations import DUSK_LOG_MIN
from sunsched.study.scene import scene_of, twilight_share
from sunsched.study.weather import BRIGHTEST_LOG, DARKEST_LOG

LEAST_TWILIGHTS = 60
MEAN_DULL_LOG = 0.3  # what clouds take from an evening with the Sun a few degrees down, on average [weather.py]


def weather_of_log(configuration: Configuration, path: Path, plan: YearPlan) -> MeasuredMeans:
    """The mean attenuation of each evening and morning in a light log of the site, the door's own or a logger's.

    Light is compared with the log's own clear twilights, evenings and mornings apart: the cell's error, its sky and a
    steady error of the log's clock cancel. What clouds took in twilight is turned back into what they take by day.
    Raises LogError where fewer than 60 twilights or too few clear ones are in the log, and as `replay` does.
    """
    log = light_log.read(path)
    found = settled(log, configuration, chip_offset_of(configuration, min(log.days)), None, None)
    cell = configuration.light_cell
    least, most = readable_lux(configuration, found.unit, log.greatest)
    levels = (cell.dark_lux, cell.light_lux, cell.sky_view)
    fits: dict[bool, list[tuple[int, EveningFit]]] = {True: [], False: []}
    for start, n_days in chunks(sorted(log.days)):
        span = span_of(configuration, start, n_days, path.name)
        scene = scene_of(span, configuration.model)
        midnight = span.days.astype(np.float64) * DAY_MIN - span.chip_offset_min
        for half in (scene.evening, scene.morning):
            logged = logged_half_days(log, found.unit, found.clock, cell, half, midnight)
            own = evening_fits(logged, *levels, least, most)
            fits[half.evening] += [(span.first_day + fit.row, fit) for fit in own]
    n = len(fits[True]) + len(fits[False])
    if n < LEAST_TWILIGHTS:
        raise LogError(
            f"{path}: {n} evenings and mornings with light through twilight; wanted {LEAST_TWILIGHTS} or more"
        )
    evening, morning = (_by_row(configuration, fits[side], plan, path) for side in (True, False))
    years = max(len(evening), len(morning))
    padded = [np.concatenate([m, np.full((years - len(m), plan.n_days), np.nan)]) for m in (evening, morning)]
    return MeasuredMeans(padded[0], padded[1], path.name)


def _by_row(
    configuration: Configuration, fits: list[tuple[int, EveningFit]], plan: YearPlan, path: Path
) -> np.ndarray[Any, np.dtype[np.float64]]:
    """Attenuation by logged year and row of the plan (n_years, n_days), NaN where the log has none."""
    if not fits:
        return np.full((1, plan.n_days), np.nan)
    clear = calibration([fit for _, fit in fits])
    if clear is None:
        raise LogError(f"{path}: fewer than three clear twilights; wanted some to hold the others against")
    cell = configuration.light_cell
    depth = np.array([-depression_of_clear_sky_lux(cell.dark_lux / cell.sky_view)], dtype=np.float32)
    share = float(twilight_share(depth, configuration.model.deep_twilight_share)[0])
    day = np.array([day for day, _ in fits])
    cloud = np.clip((np.array([fit.dark_log for _, fit in fits]) - clear.dark_log) / share, DARKEST_LOG, BRIGHTEST_LOG)
    year = day.astype("datetime64[D]").astype("datetime64[Y]").astype(np.int64)
    row_of = {int(date): row for row, date in enumerate(month_day(plan.days))}
    rows = np.array([row_of.get(int(date), -1) for date in month_day(day)])
    found = np.full((int(year.max() - year.min()) + 1, plan.n_days), np.nan)
    found[(year - year.min())[rows >= 0], rows[rows >= 0]] = cloud[rows >= 0]
    return found


@dataclass(frozen=True)
class Learned:
    """What noted nights say of the flock.

    follow_light   shares w to show: the low end, the middle and the high end where a light log gives them, else none
    level_lux, level_low_lux, level_high_lux   clear-sky light at which a bird of middle habit goes in (95 %)
    """

    n_nights: int
    follow_light: tuple[float, ...]
    level_lux: float
    level_low_lux: float
    level_high_lux: float

    def plain(self) -> dict[str, Any]:
        """Plain values, for JSON."""
        return {**asdict(self), "follow_light": list(self.follow_light)}


def learned_of(configuration: Configuration, fit: AngleFit) -> Learned:
    """The flock of a fit: last birds of `birds` go in later, and darker, than the middle one, by the assumed spreads.

    The range holds the nights' own error, both ends of the assumed spread of levels, and that birds which follow the
    light go in under a sky that is duller than the clear one by a third of a decade on average.
    """
    model, birds = configuration.model, max(configuration.flock.birds, 1)
    light_log10 = np.log10(np.maximum(fit.nights.clear_lux, 1e-3)) + DUSK_LOG_MIN * (SETTLE_MIN - 1)
    middle = float(np.median(light_log10))
    error = 1.2533 * float(light_log10.std(ddof=1)) / math.sqrt(fit.nights.n) if fit.nights.n > 1 else 0.5

    def above_last(spread_log: float) -> float:
        of_one = math.hypot(spread_log, model.bird_jitter_min * DUSK_LOG_MIN)
        return of_one * NormalDist().inv_cdf(0.5 ** (1 / birds))

    w = fit.following
    w_low, w_middle, w_high = (0.0, 0.5, 1.0) if w is None else (w.low, float(np.clip(w.share, w.low, w.high)), w.high)
    (moved,) = (m for m in Model.model_fields["bird_level_spread_log10"].metadata if isinstance(m, Moved))
    low = middle + above_last(moved.low) - 2 * error - MEAN_DULL_LOG * w_high
    high = middle + above_last(moved.high) + 2 * error - MEAN_DULL_LOG * w_low
    shares = () if w is None else tuple(dict.fromkeys((w_low, w_middle, w_high)))
    level = middle + above_last(model.bird_level_spread_log10) - MEAN_DULL_LOG * w_middle
    return Learned(fit.nights.n, shares, 10**level, 10**low, 10**high)
