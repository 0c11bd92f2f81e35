"""Which time a light log's clock keeps, found from its nights, and where that clock jumped.

The middle between a dusk and the next dawn lies near solar midnight whatever the cell's error or threshold; weather
moves it by some 15 min. So each night shows by how much the log's clock is ahead of UTC.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import DAY_MIN, Zone
from sunsched.sky.crossings import altitude_crossings
from sunsched.study.light_log import LightLog

Floats = NDArray[np.float64]

DARK_LEAST_MIN, DARK_MOST_MIN = 120, 22 * 60  # a night; shorter is a passing cover, longer a cell that sees nothing
LAMP_MIN = 45  # light for less than this inside a night is a lamp: common practice
FILL_MIN = 20  # gaps up to this are bridged: light at dusk falls tenfold in about this time
NIGHT_FILL_MIN = 90  # a gap inside a night or a day changes neither end: civil time skips an hour each spring
CHIP_FILL_MIN = 20 * 60  # the door's own log is silent through the night
CHUNK_DAYS = 366
SHORTER_MIN, LONGER_MIN = 45.0, 150.0  # what a cell's error and two dull twilights do to a night's length
WRONG_MIN = 25.0  # median of the nights: twice what weather does to one of them
JUMP_MIN = 20.0
JUMP_NIGHTS = 3


class Dark(NamedTuple):
    """One night of the log: from dusk to dawn [minutes by the log's clock]."""

    dusk_min: float
    dawn_min: float

    @property
    def middle_min(self) -> float:
        """The middle of it [minutes by the log's clock]."""
        return (self.dusk_min + self.dawn_min) / 2


@dataclass(frozen=True)
class LogClock:
    """What a log's clock keeps: a fixed offset from UTC [minutes], or the civil time of a zone."""

    name: str
    fixed_min: int | None
    zone: Zone | None = None

    def offset_min(self, utc_min: Floats) -> NDArray[np.int64]:
        """The log's clock minus UTC at times of any shape [minutes]."""
        if self.zone is not None:
            return self.zone.utc_offset_min(utc_min)
        return np.full(np.shape(utc_min), self.fixed_min or 0, dtype=np.int64)

    def log_min(self, utc_min: Floats) -> Floats:
        """What the log's clock shows at times of any shape [utc_min]."""
        return np.asarray(utc_min + self.offset_min(utc_min), np.float64)

    def utc_min(self, log_min: float) -> float:
        """The moment [utc_min] of a reading; of one that comes twice, the later (the offset of that afternoon)."""
        offset = self.offset_min(np.array([log_min]))[0]
        return float(log_min - self.offset_min(np.array([log_min - offset]))[0])


def named_clock(word: str, zone: Zone, chip_offset_min: int) -> LogClock | None:
    """The clock meant by "civil", "chip", "utc" or an offset such as "+01:00"; None for any other word."""
    if word == "civil":
        return LogClock(f"civil time of {zone.name}", None, zone)
    if word == "chip":
        return LogClock(f"the chip's time, {offset_text(chip_offset_min)}", chip_offset_min)
    if word == "utc":
        return LogClock("UTC", 0)
    match = re.fullmatch(r"([+-])(\d\d):?(\d\d)", word)
    if not match or int(match[2]) > 14 or int(match[3]) > 59:
        return None
    minutes = int(match[2]) * 60 + int(match[3])
    minutes = -minutes if match[1] == "-" else minutes
    return LogClock(f"fixed offset, {offset_text(minutes)}", minutes)


def offset_text(minutes: float) -> str:
    """An offset from UTC in words: UTC+01:00."""
    whole = round(minutes)
    return f"UTC{'-' if whole < 0 else '+'}{abs(whole) // 60:02d}:{abs(whole) % 60:02d}"


def nights(log: LightLog, dark_level: float) -> list[Dark]:
    """Every whole night in the log: spells below `dark_level` [the log's unit] with day on both sides."""
    fill_min = CHIP_FILL_MIN if log.chip is not None else NIGHT_FILL_MIN
    found: list[Dark] = []
    days = sorted(log.days)
    for first in range(0, len(days), CHUNK_DAYS):
        part = days[first : first + CHUNK_DAYS]
        for begin, end in _runs(np.array(part)):
            start_min = begin * DAY_MIN
            n_min = (end - begin + 2) * DAY_MIN  # one date more, so that a night across chunks is found
            found += _spells(log.span(start_min, n_min), start_min, dark_level, fill_min)
    return sorted({round(dark.dusk_min): dark for dark in found}.values())


def natural(
    darks: Sequence[Dark], latitude_deg: float, longitude_deg: float, depression_deg: float, near_min: float
) -> list[Dark]:
    """The nights about as long as the Sun makes them below `depression_deg`: neither cut short by a lamp nor drawn
    out by a cover. `near_min` is about how far the log's clock is ahead of UTC [minutes]; a day's error is harmless.
    """
    if not darks:
        return []
    day = np.array([int((dark.middle_min - near_min) // DAY_MIN) for dark in darks])
    first, n_days = int(day.min()) - 2, int(day.max() - day.min()) + 5
    found = altitude_crossings(first, n_days, latitude_deg, longitude_deg, [-depression_deg])
    length = found.rise_utc_min[0, 1:] - found.set_utc_min[0, :-1]
    excess = np.array([dark.dawn_min - dark.dusk_min for dark in darks]) - length[day - first]
    with np.errstate(invalid="ignore"):
        kept = (excess > -SHORTER_MIN) & (excess < LONGER_MIN)
    return [dark for dark, keep in zip(darks, kept, strict=True) if keep]


def _runs(days: NDArray[np.int64]) -> list[tuple[int, int]]:
    """Unbroken runs of dates, first and last of each."""
    ends = np.flatnonzero(np.diff(days) > 1)
    firsts = np.concatenate([[0], ends + 1])
    lasts = np.concatenate([ends, [len(days) - 1]])
    return [(int(days[a]), int(days[b])) for a, b in zip(firsts, lasts, strict=True)]


def filled(value: Floats, fill_min: int) -> Floats:
    """Values (n,) with gaps of up to `fill_min` minutes bridged by a straight line; longer ones stay NaN."""
    known = np.flatnonzero(~np.isnan(value))
    if len(known) < 2:
        return value
    bridged = value.copy()
    for gap in np.flatnonzero((np.diff(known) > 1) & (np.diff(known) <= fill_min + 1)):
        a, b = known[gap], known[gap + 1]
        bridged[a : b + 1] = np.linspace(value[a], value[b], b - a + 1)
    return bridged


def _spells(value: Floats, start_min: int, dark_level: float, fill_min: int) -> list[Dark]:
    with np.errstate(invalid="ignore"):
        state = np.where(np.isnan(value), 0, np.where(value < dark_level, -1, 1))
    state = _bridged(state, 0, fill_min)
    state = _bridged(state, 1, LAMP_MIN)
    edges = np.flatnonzero(np.diff(state)) + 1
    begins, ends = np.concatenate([[0], edges]), np.concatenate([edges, [len(state)]])
    found = []
    for k in range(1, len(begins) - 1):
        long = DARK_LEAST_MIN <= ends[k] - begins[k] <= DARK_MOST_MIN
        if state[begins[k]] == -1 and long and state[begins[k - 1]] == 1 and state[begins[k + 1]] == 1:
            found.append(Dark(float(start_min + begins[k]), float(start_min + ends[k])))
    return found


def _bridged(state: NDArray[np.int64], kind: int, longest: int) -> NDArray[np.int64]:
    """States with short spells of one kind (0 unknown, 1 bright) given over to the dark on both sides of them.

    An unknown spell between two bright ones becomes bright; one where day turns to night is halved.
    """
    edges = np.flatnonzero(np.diff(state)) + 1
    begins, ends = np.concatenate([[0], edges]), np.concatenate([edges, [len(state)]])
    bridged = state.copy()
    for begin, end in zip(begins[1:-1].tolist(), ends[1:-1].tolist(), strict=True):
        if state[begin] != kind or end - begin > longest:
            continue
        before, after = state[begin - 1], state[end]
        if before == after:
            bridged[begin:end] = before
        elif kind == 0 and end - begin <= FILL_MIN:
            middle = (begin + end) // 2
            bridged[begin:middle], bridged[middle:end] = before, after
    return bridged


def ahead_of_utc_min(darks: Sequence[Dark], latitude_deg: float, longitude_deg: float, near_min: float) -> Floats:
    """By how much the log's clock is ahead of UTC on each night (n,) [minutes], within 12 h of `near_min`."""
    if not darks:
        return np.zeros(0)
    middles = np.array([dark.middle_min for dark in darks])
    first = int(np.floor(middles.min() / DAY_MIN)) - 2
    n_days = int(np.ceil(middles.max() / DAY_MIN)) + 2 - first
    lowest = altitude_crossings(first, n_days, latitude_deg, longitude_deg, [0.0]).midnight_utc_min
    after = np.clip(np.searchsorted(lowest, middles - near_min), 1, len(lowest) - 1)
    nearest = after - (middles - near_min - lowest[after - 1] < lowest[after] - middles + near_min)
    return np.asarray(middles - lowest[nearest])


@dataclass(frozen=True)
class ClockFound:
    """How well a clock agrees with the nights: median difference and spread [minutes], and on how many of them."""

    clock: LogClock
    off_min: float
    spread_min: float
    n_nights: int


def judged(clock: LogClock, darks: Sequence[Dark], latitude_deg: float, longitude_deg: float) -> ClockFound:
    """A clock compared with the nights; a positive difference means that the log's clock is fast of it."""
    off = differences_min(clock, darks, latitude_deg, longitude_deg)
    if not len(off):
        return ClockFound(clock, 0.0, 0.0, 0)
    spread = float(np.median(np.abs(off - np.median(off))) * 1.4826) if len(off) > 1 else 0.0
    return ClockFound(clock, float(np.median(off)), spread, len(off))


def differences_min(clock: LogClock, darks: Sequence[Dark], latitude_deg: float, longitude_deg: float) -> Floats:
    """How far the log's clock is ahead of `clock` on each night (n,) [minutes]."""
    if not darks:
        return np.zeros(0)
    middles = np.array([dark.middle_min for dark in darks])
    expected = clock.offset_min(middles - clock.offset_min(middles)).astype(np.float64)
    ahead = ahead_of_utc_min(darks, latitude_deg, longitude_deg, float(np.median(expected)))
    return np.asarray(ahead - expected)


def best_clock(
    candidates: Sequence[LogClock], darks: Sequence[Dark], latitude_deg: float, longitude_deg: float
) -> ClockFound:
    """The candidate nearest to the nights, taken night by night; the first of several that are equally near."""
    best: tuple[float, ClockFound] | None = None
    for clock in candidates:
        found = judged(clock, darks, latitude_deg, longitude_deg)
        miss = float(np.mean(np.abs(differences_min(clock, darks, latitude_deg, longitude_deg)))) if darks else 0.0
        if best is None or miss < best[0] - 1.0:
            best = (miss, found)
    assert best is not None
    return best[1]


class Jump(NamedTuple):
    """The log's clock went from one offset to another between two nights [minutes by the log's clock; minutes]."""

    after_min: float
    before_min: float
    by_min: float


def jumps(clock: LogClock, darks: Sequence[Dark], latitude_deg: float, longitude_deg: float) -> list[Jump]:
    """Where the differences step by more than `JUMP_MIN` and stay: medians of three nights on either side."""
    off = differences_min(clock, darks, latitude_deg, longitude_deg)
    found: list[Jump] = []
    last = -JUMP_NIGHTS
    for k in range(JUMP_NIGHTS, len(off) - JUMP_NIGHTS + 1):
        step = float(np.median(off[k : k + JUMP_NIGHTS]) - np.median(off[k - JUMP_NIGHTS : k]))
        single = float(off[k] - off[k - 1])
        if abs(step) > JUMP_MIN and abs(single) > JUMP_MIN / 2 and single * step > 0 and k - last >= JUMP_NIGHTS:
            found.append(Jump(darks[k - 1].middle_min, darks[k].middle_min, step))
            last = k
    return found
