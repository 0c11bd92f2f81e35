"""The site's year for the study: every half-day from solar noon to midnight and back, minute by minute.

A study minute counts from midnight of the row's date in the chip's standard time. Only minutes in which an outcome
can change are kept: from where no cloud could yet make the cell dark to where no sky could still be light.

Skies lays the light over hut and cell on it, for many twilights at once: a column is one twilight of one weather year
(year x n_days + row), everything is log10 lux.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from sunsched.hardware.model import MODEL, Model
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.sky.crossings import sun_altitude_deg
from sunsched.sky.daylight import clear_sky_lux, refraction_deg
from sunsched.study.weather import (
    BRIGHTEST_LOG,
    DARKEST_LOG,
    DEEP_TWILIGHT_DEG,
    LOW_TWILIGHT_DEG,
    TWILIGHT_SHARE,
    Floats,
    Ints,
    Light,
    WeatherYears,
    minute_wander,
)

Bools = NDArray[np.bool_]
T = TypeVar("T")

LONGEST_HALF_DAY_MIN = 740  # 12 h 16 min and a little more, which is harmless
LENGTH_STEP_MIN = 60  # rows are treated together when their spans end in the same hour
LEAST_DAY_LUX = 4000.0  # hens wait for a few hundred lux: above this clear light none has begun to go in
MARGIN_MIN = 8  # minutes beyond the first and last that matter, for confirmations


@dataclass(frozen=True)
class HalfDays:
    """One half of each of n days: evenings from solar noon on, or mornings from solar midnight on.

    start_min    (n,) study minute of the first minute held
    clear_log    (LONGEST_HALF_DAY_MIN, n) log10 lux of the clear sky on open ground, in the middle of each minute
    share        (LONGEST_HALF_DAY_MIN, n) what part of the attenuation counts: 1 by day, see `twilight_share`
    altitude_deg (LONGEST_HALF_DAY_MIN, n) refracted
    planned_min  (n,) study minute of the planned move, NaN where the door stays down
    by_twilight  (n,) the Sun decided that minute, no limit
    """

    evening: bool
    start_min: Ints
    clear_log: Light
    share: Light
    altitude_deg: Light
    planned_min: Floats
    by_twilight: Bools
    _of_spans: dict["Span", tuple[Light, Light]] = field(default_factory=dict, init=False, repr=False, compare=False)

    @property
    def n_days(self) -> int:
        """How many days there are."""
        return len(self.start_min)

    def of_span(self, span: "Span") -> tuple[Light, Light]:
        """Clear light and share of a span's minutes, (n_min, n_rows) each: the same for every block."""
        if span not in self._of_spans:
            minute = span.offset + np.arange(span.n_min)[:, None]
            self._of_spans[span] = self.clear_log[minute, span.rows], self.share[minute, span.rows]
        return self._of_spans[span]


@dataclass(frozen=True, eq=False)
class Span:
    """Rows treated together: `n_min` minutes of each, beginning `offset` minutes into the half-day."""

    rows: Ints
    offset: Ints
    n_min: int


@dataclass(frozen=True)
class Scene:
    """Both halves of every day of a plan, and the month of each (January 0)."""

    evening: HalfDays
    morning: HalfDays
    months: Ints

    @property
    def n_days(self) -> int:
        """How many days there are."""
        return self.evening.n_days

    @cached_property
    def next_opening_min(self) -> Floats:
        """The planned opening after each evening (n_days,), or the usual one [study minutes]."""
        opening = self.morning.planned_min
        usual = np.nanmean(opening) if not np.isnan(opening).all() else 0.0
        return np.roll(np.where(np.isnan(opening), usual, opening), -1) + 1440.0


def study_minutes(plan: YearPlan, minutes: NDArray[np.int16]) -> Floats:
    """Planned minutes of the chip as study minutes (n,), NaN where the door stays down."""
    if plan.chip.keeps != "civil":
        return np.where(minutes == NO_MINUTE, np.nan, minutes.astype(np.float64))
    return plan.utc_min(minutes) + plan.chip_offset_min - plan.days * 1440.0


