"""A commented configuration that works as it is, for any place."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import dataclass

from sunsched.base.civil_time import DAY_MIN, clock_text, day_number, zone_of

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
    not_before: str = ""
    weekend_later_min: int = 0


def text(answers: Answers) -> str:
    """The sample as TOML text. It has limits where white nights or polar nights need them."""
    a = answers
    polar = abs(a.latitude_deg) > _WHITE_NIGHTS_DEG
    noon = _civil_noon_min(a)
    mark = "" if polar else "# "
    earliest = f'not_before = "{a.not_before}"' if a.not_before else f'{mark}not_before = "{_half_hour(noon - 510)}"'
    weekend = _WEEKEND.format(minutes=a.weekend_later_min) if a.weekend_later_min else _WEEKEND_OFF
    return _TEXT.format(
        # TOML's strings are JSON's, but for the one control character that JSON leaves as it is.
        name=json.dumps(a.name, ensure_ascii=False).replace("\x7f", "\\u007f"),
        latitude=_padded(f"latitude_deg = {a.latitude_deg}"),
        longitude=_padded(f"longitude_deg = {a.longitude_deg}"),
        zone=_padded(f"zone = {json.dumps(a.zone)}"),
        morning_not_before=_padded(earliest),
        morning_not_after=f'{mark}not_after = "{_half_hour(noon - 180)}"',
        evening_not_before=f'{mark}not_before = "{_half_hour(noon + 150)}"',
        evening_not_after=_padded(f'{mark}not_after = "{_half_hour(noon + 630)}"'),
        weekend=weekend,
    )


def _civil_noon_min(a: Answers) -> int:
    """Civil time of mean solar noon in the first days of the year [minutes after midnight]."""
    import numpy as np

    new_year = day_number(dt.date(2027, 1, 1)) * float(DAY_MIN)
    offset = int(zone_of(a.zone).utc_offset_min(np.array([new_year]))[0])
    return round(DAY_MIN / 2 - 4 * a.longitude_deg + offset)


def _padded(line: str) -> str:
    """A line padded to the column of the remarks."""
    return f"{line:<33}" if len(line) < 33 else f"{line}  "


def _half_hour(minute: int) -> str:
    return clock_text(round(minute / 30) * 30 % DAY_MIN)


_WEEKEND = """
[morning.weekday_later_min]
sat = {minutes}
sun = {minutes}
"""
_WEEKEND_OFF = """
# [morning.weekday_later_min]   # the neighbours' weekend
# sat = 45
# sun = 45
"""

_TEXT = """\
#:schema ./sunsched.schema.json
# The line above is for editors; the file it names is written by:  sunsched schema -o sunsched.schema.json
# When the door opens and closes. Every line that starts with # may be left out; it shows what else can be said.
# After a change:  sunsched table THIS-FILE --year 2027
# Every key with its value as understood:  sunsched settings THIS-FILE

[site]
name = {name}
{latitude}# north is positive, south negative
{longitude}# east is positive, west negative
{zone}# your civil time, an IANA name
# height_above_horizon_m = 0     # only where the ground falls away to the horizon: moves sunrise and sunset

# [[site.skyline]]               # hills as seen from the hut: sunrise, sunset and the solar panel only
# azimuth_deg = 110              # north 0, east 90; between two entries the line is straight
# altitude_deg = 7

[chip]
keeps = "standard"               # the chip's clock: "standard" (winter time all year) or "utc"
board = "atmega328p"

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
{weekend}
# [morning.weekday_not_before]   # a weekday's own limit in place of not_before: a lie-in that not_before cannot undo
# sat = "07:30"
# sun = "07:30"

# [morning.weekday_not_after]    # the same for not_after
# sat = "10:00"

[evening]                        # closing
twilight = "civil"
later_min = 0
{evening_not_before}
{evening_not_after}# before noon means after midnight
no_twilight = ["light", "limit"]
fallback_lux = 10
cell_from_min = 0
cell_until_min = 0

# [evening.weekday_later_min]    # as in the morning; also [evening.weekday_not_before]
# fri = 10

# [evening.weekday_not_after]
# sun = "21:30"

# [[season]]                     # replaces keys for its dates, each year; may wrap the year's end
# name = "fox cubs"
# from = "04-15"
# to = "07-10"
# [season.evening]
# later_min = -5

# [[kept_in]]                    # the door stays down
# from = "2027-11-20"            # or "11-20" for every year
# to = "2027-12-15"
# why = "housing order"

[warn]
least_open_h = 6                 # warns of days open for less
least_shut_min = 120             # refuses nights shorter than this

# [light_cell]                   # your light cell, for counts and comparisons
# kind = "photoresistor"         # or "lux" for a digital sensor
# r10_ohm = 50000                # resistance at 10 lux
# gamma = 0.7
# fixed_ohm = 100000             # the resistor it stands in series with
# dark_lux = 5.0
# light_lux = 15.0
# sky_view = 0.4                 # share of the sky that the cell sees

# The machine, for sunsched drive, battery and firmware: the figures of yours, not these.
# [door]
# travel_mm = 350
# plate_kg = 2.0
# guide_friction_n = 4.0         # hang the plate on a spring balance: up less down, halved

# [spool]
# core_diameter_mm = 30
# cord_mm = 2
# turns_left_when_down = 8.5     # what stays on the spool when the plate is down

# [motor]
# volts = 12
# rpm = 60                       # of the spool
# run_a = 0.6
# winding_ohm = 4.0              # between its wires, at rest
# lowering_duty = 0.4
# cutoff_up_s = 12               # the longest a raising may take
# cutoff_down_s = 17

# [battery]
# volts = 12
# capacity_ah = 7
# sleep_ma = 1.2                 # all that the board draws at rest
# awake_ma = 25
# panel_w = 10

# It advises times and certifies nothing. Look at birds and door every day, count the birds after closing
# until the setting is proven, keep fingers clear of the door, and follow local codes and makers' data.
"""
