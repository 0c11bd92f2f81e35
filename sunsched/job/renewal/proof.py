"""The proof of a year before it replaces another: what was written, the Sun, the zone file, the year before.

Each check returns what it found wrong, one line a fault; none of them uses the code that it checks.

A plan's moments of the Sun against two other finders: Skyfield on the JPL ephemeris, and astral's own formula.
"""

from __future__ import annotations

import binascii
import csv
import hashlib
import io
import json
import re
from base64 import urlsafe_b64encode
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import date_of, month_day
from sunsched.base.errors import DamagedError, MissingFileError
from sunsched.job.renewal.record import Year
from sunsched.plan.moments import asked_altitude_deg
from sunsched.plan.planning import variant_rows
from sunsched.plan.reasons import WORDS, Reason
from sunsched.plan.rules import MomentRule, Rules
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.sky.crossings import GRAZING_DEG, altitude_crossings
from sunsched.sky.daylight import depression_of_clear_sky_lux
from sunsched.sky.horizon import site_skyline
from sunsched.sky.second_opinion import (
    ASTRAL_LATITUDE_LIMIT_DEG,
    Events,
    astral_events,
    skyfield_events,
    skyfield_sun_deg,
)

Times = NDArray[np.float64]
Rows = NDArray[np.bool_]

# Ours stays within 1 s of Skyfield to 60 degrees of latitude and 2 s beyond, where the Sun does not graze the angle.
SKYFIELD_S = 5.0
# astral's formula is good to 20 s at 58 degrees; near a day's extreme it may miss an event.
ASTRAL_S = 90.0
ASTRAL_MARGIN_DEG = 0.5
HILLS_DEG = 0.01  # the Sun moves so far in 3 s
# An event that we miss is looked for well inside the half-day, so that noon and midnight need no tie-break.
EDGE_MIN = 20.0
UTC_MIDNIGHT_MIN = 5.0


def sun_faults(rules: Rules, plan: YearPlan) -> list[str]:
    """What the other finders say against the plan's moments of the Sun; empty when they agree.

    Dusk and dawn through an angle, those of the light that stands in for them, and sunrise and sunset over hills.
    """
    noon = np.asarray(plan.days * 1440.0 + plan.noon_min - plan.chip_offset_min, np.float64)
    civil_day = np.floor((noon + plan.civil_offset_min) / 1440).astype(np.int64)
    asked: dict[float, list[tuple[bool, Rows, Times]]] = {}
    found: list[str] = []
    for variant, rows in zip(rules.variants(), variant_rows(rules, civil_day), strict=True):
        for evening, rule in ((False, variant.morning), (True, variant.evening)):
            times = plan.dusk_utc_min if evening else plan.dawn_utc_min
            if _over_hills(rule, plan):
                found += _hill_faults(plan, rows & ~np.isnan(times), times, evening)
            else:
                asked.setdefault(asked_altitude_deg(rule), []).append((evening, rows, times))
            found += _light_faults(plan, rule, rows, evening)
    return found + _angle_faults(plan, noon, asked)


def _over_hills(rule: MomentRule, plan: YearPlan) -> bool:
    level = not plan.site.skyline and not plan.site.height_above_horizon_m
    return rule.twilight in ("sunrise", "sunset") and not level


def _hill_faults(plan: YearPlan, rows: Rows, times: Times, evening: bool) -> list[str]:
    """At sunrise and sunset over hills Skyfield's Sun must stand on the hills' edge."""
    if not rows.any():
        return []
    site = plan.site
    skyline = site_skyline(site.height_above_horizon_m, [(p.azimuth_deg, p.altitude_deg) for p in site.skyline])
    altitude, azimuth = skyfield_sun_deg(times[rows], site.latitude_deg, site.longitude_deg)
    off = np.abs(altitude - skyline.centre_altitude_deg(azimuth)) > HILLS_DEG
    if not off.any():
        return []
    day = plan.days[rows][off][0]
    return [f"{_side(evening)}: by Skyfield the Sun is not on the skyline on {off.sum()} days, first {date_of(day)}"]


