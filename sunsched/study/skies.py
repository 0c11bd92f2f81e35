"""Light over the hut and at the cell, minute by minute, for many twilights at once.

A column is one twilight of one weather year: year x n_days + row. Everything is log10 lux.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from sunsched.study.scene import HALF_DAY_MIN, HalfDays, Span
from sunsched.study.spells import Ints, WeatherYears
from sunsched.study.weather import BRIGHTEST_LOG, DARKEST_LOG, Floats, Light, minute_wander


@dataclass(frozen=True)
class Skies:
    """The light of some twilights.

    columns   (n,) which twilight of the block
    rows      (n,) which day of the scene
    start_min (n,) study minute of the first minute held
    clear_log (n_min, n) clear sky on open ground
    sky_log   (n_min, n) with its weather
    cell_log  (n_min, n) the same, dimmed by snow lying on the cell; dirt, view and cell error are left to Levels
    """

    evening: bool
    columns: Ints
    rows: Ints
    start_min: Ints
    clear_log: Light
    sky_log: Light
    cell_log: Light

    @property
    def n_min(self) -> int:
        """Minutes held of each twilight."""
        return len(self.sky_log)


def skies_of(
    half: HalfDays, found: list[Span], years: WeatherYears, rng: np.random.Generator | None
) -> Iterator[Skies]:
    """The skies of every twilight of a block, a span of rows at a time, then again those with snow on the cell.

    rng   draws the minutes; None leaves them at their mean
    A twilight with snow on the cell is drawn once more from noon on: it comes last and replaces the first.
    """
    for span in found:
        yield _plain(half, span, years, rng)
    until = half.start_min + HALF_DAY_MIN
    covered = years.covers.columns(half.n_days, half.start_min, until)
    if len(covered):
        yield _covered(half, covered, years, rng)


def _plain(half: HalfDays, span: Span, years: WeatherYears, rng: np.random.Generator | None) -> Skies:
    rows, offset, n_min, n_years = span.rows, span.offset, span.n_min, years.n_years
    minute = offset + np.arange(n_min)[:, None]
    clear, share = half.clear_log[minute, rows], half.share[minute, rows]
    columns = (np.arange(n_years)[:, None] * half.n_days + rows).ravel()
    start = np.tile(half.start_min[rows] + offset, n_years)
    sky = _attenuation(half, columns, start, n_min, years, rng)
    by_year = sky.reshape(n_min, n_years, len(rows))
    by_year *= share[:, None, :]
    by_year += clear[:, None, :]
    tiled = np.broadcast_to(clear[:, None, :], by_year.shape).reshape(sky.shape)
    return Skies(half.evening, columns, np.tile(rows, n_years), start, tiled, sky, sky)


def _covered(half: HalfDays, columns: Ints, years: WeatherYears, rng: np.random.Generator | None) -> Skies:
    rows = columns % half.n_days
    start = half.start_min[rows]
    sky = _attenuation(half, columns, start, HALF_DAY_MIN, years, rng)
    sky *= half.share[:, rows]
    sky += half.clear_log[:, rows]
    cover = years.covers.cover_log(columns, start, HALF_DAY_MIN, half.n_days)
    return Skies(half.evening, columns, rows, start, half.clear_log[:, rows], sky, sky + cover)


def _attenuation(
    half: HalfDays, columns: Ints, start: Ints, n_min: int, years: WeatherYears, rng: np.random.Generator | None
) -> Light:
    mean_log: Floats = years.evening_log if half.evening else years.morning_log
    if rng is None:
        light = np.zeros((n_min, len(columns)), dtype=np.float32)
    else:
        light = minute_wander(n_min, len(columns), rng)
    light += mean_log.ravel()[columns].astype(np.float32)
    years.storms.dim(light, columns, start)
    return np.clip(light, DARKEST_LOG, BRIGHTEST_LOG, out=light)
