"""Day numbers, minutes, zones and summer time: the only use of zoneinfo in the project.

A day number counts days since 1970-01-01. An absolute time is `utc_min`: minutes since
1970-01-01T00:00Z. Zones come from the tzdata package alone, never from the machine, so
that the same configuration gives the same table everywhere.
"""

from __future__ import annotations

import datetime as dt
import difflib
import io
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from sunsched.base.errors import RangeError
from sunsched.base.package_data import package_bytes

DAY_MIN = 1440
_EPOCH = dt.date(1970, 1, 1)
_EPOCH_UTC = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
WEEKDAY_NAMES = tuple(day.capitalize() for day in WEEKDAYS)
MONTH_NAMES = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)
MONTHS = tuple(name[:3] for name in MONTH_NAMES)


def day_number(date: dt.date) -> int:
    """Days from 1970-01-01 to `date`."""
    return (date - _EPOCH).days


def date_of(day: int) -> dt.date:
    """The date of a day number."""
    return _EPOCH + dt.timedelta(days=int(day))


def year_days(year: int) -> tuple[int, int]:
    """First day number of `year` and how many days it has (365 or 366)."""
    first = day_number(dt.date(year, 1, 1))
    return first, day_number(dt.date(year + 1, 1, 1)) - first


def weekday(day: NDArray[np.int64]) -> NDArray[np.int64]:
    """Weekday of day numbers, Monday 0 to Sunday 6. 1970-01-01 was a Thursday."""
    return (day + 3) % 7


def month_day(day: NDArray[np.int64]) -> NDArray[np.int64]:
    """Month and day of day numbers as month * 100 + day, so that a date compares with '04-15' as 415."""
    dates = day.astype("datetime64[D]")
    months = dates.astype("datetime64[M]")
    month = months.astype(np.int64) % 12 + 1
    day_of_month = (dates - months.astype("datetime64[D]")).astype(np.int64) + 1
    return np.asarray(month * 100 + day_of_month, np.int64)


def iso_utc(utc_min: float) -> str:
    """A time as ISO 8601 with seconds and Z, to the nearest second."""
    whole = _EPOCH_UTC + dt.timedelta(seconds=round(utc_min * 60))
    return whole.strftime("%Y-%m-%dT%H:%M:%SZ")


def clock_text(minute: int) -> str:
    """Minutes after midnight as HH:MM; past midnight of either side the hour goes on (24:20) or below (-00:05)."""
    sign = "-" if minute < 0 else ""
    return f"{sign}{abs(minute) // 60:02d}:{abs(minute) % 60:02d}"


@lru_cache(maxsize=1)
def tzdata_release() -> str:
    """The release of the IANA zone data in use, such as '2026a'."""
    import tzdata

    return str(tzdata.IANA_VERSION)


@lru_cache(maxsize=1)
def zone_names() -> frozenset[str]:
    """Every zone name of the tzdata package."""
    return frozenset(package_bytes("tzdata", "zones").decode("ascii").split())


def nearest_zone(name: str) -> str | None:
    """The zone name closest in spelling to `name`, or None."""
    name = name[:64]  # twice the longest there is: comparing takes time with the length
    close = difflib.get_close_matches(name, sorted(zone_names()), n=1, cutoff=0.6)
    if close:
        return close[0]
    return next((zone for zone in sorted(zone_names()) if zone.lower() == name.lower()), None)