def scene_of(plan: YearPlan, model: Model = MODEL) -> Scene:
    """The half-days of every row of a plan (a few hundred thousand altitudes: a tenth of a second)."""
    noon = _from_chip_noon(plan, plan.noon_min)
    midnight = _from_chip_noon(plan, plan.midnight_min)
    before = np.concatenate([[midnight[0]], midnight[:-1]]) - 1440
    dates = plan.days.astype("datetime64[D]").astype("datetime64[M]").astype(np.int64)
    return Scene(
        _half_days(plan, noon, study_minutes(plan, plan.close_min), plan.close_by_twilight, True, model),
        _half_days(plan, before, study_minutes(plan, plan.open_min), plan.open_by_twilight, False, model),
        dates % 12,
    )


def with_model(scene: Scene, model: Model) -> Scene:
    """The same scene with what clouds take from its twilights by another model."""
    halves = [
        replace(half, share=twilight_share(half.altitude_deg, model.deep_twilight_share))
        for half in (scene.evening, scene.morning)
    ]
    return replace(scene, evening=halves[0], morning=halves[1])


def twilight_share(altitude_deg: Light, deep_share: float) -> Light:
    """What clouds take at each refracted altitude over what they take by day, in log light; any shape."""
    at_deg = (DEEP_TWILIGHT_DEG, LOW_TWILIGHT_DEG)
    low: Light = np.interp(altitude_deg, at_deg, (deep_share, TWILIGHT_SHARE)).astype(np.float32)
    return np.where(altitude_deg > 0, np.float32(1), low)


