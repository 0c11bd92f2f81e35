"""The keeper's own nights: date and time of the last bird in, and the Sun and clear-sky light at that time."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import DAY_MIN, day_number
from sunsched.base.errors import LogError, RangeError
from sunsched.base.rounding import DIGITS, MINUTE_DECIMALS, rounded
from sunsched.sky.crossings import altitude_crossings, sun_altitude_deg
from sunsched.sky.daylight import clear_sky_lux, refraction_deg

Floats = NDArray[np.float64]

SUNSET_DEG = -50.0 / 60.0  # almanac practice: refraction 34' and the Sun's half diameter 16'
HIGHEST_DEG, LOWEST_DEG = 10.0, -18.0  # what evening.depression_deg can say
PAST_MIDNIGHT_MIN = 90.0  # later than this after solar midnight it is a morning
OUTLIER_SIGMAS = 3.5  # of the median absolute deviation: common practice
_HEADING = re.compile(r"[A-Za-z_ ]+")


@dataclass(frozen=True)
class NotedNight:
    """One row of the list: its number, date and minute [after midnight of that date, by the list's clock]."""

    row: int
    date: dt.date
    minute: float


@dataclass(frozen=True)
class Nights:
    """The Sun on n noted nights, in the order of their dates.

    utc_min          (n,) last bird in [utc_min]
    depression_deg   (n,) of the Sun's centre, without refraction
    clear_lux        (n,) what a clear sky gives open ground
    after_sunset_min (n,) minutes after sunset, NaN where the Sun did not set
    """

    noted: tuple[NotedNight, ...]
    utc_min: Floats
    depression_deg: Floats
    clear_lux: Floats
    after_sunset_min: Floats
    warnings: tuple[str, ...]

    @property
    def n(self) -> int:
        """How many nights there are."""
        return len(self.noted)


def noted_nights(lines: Sequence[str], name: str) -> list[NotedNight]:
    """Read a list of nights: date and time a line, with commas, semicolons, tabs or blanks between them.

    Remarks (#), empty lines, a heading and further columns are left out. Raises LogError naming the row.
    """
    found: list[NotedNight] = []
    for row, line in enumerate(lines, 1):
        cells = [cell for cell in re.split(r"[,;\t ]+", line.strip().replace("T", " ").lstrip("\ufeff")) if cell]
        if not cells or cells[0].startswith("#"):
            continue
        if not found and _HEADING.fullmatch(cells[0]):
            continue
        if len(cells) < 2:
            raise LogError(f"{name}: row {row}: '{line.strip()}'; wanted a date and a time such as 2027-03-01 18:12")
        found.append(NotedNight(row, _date(cells[0], name, row), _minute(cells[1], name, row)))
    if not found:
        raise LogError(f"{name}: no night in it; wanted lines such as 2027-03-01,18:12")
    return found


def _of_known_years(date: dt.date) -> dt.date:
    # Arithmetic with days near year 1 or 9999 leaves the calendar; the Sun is known for a lifetime only.
    if not 1900 <= date.year <= 2200:
        raise ValueError
    return date


def _date(text: str, name: str, row: int) -> dt.date:
    dotted = re.fullmatch(r"([0-9]{1,2})\.([0-9]{1,2})\.([0-9]{4})", text)
    try:
        if dotted:
            return _of_known_years(dt.date(int(dotted[3]), int(dotted[2]), int(dotted[1])))
        if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text):
            return _of_known_years(dt.date.fromisoformat(text))
    except ValueError:
        pass
    raise LogError(f"{name}: row {row}: date '{text}'; wanted such as 2027-03-01")


def _minute(text: str, name: str, row: int) -> float:
    match = re.fullmatch(r"([0-9]{1,2}):([0-9]{2})(?::([0-9]{2}))?", text)
    if not match or int(match[1]) > 23 or int(match[2]) > 59 or int(match[3] or 0) > 59:
        raise LogError(f"{name}: row {row}: time '{text}'; wanted such as 18:12")
    return int(match[1]) * 60 + int(match[2]) + int(match[3] or 0) / 60


