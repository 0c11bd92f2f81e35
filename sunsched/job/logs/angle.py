"""The `angle` command's work: from noted nights to the Sun's angle, and a new configuration with it.

With a light log of the same evenings it finds whether the birds followed the light or the Sun.
"""

from __future__ import annotations

import copy
import datetime as dt
import math
import tomllib
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunsched.base import cautions, inputs
from sunsched.base.civil_time import clock_text, date_of, day_number, zone_of
from sunsched.base.errors import LogError, UsageError
from sunsched.base.rounding import printed_values, rounded
from sunsched.config import toml_file
from sunsched.config.configuration import Configuration
from sunsched.job.logs.replay import chip_offset_of
from sunsched.job.logs.settling import CLOCK_WORDS, SettledLog, settled
from sunsched.sky.crossings import altitude_crossings, sun_altitude_deg
from sunsched.sky.daylight import clear_sky_lux_at
from sunsched.study import light_log
from sunsched.study.choices import depression_deg
from sunsched.study.log_clock import FILL_MIN, filled, named_clock
from sunsched.study.log_light import LEAST_LUX, lux_of
from sunsched.study.log_rows import is_chip_log
from sunsched.study.night_limits import Update, left_out_limits, update_of
from sunsched.study.observations import (
    MOST_NOISE_LOG,
    Following,
    Nights,
    chance_next_later,
    following,
    level_for_share,
    nights_needed,
    noted_nights,
    place_for_share,
    sun_on_nights,
)

AROUND_MIN = 110  # minutes before and after the noted time in which both crossings are sought
NEAR_MIN = 45  # the log must have light for so long on either side
STEADY_MIN = 5  # minutes below the level that make it a crossing
SMOOTH_MIN = 3
NOT_EVENING = ("hand", "kept_in", "battery")  # closings that no angle decided


def light_on_nights(
    configuration: Configuration, path: Path, nights: Nights
) -> tuple[tuple[float | None, ...], Following | None, tuple[str, ...]]:
    """Measured lux at each noted time, how far the birds follow the light, and warnings of the log.

    A keeper who knows how far the logger's sky differs from the birds' writes [model] cell_sky_log10.
    The level is the middle (in log) of the light measured at the noted times; with too few of them in the log there is
    no result.
    """
    log = light_log.read(path)
    found = settled(log, configuration, chip_offset_of(configuration, min(log.days)), None, None)
    evenings = [_evening(found, configuration, float(at)) for at in nights.utc_min]
    at_entry = np.array([evening[AROUND_MIN] for evening in evenings])
    has_light = ~np.isnan(at_entry)
    lux = tuple(float(10**value) if known else None for value, known in zip(at_entry, has_light, strict=True))
    if not has_light.any():
        return lux, None, (*found.warnings, f"{path}: no light at any of the noted times")
    level_log = float(np.median(at_entry[has_light]))
    start = np.floor(nights.utc_min) - AROUND_MIN
    light = start + np.array([_crossing(evening, level_log) for evening in evenings])
    clear = start + np.array([_crossing(_clear(configuration, first), level_log) for first in start])
    model = configuration.model
    noise_log = model.cell_sky_log10 if "cell_sky_log10" in model.model_fields_set else MOST_NOISE_LOG
    return lux, following(nights.utc_min, light, clear, noise_log), found.warnings


def _evening(found: SettledLog, configuration: Configuration, at_utc_min: float) -> NDArray[np.float64]:
    """Log10 lux of the minutes around a time, NaN where the log has none."""
    start = np.floor(at_utc_min) - AROUND_MIN
    log_start = round(float(start + found.clock.offset_min(np.array([at_utc_min]))[0]))
    values = found.log.span(log_start, 2 * AROUND_MIN + 1)
    if np.isnan(values).all():
        return values
    lux = np.maximum(lux_of(values, found.unit, configuration.light_cell), LEAST_LUX)
    return filled(np.log10(lux), FILL_MIN)


def _clear(configuration: Configuration, start_utc_min: float) -> NDArray[np.float64]:
    site = configuration.site
    when = start_utc_min + np.arange(2 * AROUND_MIN + 1)
    lux = clear_sky_lux_at(when, site.latitude_deg, site.longitude_deg) * configuration.light_cell.sky_view
    return np.asarray(np.log10(lux))