class Zone:
    """A civil time zone for whole arrays of times.

    Offsets are found by reading the zone once a day over the span in question and narrowing
    each change to the minute: a year takes a few hundred look-ups, not one for each time.
    """

    def __init__(self, name: str) -> None:
        from zoneinfo import ZoneInfo

        if name not in zone_names():
            raise RangeError(f"zone {name!r} is not in tzdata {tzdata_release()}")
        content = package_bytes("tzdata", "zoneinfo", *name.split("/"))
        self._info = ZoneInfo.from_file(io.BytesIO(content), key=name)
        self.name = name
        self._first_min = 0
        self._end_min = 0
        self._starts = np.zeros(1)
        self._offsets = np.zeros(1, np.int64)

    def _offset_at(self, utc_min: int) -> int:
        moment = _EPOCH_UTC + dt.timedelta(minutes=utc_min)
        offset = moment.astimezone(self._info).utcoffset()
        assert offset is not None
        return round(offset.total_seconds() / 60)

    def _cover(self, first_min: float, end_min: float) -> None:
        """Store every change of offset between two times [minutes], widened by ten days."""
        if self._first_min <= first_min and end_min <= self._end_min:
            return
        low = int(first_min // DAY_MIN - 10) * DAY_MIN
        high = int(end_min // DAY_MIN + 10) * DAY_MIN
        starts, offsets = [float(low)], [self._offset_at(low)]
        # Two changes within four days that undo each other are not seen; the closest pair in tzdata from 1990 on
        # is a week apart (America/Boa_Vista, October 2000).
        for right in range(low + 4 * DAY_MIN, high + 4 * DAY_MIN, 4 * DAY_MIN):
            offset = self._offset_at(right)
            if offset == offsets[-1]:
                continue
            left = right - 4 * DAY_MIN
            while right - left > 1:
                middle = (left + right) // 2
                left, right = (middle, right) if self._offset_at(middle) == offsets[-1] else (left, middle)
            starts.append(float(right))
            offsets.append(self._offset_at(right))
        self._first_min, self._end_min = low, high
        self._starts, self._offsets = np.array(starts), np.array(offsets, np.int64)

    def utc_offset_min(self, utc_min: NDArray[np.float64]) -> NDArray[np.int64]:
        """Civil time minus UTC [minutes] at each time."""
        times = np.asarray(utc_min, np.float64)
        if times.size == 0:
            return np.zeros(times.shape, np.int64)
        self._cover(float(times.min()), float(times.max()))
        return self._offsets[np.searchsorted(self._starts, times, side="right") - 1]

    def changes(self, first_min: float, end_min: float) -> list[tuple[float, int]]:
        """Every change of offset in a span: the time [utc_min] and the offset [minutes] from then on."""
        self._cover(first_min, end_min)
        pairs = zip(self._starts[1:], self._offsets[1:], strict=True)
        return [(float(start), int(offset)) for start, offset in pairs if first_min <= start < end_min]

    def utc_min_of(self, day: NDArray[np.int64], civil_minute: int) -> NDArray[np.float64]:
        """The time [utc_min] at which civil clocks show `civil_minute` [minutes after midnight] on each day.

        A minute that is skipped in spring means the moment reached by counting on with the old offset; of a
        minute that comes twice in autumn the first is meant (PEP 495, fold=0).
        """
        local = np.asarray(day, np.float64) * DAY_MIN + civil_minute
        before = self.utc_offset_min(local - 26 * 60)
        after = self.utc_offset_min(local + 26 * 60)
        early, late = local - before, local - after
        # With one change in between: the old offset holds if the change is not yet reached with it, else the
        # new one holds if it is reached with it, else the minute does not exist.
        with_old = self.utc_offset_min(early) == before
        with_new = self.utc_offset_min(late) == after
        return np.where(with_old | ~with_new, early, late)

    def standard_offset_min(self, first_day: int, n_days: int) -> int:
        """The smallest offset [minutes] in a span of days: the zone's time without summer time."""
        first = first_day * DAY_MIN
        self._cover(first, first + n_days * DAY_MIN)
        inside = self._starts < first + n_days * DAY_MIN
        inside[:-1] &= self._starts[1:] > first
        return int(self._offsets[inside].min())


@lru_cache(maxsize=64)
def zone_of(name: str) -> Zone:
    """The zone of that name, kept so that a batch of sites reads each zone once."""
    return Zone(name)