def sun_on_nights(
    noted: Sequence[NotedNight],
    name: str,
    latitude_deg: float,
    longitude_deg: float,
    utc_of: Callable[[float], float],
) -> Nights:
    """The Sun at each noted time; `utc_of` turns minutes since 1970 by the list's clock into utc_min.

    Raises LogError naming the row where the time cannot be an evening's: the Sun above 10 degrees or below -18, or
    a morning. Of two times for one date the later counts.
    """
    ordered, warnings = _one_a_date(sorted(noted, key=lambda night: (night.date, night.minute)))
    local = [day_number(night.date) * DAY_MIN + night.minute for night in ordered]
    utc_min = np.array([utc_of(minute) for minute in local])
    try:
        airless = sun_altitude_deg(utc_min, latitude_deg, longitude_deg)
        first = int(np.floor(utc_min.min() / DAY_MIN)) - 2
        n_days = int(np.ceil(utc_min.max() / DAY_MIN)) + 2 - first
        days = altitude_crossings(first, n_days, latitude_deg, longitude_deg, [SUNSET_DEG])
    except RangeError as error:
        raise LogError(f"{name}: {error}") from error
    noon = np.searchsorted(days.noon_utc_min, utc_min, side="right") - 1
    past = utc_min - days.midnight_utc_min[noon + 1]
    for night, altitude, late in zip(ordered, airless.tolist(), past.tolist(), strict=True):
        _refuse_unless_evening(night, name, altitude, late)
        if late > 0:
            warnings.append(f"row {night.row}: after solar midnight; taken for the evening before")
    nights = Nights(
        noted=tuple(ordered),
        utc_min=utc_min,
        depression_deg=np.round(-airless, DIGITS),
        clear_lux=clear_sky_lux(airless + refraction_deg(airless)),
        after_sunset_min=np.round(utc_min - days.set_utc_min[0, noon], MINUTE_DECIMALS),
        warnings=(),
    )
    return Nights(**{**nights.__dict__, "warnings": (*warnings, *_outliers(nights))})


def _one_a_date(ordered: list[NotedNight]) -> tuple[list[NotedNight], list[str]]:
    kept: dict[dt.date, NotedNight] = {}
    warnings = []
    for night in ordered:
        if night.date in kept:
            warnings.append(f"row {night.row}: {night.date} is noted twice; the later time counts")
        kept[night.date] = night
    return list(kept.values()), warnings


def _refuse_unless_evening(night: NotedNight, name: str, altitude_deg: float, past_midnight_min: float) -> None:
    at = f"{name}: row {night.row}: {night.date} {int(night.minute) // 60:02d}:{int(night.minute) % 60:02d}"
    if altitude_deg > HIGHEST_DEG:
        raise LogError(f"{at}: the Sun stands {altitude_deg:.0f} degrees high then; a wrong time or zone?")
    if altitude_deg < LOWEST_DEG:
        raise LogError(f"{at}: the Sun is {-altitude_deg:.0f} degrees below the horizon; a wrong time or zone?")
    if past_midnight_min > PAST_MIDNIGHT_MIN:
        raise LogError(f"{at} is a morning; wanted the time of the last bird in, in the evening")


def _outliers(nights: Nights) -> list[str]:
    """The latest night where it stands alone, for it would decide by itself."""
    value = nights.depression_deg
    if len(value) < 5:
        return []
    middle = float(np.median(value))
    sigma = 1.4826 * float(np.median(np.abs(value - middle)))
    latest = int(value.argmax())
    if sigma > 0 and value[latest] - middle > OUTLIER_SIGMAS * sigma:
        night = nights.noted[latest]
        return [f"row {night.row}: {night.date} is far later than the other nights and decides the angle alone"]
    return []


def chance_next_later(n: int) -> float:
    """Chance that the next night is later than the latest of `n`: 1 / (n + 1), nights being alike and independent."""
    return 1.0 / (n + 1)


def nights_needed(share: float) -> int:
    """How many nights must be noted until the latest leaves out `share` of nights to come: 1 / share - 1."""
    return math.ceil(1.0 / share - 1.0 - 1e-9)


def level_for_share(values: Floats, share: float) -> float | None:
    """The least of the noted values (n,) that leaves out at most `share` of nights to come; None if n is too small.

    Of n nights the j-th smallest is passed by (n + 1 - j) / (n + 1) of nights to come, on average.
    """
    place = place_for_share(len(values), share)
    return None if place is None else float(np.sort(values)[place - 1])


