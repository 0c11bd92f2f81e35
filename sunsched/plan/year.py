"""A span of days, usually a year: columns for all days at once; a day is a view of them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import DAY_MIN, date_of, day_number, zone_of
from sunsched.base.warned import Warned
from sunsched.plan.site import Chip, Site

NO_MINUTE = -32768


class Fact(NamedTuple):
    """One of the facts of a day that the chip gets.

    name   of its column, in a plan and in JSON; in capitals, of its bit in C
    bit   its value in the number that holds all facts of a day
    words   what it means
    """

    name: str
    bit: int
    words: str


FACTS = (
    Fact("dark_expected", 1, "the night after this day gets dark at the light cell"),
    Fact("light_expected", 2, "this day gets light at the light cell"),
    Fact("open_by_twilight", 4, "the Sun decided the opening: light and clock may be compared"),
    Fact("close_by_twilight", 8, "the Sun decided the closing"),
)


@dataclass(frozen=True, slots=True)
class YearPlan:
    """The door's minutes for n days, one row for each solar noon, keyed by the chip's date at that noon.

    open_min, close_min   (n,) [chip minutes after midnight of the row's date]; an opening may be
      negative, a closing may pass 1439; NO_MINUTE on a day when the door stays down
    open_reason, close_reason   (n,) Reason values
    noon_min, midnight_min   (n,) [chip minutes] of solar noon and of the solar midnight after it
    dawn_utc_min, dusk_utc_min   (n,) [utc_min] the Sun's moment asked for, NaN where there is none
    dark_expected, light_expected   (n,) the night after this noon gets dark, this day gets light
    open_by_twilight, close_by_twilight   (n,) the Sun decided the minute, so that clock and light
      may be compared
    civil_offset_min   (n,) civil time minus UTC at solar noon [minutes]
    """

    site: Site
    chip: Chip
    chip_offset_min: int
    tzdata: str
    first_day: int
    open_min: NDArray[np.int16]
    close_min: NDArray[np.int16]
    open_reason: NDArray[np.uint8]
    close_reason: NDArray[np.uint8]
    noon_min: NDArray[np.int16]
    midnight_min: NDArray[np.int16]
    dawn_utc_min: NDArray[np.float64]
    dusk_utc_min: NDArray[np.float64]
    dark_expected: NDArray[np.bool_]
    light_expected: NDArray[np.bool_]
    open_by_twilight: NDArray[np.bool_]
    close_by_twilight: NDArray[np.bool_]
    civil_offset_min: NDArray[np.int16]
    warnings: tuple[Warned, ...] = ()

    @property
    def n_days(self) -> int:
        """How many days the plan covers."""
        return len(self.open_min)

    @property
    def fact_columns(self) -> tuple[NDArray[np.bool_], ...]:
        """The facts (n,), in the order of FACTS."""
        return tuple(getattr(self, fact.name) for fact in FACTS)

    @property
    def fact_bits(self) -> NDArray[np.uint8]:
        """The facts of each day as one small number (n,)."""
        bits = sum(
            column.astype(np.uint8) * np.uint8(fact.bit) for fact, column in zip(FACTS, self.fact_columns, strict=True)
        )
        return np.asarray(bits, np.uint8)

    @property
    def days(self) -> NDArray[np.int64]:
        """The day number of each row."""
        return self.first_day + np.arange(self.n_days, dtype=np.int64)

    def row(self, date: dt.date) -> int:
        """The row of a date; raises IndexError outside the plan."""
        row = day_number(date) - self.first_day
        if not 0 <= row < self.n_days:
            raise IndexError(
                f"{date} lies outside {date_of(self.first_day)} to {date_of(self.first_day + self.n_days - 1)}"
            )
        return row

    def utc_min(self, minutes: NDArray[np.int16]) -> NDArray[np.float64]:
        """Chip minutes of the rows' dates as absolute times (n,) [utc_min], NaN for NO_MINUTE."""
        known = minutes != NO_MINUTE
        local = self.days.astype(np.float64) * DAY_MIN + np.where(known, minutes.astype(np.float64), np.nan)
        if self.chip.keeps != "civil":
            return local - self.chip_offset_min
        times = local.copy()
        for row in np.flatnonzero(known):
            times[row] = zone_of(self.site.zone).utc_min_of(self.days[row : row + 1], int(minutes[row]))[0]
        return times

    def civil_min(self, minutes: NDArray[np.int16]) -> NDArray[np.float64]:
        """Chip minutes of the rows' dates as civil minutes after midnight of the same date, NaN for NO_MINUTE."""
        times = self.utc_min(minutes)
        known = ~np.isnan(times)
        offset = np.zeros(len(times))
        offset[known] = zone_of(self.site.zone).utc_offset_min(times[known])
        return np.asarray(times + offset - self.days * float(DAY_MIN))