def _crossing(light_log10: NDArray[np.float64], level_log: float) -> float:
    """The first minute from which the light stays below the level for `STEADY_MIN`; NaN where it never does."""
    known = ~np.isnan(light_log10)
    if not known[AROUND_MIN - NEAR_MIN : AROUND_MIN + NEAR_MIN].all():
        return float("nan")
    held = np.interp(np.arange(len(known)), np.flatnonzero(known), light_log10[known])
    padded = np.pad(held, SMOOTH_MIN // 2, mode="edge")
    smooth = np.convolve(padded, np.ones(SMOOTH_MIN) / SMOOTH_MIN, mode="valid")
    below = smooth < level_log
    run = np.convolve(below, np.ones(STEADY_MIN), mode="valid") == STEADY_MIN
    if not run.any() or below[0]:
        return float("nan")
    return float(run.argmax())


ANGLE_STEP_DEG = 0.1
# A night a line: three centuries of them.
LARGEST_BYTES = 2_000_000
MOMENT_KEYS = ("twilight", "depression_deg", "clear_sky_lux")


@dataclass(frozen=True)
class Setting:
    """One way to close: by an angle, or by minutes after sunset, and its price on the noted nights [minutes].

    open_after_min   mean minutes that the door stands open after the last bird; negative values of single nights
                     are birds shut out and count as they are
    late_nights      noted nights on which the last bird would have been shut out
    never_nights     noted nights on which the rule names no minute: the Sun never gets there
    """

    rule: str
    value: float
    late_nights: int
    never_nights: int
    open_after_min: float | None
    spread_min: float | None


@dataclass(frozen=True)
class AngleFit:
    """Everything `angle` reports. Settings are None where the nights are too few, or the Sun did not set on some."""

    nights: Nights
    civil: tuple[str, ...]
    depression_deg: float
    share: float
    chance_next_later: float
    left_out: tuple[float, float, float]
    nights_needed: int
    settings: dict[str, Setting | None]
    measured_lux: tuple[float | None, ...] | None
    following: Following | None
    paste: str
    warnings: tuple[str, ...]

    def plain(self) -> dict[str, Any]:
        """The fit as plain values, for JSON."""
        n = self.nights
        lux = self.measured_lux or (None,) * n.n
        rows = zip(n.noted, self.civil, n.depression_deg, n.clear_lux, n.after_sunset_min, lux, strict=True)
        nights = [
            {
                "row": night.row,
                "date": night.date.isoformat(),
                "last_in_civil": civil,
                "depression_deg": float(depression),
                "clear_lux": float(clear),
                "after_sunset_min": None if np.isnan(after) else float(after),
                "measured_lux": measured,
            }
            for night, civil, depression, clear, after, measured in rows
        ]
        found = self.following
        values = {
            "nights": nights,
            "depression_deg": self.depression_deg,
            "share": self.share,
            "chance_next_later": self.chance_next_later,
            "left_out": list(self.left_out),
            "nights_needed": self.nights_needed,
            "settings": {name: setting and asdict(setting) for name, setting in self.settings.items()},
            "following": None if found is None else {**asdict(found), "words": found.words},
            "paste": self.paste,
            "warnings": list(self.warnings),
            "cautions": list(cautions.ANGLE),
        }
        return dict(printed_values(values))


def angle_of(
    configuration: Configuration,
    nights_path: Path,
    share: float = 0.05,
    zone: str = "civil",
    light_path: Path | None = None,
) -> AngleFit:
    """Fit the evening's angle to a list of nights; `share` is the share of nights to come that may end later.

    light_path   a light log of the same evenings, to tell followers of light from followers of the Sun
    Raises LogError naming the row, MissingFileError, UsageError.
    """
    site = configuration.site
    noted = noted_nights(_lines(nights_path), str(nights_path))
    chip_offset_min = chip_offset_of(configuration, day_number(noted[0].date))
    clock = named_clock(zone, zone_of(site.zone), chip_offset_min)
    if clock is None:
        raise UsageError(f"--zone is '{zone}'; wanted {CLOCK_WORDS}")
    nights = sun_on_nights(noted, str(nights_path), site.latitude_deg, site.longitude_deg, clock.utc_min)
    settings = _settings(nights, site.latitude_deg, site.longitude_deg, share)
    chosen = settings["angle, all but the share"] or settings["angle, all"]
    assert chosen is not None
    lux: tuple[float | None, ...] | None = None
    followed: Following | None = None
    light_warnings: tuple[str, ...] = ()
    if light_path is not None:
        lux, followed, light_warnings = light_on_nights(configuration, light_path, nights)
    offsets = zone_of(site.zone).utc_offset_min(nights.utc_min)
    civil = tuple(clock_text(int((t + o) % 1440)) for t, o in zip(nights.utc_min, offsets, strict=True))
    return AngleFit(
        nights=nights,
        civil=civil,
        depression_deg=chosen.value,
        share=share,
        chance_next_later=chance_next_later(nights.n),
        left_out=left_out_limits(nights.n, place_for_share(nights.n, share) or nights.n),
        nights_needed=nights_needed(share),
        settings=settings,
        measured_lux=lux,
        following=followed,
        paste=evening_section(configuration, chosen.value),
        warnings=(*nights.warnings, *light_warnings, *_never_warnings(chosen), *_season_warnings(configuration)),
    )


def _lines(path: Path) -> list[str]:
    data = inputs.read_bytes(path, "a list of nights", LARGEST_BYTES, LogError)
    return data.decode("utf-8-sig", errors="replace").splitlines()


def _settings(nights: Nights, latitude_deg: float, longitude_deg: float, share: float) -> dict[str, Setting | None]:
    angles = nights.depression_deg
    after = nights.after_sunset_min
    found: dict[str, Setting | None] = {
        "angle, all": _by_angle(nights, latitude_deg, longitude_deg, float(angles.max())),
        "angle, all but the share": None,
        "sunset and minutes, all": None,
        "sunset and minutes, all but the share": None,
    }
    level = level_for_share(angles, share)
    if level is not None:
        found["angle, all but the share"] = _by_angle(nights, latitude_deg, longitude_deg, level)
    if not np.isnan(after).any():
        found["sunset and minutes, all"] = _by_minutes(nights, float(after.max()))
        level = level_for_share(after, share)
        if level is not None:
            found["sunset and minutes, all but the share"] = _by_minutes(nights, level)
    return found


def _by_angle(nights: Nights, latitude_deg: float, longitude_deg: float, least_deg: float) -> Setting:
    """The angle rounded up to a tenth, so that the night it comes from is still in."""
    value = math.ceil(round(least_deg / ANGLE_STEP_DEG, 6)) * ANGLE_STEP_DEG
    value = round(value, 1)
    first = int(nights.utc_min.min() // 1440) - 2
    n_days = int(nights.utc_min.max() // 1440) + 4 - first
    days = altitude_crossings(first, n_days, latitude_deg, longitude_deg, [-value])
    noon = np.searchsorted(days.noon_utc_min, nights.utc_min, side="right") - 1
    return _priced("depression_deg", value, nights, days.set_utc_min[0, noon])


def _by_minutes(nights: Nights, least_min: float) -> Setting:
    value = math.ceil(least_min - 1e-6)
    return _priced("sunset, later_min", float(value), nights, nights.utc_min - nights.after_sunset_min + value)


def _priced(rule: str, value: float, nights: Nights, close_utc_min: Any) -> Setting:
    # doors close at the next whole minute
    open_after = np.ceil(close_utc_min - 1e-6) - nights.utc_min
    known = open_after[~np.isnan(open_after)]
    mean = rounded(known.mean()) if len(known) else None
    spread = rounded(known.std(ddof=1)) if len(known) > 1 else None
    return Setting(rule, value, int((known < 0).sum()), len(open_after) - len(known), mean, spread)


def _never_warnings(chosen: Setting) -> list[str]:
    if not chosen.never_nights:
        return []
    return [
        f"on {chosen.never_nights} of the nights the Sun never got {chosen.value:g} degrees below the horizon:"
        " evening.no_twilight decides there"
    ]


def _season_warnings(configuration: Configuration) -> list[str]:
    touched = [
        season.name for season in configuration.season if season.evening.model_fields_set & {*MOMENT_KEYS, "later_min"}
    ]
    if not touched:
        return []
    return [f"season {', '.join(touched)} changes the evening for its dates and goes on doing so"]


def configuration_and_table(path: str) -> tuple[Configuration, dict[str, Any]]:
    """A configuration and the TOML table it came from; "-" is standard input. Raises as toml_file.read does."""
    table = toml_file.table_of(path)
    return toml_file.validated(table, inputs.name_of(path)), table


def new_configuration(table: dict[str, Any], fit: AngleFit) -> str:
    """The whole configuration as TOML with the evening's new moment; everything else stays as it was written.

    Comments are not carried over: they are no part of the table. The text is read back before it is returned.
    """
    import tomli_w

    changed = copy.deepcopy(table)
    evening = changed.setdefault("evening", {})
    for key in MOMENT_KEYS:
        evening.pop(key, None)
    evening.update({"depression_deg": fit.depression_deg, "later_min": 0})
    first, last = fit.nights.noted[0].date, fit.nights.noted[-1].date
    head = (
        f"# GENERATED by sunsched angle: evening.depression_deg from {fit.nights.n} noted nights, {first} to {last}.\n"
        "# Comments of the configuration it came from are not carried over.\n\n"
    )
    text = head + tomli_w.dumps(changed)
    toml_file.validated(tomllib.loads(text), "the new configuration")
    return text


def evening_section(configuration: Configuration, depression_deg: float) -> str:
    """The whole [evening] as TOML with another moment, to stand in place of the one in the file.

    Pasted beside it, two moments or two [evening] would be no configuration.
    """
    import tomli_w

    written = configuration.evening.model_dump(exclude_unset=True, exclude=set(MOMENT_KEYS))
    moment = {"depression_deg": float(f"{depression_deg:g}"), "later_min": 0}
    return tomli_w.dumps({"evening": moment | {key: value for key, value in written.items() if key != "later_min"}})


def dates_text(nights: Nights) -> str:
    """First and last date of the nights."""
    days = [day_number(night.date) for night in nights.noted]
    return f"{date_of(min(days))} to {date_of(max(days))}"


def update_angle(
    configuration: Configuration, log_path: Path, counts_path: Path | None, share: float, zone: str
) -> Update:
    """Propose a new evening angle from closings and the birds counted out after them; nothing is written.

    log_path   the door's own log (its last lowering of each evening), or a list: date, time of closing, birds out
    counts_path   with the door's log: a list of date and birds out
    Raises LogError naming row or file, MissingFileError, UsageError, and LogError for too few nights.
    """
    lines = _lines(log_path)
    if is_chip_log([line for line in lines if line and not line.startswith("#")][:20]):
        if counts_path is None:
            raise UsageError("--update with the door's own log: wanted --counts with date and birds out a line")
        closings, counts = _closings_of_door(configuration, log_path), _counts(counts_path)
    else:
        closings, counts = _noted_closings(configuration, lines, log_path, zone), _counts(log_path, column=2)
    dates = sorted(set(closings) & set(counts))
    site = configuration.site
    if not dates:
        raise LogError(f"{log_path}: no night with a closing and a count; wanted some")
    airless = sun_altitude_deg(np.array([closings[date] for date in dates]), site.latitude_deg, site.longitude_deg)
    out = [counts[date] for date in dates]
    set_deg = depression_deg(configuration.rules.evening)
    return update_of((-airless).tolist(), out, share, set_deg, str(log_path))


def _counts(path: Path, column: int = 1) -> dict[dt.date, int]:
    found = {}
    for row, line in enumerate(_lines(path), 1):
        cells = [cell.strip() for cell in line.split(",")]
        if not cells[0] or cells[0].startswith("#") or (row == 1 and not cells[0][:1].isdigit()):
            continue
        try:
            found[dt.date.fromisoformat(cells[0])] = int(cells[column])
        except (ValueError, IndexError):
            wanted = "2027-03-01,0" if column == 1 else "2027-03-01,18:12,0"
            raise LogError(f"{path}: row {row}: '{line.strip()}'; wanted a line such as {wanted}") from None
    return found


def _noted_closings(configuration: Configuration, lines: list[str], path: Path, zone: str) -> dict[dt.date, float]:
    noted = noted_nights(lines, str(path))
    offset = chip_offset_of(configuration, day_number(noted[0].date))
    clock = named_clock(zone, zone_of(configuration.site.zone), offset)
    if clock is None:
        raise UsageError(f"--zone is '{zone}'; wanted {CLOCK_WORDS}")
    return {night.date: clock.utc_min(day_number(night.date) * 1440 + night.minute) for night in noted}


def _closings_of_door(configuration: Configuration, path: Path) -> dict[dt.date, float]:
    log = light_log.read(path)
    stated = None if log.chip is None else log.chip.chip_offset_min
    offset = chip_offset_of(configuration, min(log.days)) if stated is None else stated
    closings: dict[dt.date, float] = {}
    for move in log.chip.moves if log.chip is not None else []:
        date = date_of(int((move.chip_min - 720) // 1440))  # an evening runs from noon to noon
        if move.move == "lower" and move.reason not in NOT_EVENING:
            closings[date] = move.chip_min - offset
    return closings