def place_for_share(n: int, share: float) -> int | None:
    """Which of n noted values, counted from the least, leaves out at most `share` on average; None if none does."""
    place = math.ceil((n + 1) * (1.0 - share) - 1e-9)
    return None if place > n else max(place, 1)


MOST_NOISE_LOG = 0.3  # the light at the cell against that over the birds, from evening to evening: [model]'s range
DUSK_LOG_MIN = 0.07  # what a minute of dusk takes from the light [log10]
LEAST_FOLLOWING = 8
LEAST_SHIFT_MIN = 2.0
DECIDED = 0.5


@dataclass(frozen=True)
class Following:
    """How far entry times go with the light rather than the Sun, on n nights.

    share   w, as it comes out; low, high   where it lies at any noise of the light up to 0.3 (95 %), within 0..1
    error   standard error of `share` alone, had the light no noise
    more_nights   how many more such nights would tell which side of a half w lies; None where none would
    """

    share: float
    error: float
    n: int
    low: float
    high: float
    more_nights: int | None

    @property
    def words(self) -> str:
        """The result in words."""
        if self.low > DECIDED:
            return "the birds follow the light"
        if self.high < DECIDED:
            return "the birds follow the Sun, or habit, more than the light"
        return "cannot tell"


def following(
    entry_min: Floats, light_min: Floats, clear_min: Floats, most_noise_log: float = MOST_NOISE_LOG
) -> Following | None:
    """The slope of entry on the light's own shift, both against the clear-sky time of each evening (n,) [minutes].

    entry = w light + (1 - w) clear + constant. None with fewer than eight nights, or where the weather moved the
    light by less than 2 min (sd): then there is no result.
    Noise of the light (a cell under another sky than the birds) pulls the slope towards 0 by the share of its variance
    that is noise. That share is not known: the interval reaches from the slope's own lower limit, as without noise, to
    its upper limit divided by what the greatest noise would leave (Fuller 1987, Measurement Error Models, 1.1 [from
    memory]).
    """
    known = ~np.isnan(entry_min + light_min + clear_min)
    x, y = (light_min - clear_min)[known], (entry_min - clear_min)[known]
    n = len(x)
    if n < LEAST_FOLLOWING or x.std(ddof=1) < LEAST_SHIFT_MIN:
        return None
    x = x - x.mean()
    slope = float((x * y).sum() / (x * x).sum())
    left = y - y.mean() - slope * x
    error = float(np.sqrt((left * left).sum() / (n - 2) / (x * x).sum()))
    noise = (most_noise_log / DUSK_LOG_MIN) ** 2
    kept = max(1.0 - noise / float(x.var(ddof=1)), 0.0)
    # The variance itself is known from n nights only: two standard errors of it.
    least_kept = max(1.0 - noise / (float(x.var(ddof=1)) * max(1.0 - 2.0 * np.sqrt(2.0 / (n - 1)), 0.05)), 0.0)
    two = _two_errors(n)
    low = float(np.clip(slope - two * error, 0.0, 1.0))
    top = slope + two * error
    high = 1.0 if top > 0 and top >= least_kept else float(np.clip(top / max(least_kept, 1e-9), 0.0, 1.0))
    more = _more_nights(slope, error, n, kept)
    return Following(rounded(slope), rounded(error), n, rounded(low), rounded(max(low, high)), more)


def _two_errors(n: int) -> float:
    """Standard errors of a slope that hold 95 %: Student's t for n - 2, by its series in 1 / (n - 2).

    Source: Abramowitz & Stegun 1964, 26.7.5, three terms; within 0.02 from six degrees of freedom on.
    """
    z, v = 1.96, n - 2
    return z + (z**3 + z) / (4 * v) + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * v**2)


def _more_nights(slope: float, error: float, n: int, kept: float) -> int | None:
    """More nights until the interval clears a half, if slope and noise stay what they are."""
    gap = slope - DECIDED if slope > DECIDED else DECIDED * kept - slope
    if gap <= 0:
        return None
    wanted = math.ceil(n * (_two_errors(n) * error / gap) ** 2)
    return max(wanted - n, 0)