def spans(
    half: HalfDays,
    least_dark_lux: float,
    most_light_lux: float,
    sky_view: float,
    window: tuple[int, int],
    cell_log: float,
    linger_min: int = 0,
    dirt_log: float = MODEL.dirt_log10,
) -> list[Span]:
    """The spans of minutes that matter, rows of like length together.

    least_dark_lux, most_light_lux   range of thresholds to be judged [lux at the cell]
    sky_view   share of the sky that the cell sees
    window     first and last minute, from the planned one, in which the cell may act; always inside the span
    cell_log   widest error of a cell [log10 lux]
    linger_min more minutes at the end
    dirt_log   most that dirt takes [log10 lux]
    """
    view_log = np.log10(sky_view)
    day_log = np.log10(most_light_lux) - DARKEST_LOG - view_log + dirt_log + cell_log
    day_log = max(float(day_log), float(np.log10(LEAST_DAY_LUX)))
    night_log = np.log10(least_dark_lux) - BRIGHTEST_LOG - view_log - cell_log
    bright, dark = half.clear_log >= day_log, half.clear_log < night_log
    if half.evening:
        first = _last_true(bright) - MARGIN_MIN
        last = np.where(dark.any(axis=0), dark.argmax(axis=0), LONGEST_HALF_DAY_MIN) + MARGIN_MIN
    else:
        first = _last_true(dark) - MARGIN_MIN
        last = np.where(bright.any(axis=0), bright.argmax(axis=0), LONGEST_HALF_DAY_MIN) + MARGIN_MIN
    last = last + linger_min
    planned = np.where(np.isnan(half.planned_min), half.start_min + first, half.planned_min) - half.start_min
    first = np.minimum(first, planned + window[0] - MARGIN_MIN)
    last = np.maximum(last, planned + window[1] + MARGIN_MIN)
    first = np.clip(first, 0, LONGEST_HALF_DAY_MIN - LENGTH_STEP_MIN).astype(np.int64)
    last = np.clip(last, first + 1, LONGEST_HALF_DAY_MIN).astype(np.int64)
    steps = -(-(last - first) // LENGTH_STEP_MIN)
    found = []
    for step in np.unique(steps):
        rows = np.flatnonzero(steps == step)
        n_min = min(int(step) * LENGTH_STEP_MIN, LONGEST_HALF_DAY_MIN)
        found.append(Span(rows, np.minimum(first[rows], LONGEST_HALF_DAY_MIN - n_min), n_min))
    return found


def _from_chip_noon(plan: YearPlan, minutes: NDArray[np.int16]) -> Ints:
    """Solar noon or midnight of each row in study minutes."""
    return np.rint(study_minutes(plan, minutes)).astype(np.int64)


def _half_days(
    plan: YearPlan, start_min: Ints, planned_min: Floats, by_twilight: Bools, evening: bool, model: Model
) -> HalfDays:
    minute = start_min + np.arange(LONGEST_HALF_DAY_MIN)[:, None] + 0.5
    utc_min = plan.days * 1440.0 - plan.chip_offset_min + minute
    airless = sun_altitude_deg(utc_min.ravel(), plan.site.latitude_deg, plan.site.longitude_deg)
    altitude = (airless + refraction_deg(airless)).reshape(minute.shape).astype(np.float32)
    share = twilight_share(altitude, model.deep_twilight_share)
    clear_log = np.log10(clear_sky_lux(altitude)).astype(np.float32)
    return HalfDays(evening, start_min, clear_log, share, altitude, planned_min, by_twilight)


def _last_true(mask: Bools) -> Ints:
    """Place of the last true along the minutes, 0 where there is none."""
    backwards: Ints = len(mask) - 1 - mask[::-1].argmax(axis=0)
    return np.where(mask.any(axis=0), backwards, 0)


@dataclass(frozen=True)
class Skies:
    """The light of some twilights.

    columns   (n,) which twilight of the block
    rows      (n,) which day of the scene
    start_min (n,) study minute of the first minute held
    sky_log   (n_min, n) light with its weather
    cell_log  (n_min, n) the same, dimmed by snow lying on the cell; dirt, view and cell error are left to Levels
    """

    half: HalfDays
    columns: Ints
    rows: Ints
    start_min: Ints
    sky_log: Light
    cell_log: Light
    _worked_out: dict[tuple[str, float], object] = field(default_factory=dict, init=False, repr=False, compare=False)

    @property
    def evening(self) -> bool:
        """Evenings, else mornings."""
        return self.half.evening

    @property
    def n_min(self) -> int:
        """Minutes held of each twilight."""
        return len(self.sky_log)

    @property
    def clear_log(self) -> Light:
        """The clear sky on open ground (n_min, n)."""
        minute = self.start_min - self.half.start_min[self.rows] + np.arange(self.n_min)[:, None]
        clear: Light = self.half.clear_log[minute, self.rows]
        return clear

    def once(self, what: str, number: float, work: Callable[[], T]) -> T:
        """What follows from these skies and a number, worked out when first asked for and kept with them."""
        if (what, number) not in self._worked_out:
            self._worked_out[what, number] = work()
        return cast(T, self._worked_out[what, number])


_Minutes = tuple[np.random.Generator, float] | None


class SameWeather:
    """The skies of the first of several runs over the same random numbers, for those that follow it.

    A run whose weather is the first one's has its very skies; where only the means of the twilights differ, the
    minutes about them are not drawn again. All runs hold the same spans of minutes.
    """

    def __init__(self) -> None:
        self._weather: dict[tuple[bool, int], tuple[HalfDays, WeatherYears, float]] = {}
        self._skies: dict[tuple[bool, int], Skies] = {}
        self._wander: dict[tuple[bool, int], Light] = {}

    def plain(self, half: HalfDays, number: int, span: Span, years: WeatherYears, minutes: _Minutes) -> Skies:
        """The skies of the span of that number."""
        place = half.evening, number
        spread_log = 0.0 if minutes is None else minutes[1]
        if place not in self._skies:
            wander = self._wander[place] = _wander(span.n_min, years.n_years * len(span.rows), minutes)
            self._weather[place] = half, years, spread_log
            self._skies[place] = _plain(half, span, years, wander.copy())
            return self._skies[place]
        first_half, first_years, first_spread_log = self._weather[place]
        same_spread = spread_log == first_spread_log
        if same_spread and half is first_half and years.same_sky(first_years, half.evening):
            return self._skies[place]
        if same_spread:
            return _plain(half, span, years, self._wander[place].copy())
        return _plain(half, span, years, _wander(span.n_min, years.n_years * len(span.rows), minutes))


def skies_of(
    half: HalfDays,
    found: list[Span],
    years: WeatherYears,
    rng: np.random.Generator | None,
    spread_log: float = MODEL.minute_spread_log10,
    same: SameWeather | None = None,
) -> Iterator[Skies]:
    """The skies of every twilight of a block, a span of rows at a time, then again those with snow on the cell.

    rng   draws the minutes, `spread_log` about their mean [log10]; None leaves them there
    same  of runs over the same random numbers
    A twilight with snow on the cell is drawn once more from noon on: it comes last and replaces the first.
    """
    # Random numbers of their own for each span: what is drawn for one leaves the others as they were.
    own: list[_Minutes] = [None if child is None else (child, spread_log) for child in _children(rng, len(found) + 1)]
    for number, (span, minutes) in enumerate(zip(found, own, strict=False)):
        if same is not None:
            yield same.plain(half, number, span, years, minutes)
        else:
            yield _plain(half, span, years, _wander(span.n_min, years.n_years * len(span.rows), minutes))
    until = half.start_min + LONGEST_HALF_DAY_MIN
    covered = years.covers.columns(half.n_days, half.start_min, until)
    if len(covered):
        yield _covered(half, covered, years, own[-1])


def _children(rng: np.random.Generator | None, n: int) -> Sequence[np.random.Generator | None]:
    return [None] * n if rng is None else rng.spawn(n)


def _wander(n_min: int, n_columns: int, minutes: _Minutes) -> Light:
    if minutes is None:
        return np.zeros((n_min, n_columns), dtype=np.float32)
    rng, spread_log = minutes
    return minute_wander(n_min, n_columns, rng, spread_log)


def _plain(half: HalfDays, span: Span, years: WeatherYears, wander: Light) -> Skies:
    rows, offset, n_min, n_years = span.rows, span.offset, span.n_min, years.n_years
    clear, share = half.of_span(span)
    columns = (np.arange(n_years)[:, None] * half.n_days + rows).ravel()
    start = np.tile(half.start_min[rows] + offset, n_years)
    sky = _attenuation(half, columns, start, years, wander)
    by_year = sky.reshape(n_min, n_years, len(rows))
    by_year *= share[:, None, :]
    np.minimum(by_year, np.float32(BRIGHTEST_LOG), out=by_year)
    by_year += clear[:, None, :]
    return Skies(half, columns, np.tile(rows, n_years), start, sky, sky)


def _covered(half: HalfDays, columns: Ints, years: WeatherYears, minutes: _Minutes) -> Skies:
    rows = columns % half.n_days
    start = half.start_min[rows]
    sky = _attenuation(half, columns, start, years, _wander(LONGEST_HALF_DAY_MIN, len(columns), minutes))
    sky *= half.share[:, rows]
    np.minimum(sky, np.float32(BRIGHTEST_LOG), out=sky)
    sky += half.clear_log[:, rows]
    cover = years.covers.cover_log(columns, start, LONGEST_HALF_DAY_MIN, half.n_days)
    return Skies(half, columns, rows, start, sky, sky + cover)


def _attenuation(half: HalfDays, columns: Ints, start: Ints, years: WeatherYears, light: Light) -> Light:
    """What the weather takes, in place of the wandering minutes that it is given."""
    mean_log: Floats = years.evening_log if half.evening else years.morning_log
    light += mean_log.ravel()[columns].astype(np.float32)
    years.storms.dim(light, columns, start)
    return np.clip(light, DARKEST_LOG, BRIGHTEST_LOG, out=light)
