"""A commented configuration that works as it is, for any place."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import dataclass, field

from sunsched.base.civil_time import DAY_MIN, clock_text, day_number, zone_of
from sunsched.config import sample_parts
from sunsched.config.sample_parts import REMARK_COLUMN

# From here on the limits are written in. Civil twilight goes on all night around midsummer from 90 - 23.44 - 6 =
# 60.56 on; a night of two hours, less than which is refused, is lost a degree and a half before that.
_WHITE_NIGHTS_DEG = 59.0


@dataclass(frozen=True, slots=True)
class Answers:
    """What a sample needs to know; the defaults are an invented hut."""

    name: str = "Larch end"
    latitude_deg: float = 47.318
    longitude_deg: float = 8.949
    zone: str = "Europe/Zurich"
    place_checked: bool = False
    not_before: str = ""
    weekend_later_min: int = 0
    written: sample_parts.Written = field(default_factory=dict)


def text(answers: Answers) -> str:
    """The sample as TOML text. It has limits where white nights or polar nights need them."""
    a = answers
    polar = abs(a.latitude_deg) > _WHITE_NIGHTS_DEG
    noon = _civil_noon_min(a)
    mark = "" if polar else "# "
    limit = a.not_before or _half_hour(noon - 510)
    earliest = f'{"" if a.not_before else mark}not_before = "{limit}"'
    weekend = _WEEKEND.format(minutes=a.weekend_later_min) if a.weekend_later_min else _WEEKEND_OFF
    # Where not_before is active it would undo the weekend's minutes: the weekend gets a limit of its own.
    limited = bool(a.weekend_later_min) and (polar or bool(a.not_before))
    lie_in = _LIE_IN.format(limit=_later(limit, a.weekend_later_min)) if limited else _LIE_IN_OFF
    return _TEXT.format(
        # TOML's strings are JSON's, but for the one control character that JSON leaves as it is.
        name=json.dumps(a.name, ensure_ascii=False).replace("\x7f", "\\u007f"),
        latitude=_padded(f"latitude_deg = {a.latitude_deg}"),
        longitude=_padded(f"longitude_deg = {a.longitude_deg}"),
        checked=sample_parts.padded(f"{'' if a.place_checked else '# '}place_checked = true", _CHECKED),
        zone=_padded(f"zone = {json.dumps(a.zone)}"),
        morning_not_before=_padded(earliest),
        morning_not_after=f'{mark}not_after = "{_half_hour(noon - 180)}"',
        evening_not_before=f'{mark}not_before = "{_half_hour(noon + 150)}"',
        evening_not_after=_padded(f'{mark}not_after = "{_half_hour(noon + 630)}"'),
        weekend=weekend,
        lie_in=lie_in,
        machine=sample_parts.text(a.written),
    )


def _civil_noon_min(a: Answers) -> int:
    """Civil time of mean solar noon in the first days of the year [minutes after midnight]."""
    import numpy as np

    new_year = day_number(dt.date(2027, 1, 1)) * float(DAY_MIN)
    offset = int(zone_of(a.zone).utc_offset_min(np.array([new_year]))[0])
    return round(DAY_MIN / 2 - 4 * a.longitude_deg + offset)


def _later(clock: str, minutes: int) -> str:
    return clock_text(min(int(clock[:2]) * 60 + int(clock[3:]) + minutes, DAY_MIN - 1))


def _padded(line: str) -> str:
    """A line padded to the column of the remarks."""
    return f"{line:<{REMARK_COLUMN}}" if len(line) < REMARK_COLUMN else f"{line}  "


def _half_hour(minute: int) -> str:
    return clock_text(round(minute / 30) * 30 % DAY_MIN)


_CHECKED = "the place is right, however far from the zone's own it lies"
_WEEKEND = """
[morning.weekday_later_min]
sat = {minutes}
sun = {minutes}
"""
_WEEKEND_OFF = """
# [morning.weekday_later_min]    # a lie-in: mon, tue, wed, thu, fri, sat, sun
# sat = 45
# sun = 45
"""

_LIE_IN = """
[morning.weekday_not_before]     # a limit for mon, tue, wed, thu, fri, sat or sun alone, in place of not_before
sat = "{limit}"
sun = "{limit}"
"""
_LIE_IN_OFF = """
# [morning.weekday_not_before]   # a limit for mon, tue, wed, thu, fri, sat or sun alone, in place of not_before
# sat = "07:30"
# sun = "07:30"
"""

_TEXT = """\
#:schema ./sunsched.schema.json
# The line above is for editors; the file it names is written by:  sunsched schema -o sunsched.schema.json
# When the door opens and closes. Every line that starts with # may be left out; it shows what else can be said.
# After a change:  sunsched table THIS-FILE
# Every key with its value as understood:  sunsched settings THIS-FILE

[site]
name = {name}
{latitude}# north is positive, south negative
{longitude}# east is positive, west negative
{zone}# your civil time, an IANA name
{checked}
# height_above_horizon_m = 0     # only where the ground falls away to the horizon: moves sunrise and sunset

# [[site.skyline]]               # hills as seen from the hut: sunrise, sunset and the solar panel only
# azimuth_deg = 110              # north 0, east 90; between two entries the line is straight
# altitude_deg = 7

[chip]
keeps = "standard"               # the chip's clock: "standard" (winter time all year), "utc" or "civil"
board = "atmega328p"             # the others: sunsched boards lists them

[morning]                        # opening
twilight = "civil"               # or "sunrise", "nautical", "astronomical"; or one of the two lines below instead
# depression_deg = 6.0           # the Sun's angle below the horizon
# clear_sky_lux = 10             # when a clear sky gives this light
later_min = 0                    # minutes later; negative is earlier
{morning_not_before}# civil time
{morning_not_after}
no_twilight = ["light", "limit"] # what decides when the Sun never gets there: light, the limit, or "shut"
fallback_lux = 10                # the light meant by "light"
cell_from_min = 0                # the light cell may act from this many minutes before (negative) ...
cell_until_min = 0               # ... to this many after the planned minute; both 0: the clock alone
                                 # a limit binds the planned minute: by light the door may move that much past it
{weekend}{lie_in}
# [morning.weekday_not_after]    # the same for not_after
# sat = "10:00"

[evening]                        # closing
twilight = "civil"               # or "sunset", "nautical", "astronomical"; or one of the two lines below instead
# depression_deg = 4.5
# clear_sky_lux = 30
later_min = 0
{evening_not_before}
{evening_not_after}# before noon means after midnight
no_twilight = ["light", "limit"]
fallback_lux = 10
cell_from_min = 0                # as in the morning
cell_until_min = 0

# [evening.weekday_later_min]    # as in the morning; also [evening.weekday_not_before]
# fri = 10

# [evening.weekday_not_after]
# sun = "21:30"

# [[season]]                     # replaces keys for its dates, each year; may wrap the year's end
# name = "fox cubs"
# from = "04-15"
# to = "07-10"
# [season.evening]               # and [season.morning]: any key of [evening] and [morning]
# later_min = -5

# [[kept_in]]                    # the door stays down
# from = "2027-11-20"            # or "11-20" for every year
# to = "2027-12-15"
# why = "housing order"

[warn]
least_open_h = 6                 # warns of days open for less
least_shut_min = 120             # refuses nights shorter than this

# What you built. A figure that stands in this file counts as measured, a key left out as assumed.
{machine}
# It advises times and certifies nothing. Look at birds and door every day, count the birds after closing
# until the setting is proven, keep fingers clear of the door, and follow local codes and makers' data.
"""