def _light_faults(plan: YearPlan, rule: MomentRule, rows: Rows, evening: bool) -> list[str]:
    """Minutes decided by the fallback light alone must follow from Skyfield's Sun within the minute."""
    reasons, minutes = (plan.close_reason, plan.close_min) if evening else (plan.open_reason, plan.open_min)
    rows = rows & (reasons == Reason.LIGHT)
    if not rows.any():
        return []
    times = plan.utc_min(minutes)[rows]
    place = (plan.site.latitude_deg, plan.site.longitude_deg)
    wanted = -float(depression_of_clear_sky_lux(rule.fallback_lux))
    before, after = (skyfield_sun_deg(times + shift, *place)[0] - wanted for shift in (-1.02, 0.02))
    off = before * after > 0
    if not off.any():
        return []
    day = plan.days[rows][off][0]
    return [f"{_side(evening)}: the light that stands in is not Skyfield's on {off.sum()} days, first {date_of(day)}"]


def _angle_faults(plan: YearPlan, noon: Times, asked: dict[float, list[tuple[bool, Rows, Times]]]) -> list[str]:
    if not asked:
        return []
    angles = sorted(asked)
    place = (plan.site.latitude_deg, plan.site.longitude_deg)
    span = (float(noon[0]) - 730.0, float(noon[-1]) + 730.0)
    # Only to find the days on which the Sun grazes an angle, where a tiny difference decides.
    first = round(float(noon[0] + 4 * plan.site.longitude_deg) // 1440)
    margin = altitude_crossings(first, plan.n_days, *place, np.array(angles)).margin_deg
    opinions = [("Skyfield", skyfield_events(*span, *place, angles), SKYFIELD_S, GRAZING_DEG)]
    if abs(plan.site.latitude_deg) <= ASTRAL_LATITUDE_LIMIT_DEG:
        opinions.append(("astral", astral_events(*span, *place, angles), ASTRAL_S, ASTRAL_MARGIN_DEG))
    found = []
    for name, events, within_s, least_margin in opinions:
        for k, angle in enumerate(angles):
            clear = margin[k] >= least_margin
            for evening, rows, times in asked[angle]:
                theirs = _of_side(events, k, evening)
                off = rows & clear & _differ(times, theirs, noon, within_s / 60, evening)
                if name == "astral":
                    off &= ~_near_utc_midnight(times)
                if off.any():
                    days = plan.days[off]
                    found.append(
                        f"{_side(evening)}: {name} finds the Sun at {angle:g} deg at other times "
                        f"on {len(days)} days, first {date_of(days[0])}"
                    )
    return found


def _of_side(events: Events, k: int, evening: bool) -> Times:
    return events.set_utc_min[k] if evening else events.rise_utc_min[k]


def _differ(ours: Times, theirs: Times, noon: Times, within_min: float, evening: bool) -> Rows:
    """Rows whose event the other finder has not, or has where we have none."""
    if not theirs.size:
        return ~np.isnan(ours)
    there = ~np.isnan(ours)
    apart = np.abs(_nearest(theirs, np.where(there, ours, noon)) - ours)
    middle = noon + (360.0 if evening else -360.0)
    theirs_inside = np.abs(_nearest(theirs, middle) - middle) < 360.0 - EDGE_MIN
    return np.where(there, apart > within_min, theirs_inside)


def _near_utc_midnight(times: Times) -> Rows:
    """astral works date by date (UTC): it gives an event that passes from one date to the next twice or never."""
    return np.abs((times + 720.0) % 1440.0 - 720.0) < UTC_MIDNIGHT_MIN


def _nearest(events: Times, at: Times) -> Times:
    after = np.clip(np.searchsorted(events, at), 1, max(len(events) - 1, 1))
    pair = np.stack([events[after - 1], events[np.minimum(after, len(events) - 1)]])
    return np.asarray(np.where(np.abs(pair[0] - at) <= np.abs(pair[1] - at), pair[0], pair[1]))


def _side(evening: bool) -> str:
    return "evening" if evening else "morning"


Minutes = NDArray[np.float64]
DayRow = tuple[str, ...]  # date, opening, closing, and their reasons where the form has them

# Last year against this year, 2027 to 2047, five configurations from 69 N to 45 S. The door's minutes on one date
# differ by up to 109 min (weekday shifts, seasons, fallback); the Sun's moments by up to 25.6 min (nautical dawn at
# 69 N, days before it ends for the summer); but this year's moment never left the range of last year's on the day
# before, the same day and the day after by more than 0.03 min. So that is compared, and 1 min is refused.
MOST_BEYOND_LAST_YEAR_MIN = 1.0
# A moment that ends for the summer may end a few days earlier or later: at most 2 in those years.
MOST_DAYS_MORE_OR_LESS = 4
_FEBRUARY_29 = 229
_ROW = re.compile(r"^    \{ +(\w+|-\d+), +(\w+|-\d+) \}[ ,]* /\* (\d\d-\d\d) ", re.M)


def readback_faults(folder: Path, names: Iterable[str], plan: YearPlan) -> list[str]:
    """Read the plain tables back from their files, without the code that wrote them, and compare them with the plan."""
    readers = {".json": _json_rows, ".csv": _csv_rows, ".h": _header_rows}
    found = []
    for name in names:
        read = readers.get(Path(name).suffix)
        if read is None:
            found += _image_faults(folder / name, plan)
            continue
        try:
            rows = read((folder / name).read_bytes().decode(), plan)
        except (OSError, ValueError, KeyError, TypeError, IndexError) as error:
            found.append(f"{name} cannot be read back: {error}")
            continue
        wanted = _header_plan(plan) if name.endswith(".h") else _plan_rows(plan)
        wrong = [want for want, got in zip(wanted, rows, strict=False) if want != got]
        if len(rows) != len(wanted):
            found.append(f"{name} reads back with {len(rows)} days; wanted {len(wanted)}")
        elif wrong:
            found.append(f"{name} differs from the plan on {len(wrong)} days, first on {wrong[0][0]}")
    return found


def _image_faults(path: Path, plan: YearPlan) -> list[str]:
    """A memory image, unpacked by the reader that `readback` uses on what comes out of a chip."""
    from sunsched.job.readback import differences, read_file

    try:
        wrong = differences(read_file(str(path)), lambda _: plan)
    except (DamagedError, MissingFileError) as error:
        return [f"{path.name} cannot be read back: {error}"]
    return [f"{path.name} differs from the plan in {len(wrong)} places, first {wrong[0]}"] if wrong else []


def _plan_rows(plan: YearPlan) -> list[DayRow]:
    dates = [date_of(day).isoformat() for day in plan.days.tolist()]
    minutes = [
        ["" if minute == NO_MINUTE else str(minute) for minute in column.tolist()]
        for column in (plan.open_min, plan.close_min)
    ]
    reasons = [[WORDS[reason] for reason in column.tolist()] for column in (plan.open_reason, plan.close_reason)]
    return list(zip(dates, *minutes, *reasons, strict=True))


def _header_plan(plan: YearPlan) -> list[DayRow]:
    return [(date[5:], *minutes) for date, *minutes, _, _ in _plan_rows(plan)]


def _json_rows(text: str, plan: YearPlan) -> list[DayRow]:
    told = json.loads(text)
    if told["clock"]["utc_offset_min"] != plan.chip_offset_min:
        raise ValueError(f"its clock is {told['clock']}")
    return [
        (
            day["date"],
            *("" if day[key] is None else str(day[key]) for key in ("open_min", "close_min")),
            *(day["open_reason"], day["close_reason"]),
        )
        for day in told["days"]
    ]


def _csv_rows(text: str, plan: YearPlan) -> list[DayRow]:
    keys = ("date", "open_min", "close_min", "open_reason", "close_reason")
    return [tuple(row[key] for key in keys) for row in csv.DictReader(io.StringIO(text))]


def _header_rows(text: str, plan: YearPlan) -> list[DayRow]:
    found = _ROW.findall(text)
    pairs = np.array([[int(word) if word != "DOOR_NONE" else NO_MINUTE for word in row[:2]] for row in found], "<i2")
    # The same CRC as the header says it is, by Python's own function.
    said = {
        "static const int16_t door_minutes[][2] DOOR_FLASH = {",
        f"#define DOOR_YEAR {date_of(plan.first_day).year}\n",
        f"#define DOOR_UTC_OFFSET_MIN ({plan.chip_offset_min})",
        f"#define DOOR_CHECKSUM 0x{binascii.crc_hqx(pairs.tobytes(), 0xFFFF):04X}u",
    }
    for words in sorted(said):
        if words not in text:
            raise ValueError(f"it does not say {words.strip()!r}")
    return [(date, *("" if word == "DOOR_NONE" else word for word in minutes)) for *minutes, date in found]


def zone_faults(zone: str) -> list[str]:
    """Compare the zone's file with the digest that the tzdata package came with.

    A package without digests (some distributions' own) says nothing, and nothing is found.
    """
    from importlib import metadata, resources

    try:
        listed = metadata.distribution("tzdata").files or []
    except metadata.PackageNotFoundError:
        return []
    wanted = next((file for file in listed if str(file) == f"tzdata/zoneinfo/{zone}"), None)
    if wanted is None or wanted.hash is None or wanted.hash.mode != "sha256":
        return []
    content = resources.files("tzdata").joinpath("zoneinfo").joinpath(*zone.split("/")).read_bytes()
    digest = urlsafe_b64encode(hashlib.sha256(content).digest()).decode().rstrip("=")
    if digest == wanted.hash.value:
        return []
    return [f"the zone file of {zone} is not the one that tzdata came with; install tzdata again"]


def last_year_faults(before: Year, before_first_day: int, plan: YearPlan) -> list[str]:
    """Compare the Sun's moments with the year before (or an older table of the same year), date by date."""
    midnight = plan.days.astype(np.float64) * 1440
    dates = _without_leap_day(plan.days, plan.days)
    found = []
    for word, old, times in (
        ("morning", before.dawn_min, plan.dawn_utc_min),
        ("evening", before.dusk_min, plan.dusk_utc_min),
    ):
        old_365 = _without_leap_day(old, before_first_day + np.arange(len(old)))
        new_365 = _without_leap_day(times - midnight, plan.days)
        beyond = beyond_neighbours_min(old_365, new_365)
        jumps = beyond > MOST_BEYOND_LAST_YEAR_MIN
        if jumps.any():
            row = int(np.nanargmax(beyond))
            date = date_of(int(dates[row])).isoformat()[5:]
            found.append(
                f"the Sun's {word} moment jumps against the year before on {int(jumps.sum())} dates, "
                f"near {date} by {beyond[row]:.1f} min (at most {MOST_BEYOND_LAST_YEAR_MIN:g} is accepted)"
            )
        more = int((~np.isnan(new_365)).sum() - (~np.isnan(old_365)).sum())
        if abs(more) > MOST_DAYS_MORE_OR_LESS:
            found.append(f"the Sun's {word} moment comes on {abs(more)} days {'more' if more > 0 else 'less'}")
    return found


def _without_leap_day(column: NDArray[Any], days: NDArray[np.int64]) -> Minutes:
    return np.asarray(column[month_day(days) != _FEBRUARY_29], np.float64)


def beyond_neighbours_min(old: Minutes, new: Minutes) -> Minutes:
    """How far new moments lie outside the range of the old ones a day before to a day after [minutes], (365,).

    0 where a moment is missing on any of the four.
    """
    around = np.stack([np.roll(old, 1), old, np.roll(old, -1)])
    beyond = np.maximum(np.maximum(around.min(0) - new, new - around.max(0)), 0.0)
    return np.asarray(np.nan_to_num(beyond, nan=0.0), np.float64)
