"""Fits the curves of layouts curves and years: the longest segments that still hit every minute.

Forward search over the exact whole-number states of the decoder. Each step extends all states by
all 16 changes of curvature at once, drops those that miss a wanted minute, and keeps a few thousand
of the rest: those nearest the guide's own value, slope and curvature, spread by a fixed scatter. A
table exists for a length when some state reaches the end of the year.

Layouts curves and years: two curves whose curvature changes by half a byte every few days.

The minute is the top of an accumulator: each step of time adds the slope to the value and the
curvature to the slope; every `length` days half a byte changes the curvature. `curves` holds one
year and steps by days; `years` holds many and steps by quarters of a day, because the calendar
falls a quarter of a day behind the Sun each year until a leap day.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.table.wanted import FREE, Minutes, Wanted

HEAD_BYTES = 11
LONGEST_DAYS = 32


@dataclass(frozen=True, slots=True)
class Grain:
    """The arithmetic of a layout.

    shift   minutes are the value shifted right by so many bits
    steps   of time in a day
    start   the start's value is given in multiples of this
    """

    shift: int
    steps: int
    start: int


ONE_YEAR = Grain(shift=9, steps=1, start=128)
MANY_YEARS = Grain(shift=12, steps=4, start=256)


@dataclass(frozen=True, slots=True)
class Curve:
    """One side: where it starts, in units of its grain, and the changes of its curvature (-8..7)."""

    slope: int
    curvature: int
    value: int
    changes: tuple[int, ...]


def to_bytes(length_days: int, step_power: int, curves: tuple[Curve, Curve], grain: Grain) -> bytes:
    """The bytes of both curves; starting values must be multiples of the grain's start."""
    data = bytearray([length_days - 1 | step_power << 5])
    for curve in curves:
        data += curve.slope.to_bytes(2, "little", signed=True)
        data += curve.curvature.to_bytes(1, "little", signed=True)
        data += (curve.value // grain.start).to_bytes(2, "little", signed=True)
    data += bytes((a + 8) | (b + 8) << 4 for a, b in zip(curves[0].changes, curves[1].changes, strict=True))
    return bytes(data)


def segment_days(data: bytes) -> int:
    """Days of a segment."""
    return (data[0] & 31) + 1


def step(data: bytes) -> int:
    """The step of curvature, in units of the grain."""
    return 1 << (data[0] >> 5)


def header_constants(data: bytes) -> dict[str, int]:
    """The constants of a header with one table, by the name of the C reader's macro."""
    return {"SUNSCHED_CURVES_DAYS": segment_days(data), "SUNSCHED_CURVES_STEP": step(data)}


def quarters_ahead(year: int) -> int:
    """Quarters of a day that the Sun is ahead of the calendar since the leap year before."""
    return -year & 3


def unpack(data: bytes, n_days: int) -> Minutes:
    """The minutes of both sides of a one-year table (2, n)."""
    return np.array([_decoded_side(data, side, n_days, ONE_YEAR, 0) for side in (0, 1)], np.int32)


def unpack_year(data: bytes, n_days: int, year: int) -> Minutes:
    """The minutes of both sides of one year of a many-year table (2, n)."""
    return np.array([_decoded_side(data, side, n_days, MANY_YEARS, quarters_ahead(year)) for side in (0, 1)], np.int32)


def _decoded_side(data: bytes, side: int, n_days: int, grain: Grain, quarters: int) -> list[int]:
    """Bit for bit what sunsched_curve in sunsched_curves.h does, for all days at once."""
    length = segment_days(data) * grain.steps
    unit = step(data)
    at = 6 if side else 1
    slope = int.from_bytes(data[at : at + 2], "little", signed=True)
    curvature = int.from_bytes(data[at + 2 : at + 3], "little", signed=True)
    value = int.from_bytes(data[at + 3 : at + 5], "little", signed=True) * grain.start
    minutes = []
    for time in range((n_days - 1) * grain.steps + quarters + 1):
        if time >= quarters and (time - quarters) % grain.steps == 0:
            minutes.append(value >> grain.shift)
        if time % length == 0:
            # Past the last segment only in the final round, whose outcome is not used.
            byte = data[HEAD_BYTES + time // length] if HEAD_BYTES + time // length < len(data) else 0
            change = (byte >> 4 if side else byte & 15) - 8
            curvature = (curvature + change * unit + 128) % 256 - 128
        value = (value + slope + (1 << 23)) % (1 << 24) - (1 << 23)
        slope = (slope + curvature + (1 << 15)) % (1 << 16) - (1 << 15)
    return minutes


Ints = NDArray[np.int32]
Floats = NDArray[np.float64]
Progress = Callable[[str], None]

_STARTS = 20_000
_KEPT = 4_000
_KEPT_AT_LAST = 24_000
_WIDE_TRIES = 5
_LEAST_CHANGE, _GREATEST_CHANGE = -8.0, 7.0
_SHORTEST_DAYS = 3
_AT_ONCE = 2048  # states, so that their values on all steps stay in the processor's cache
_SAMPLED = 17  # every so many ways, no multiple of the changes, say about how near the nearest are


class _Side(NamedTuple):
    """One side over time: bounds of the value, and the guide with its first two differences, all in its grain."""

    least: Ints
    greatest: Ints
    value: Floats
    slope: Floats
    curvature: Floats


class _Ways(NamedTuple):
    """The ways to carry n states over a segment within all bounds: for each state an interval of changes.

    The ways are numbered state by state, and for a state from the least change on.

    first   (n,) the least change of a state's curvature
    before   (n,) ways of the states before it
    parent   (ways,) the state that each begins with
    ends   (3, n) value, slope and curvature at the end of the segment, by the least change
    turn   (3,) what one change more adds to them
    """

    first: Floats
    before: NDArray[np.intp]
    parent: NDArray[np.intp]
    ends: Floats
    turn: Floats

    def some(self, numbers: NDArray[np.intp]) -> tuple[Floats, NDArray[np.intp], Floats]:
        """Of some ways the states that they end with (3, m), the states that they begin with, and the changes."""
        parent = self.parent[numbers]
        more = (numbers - self.before[parent]).astype(np.float64)
        return self.ends.take(parent, axis=1) + self.turn[:, None] * more, parent, self.first[parent] + more


def pack(wanted: Wanted, grain: Grain, progress: Progress | None = None) -> bytes | None:
    """The shortest bytes found that hit every wanted minute, or None when no segment length does.

    `progress` is called with a line of text for each attempt. The same input gives the same bytes.
    """
    sides = [_fitted_side(wanted, side, grain) for side in (0, 1)]
    if any((side.least > side.greatest).any() for side in sides):
        return None
    best: bytes | None = None
    best_days = _SHORTEST_DAYS - 1
    search = _Search(sides, grain, _WIDE_TRIES)
    for power in _powers(sides, grain):
        low, high = best_days + 1, LONGEST_DAYS
        while low <= high:
            # A search with short segments takes longer than a failure with long ones: try long segments first.
            days = low if low == high else (low + high) // 2
            if progress is not None:
                progress(f"segments of {days} days, step {1 << power}")
            curves = search.both(days, power)
            if curves is None:
                high = days - 1
            else:
                best, best_days = to_bytes(days, power, curves, grain), days
                low = days + 1
    return best


def _fitted_side(wanted: Wanted, side: int, grain: Grain) -> _Side:
    n_times = (wanted.n_days - 1) * grain.steps + (4 if grain.steps > 1 else 1)
    least = np.full(n_times, -FREE)
    greatest = np.full(n_times, FREE)
    for number in range(wanted.n_years):
        first = quarters_ahead(wanted.first_year + number) if grain.steps > 1 else 0
        times = first + np.arange(wanted.n_days) * grain.steps
        least[times] = np.maximum(least[times], wanted.least[number, side])
        greatest[times] = np.minimum(greatest[times], wanted.greatest[number, side])
    unit = 1 << grain.shift
    top = (1 << 23) - 1
    at_day = np.arange(n_times) / grain.steps
    days = np.arange(wanted.n_days)
    pieces = smoothed(wanted.guide[side])
    value, slope, curvature = (np.interp(at_day, days, piece) * unit for piece in pieces)
    low = np.where(least <= -FREE, -top, least * unit)
    high = np.where(greatest >= FREE, top, greatest * unit + unit - 1)
    return _Side(
        np.maximum(low, -top).astype(np.int32),
        np.minimum(high, top).astype(np.int32),
        value + unit / 2,
        slope / grain.steps,
        curvature / grain.steps**2,
    )


def smoothed(path: NDArray[np.float64], half: int = 12) -> tuple[NDArray[np.float64], ...]:
    """Value, slope and curvature of a daily path (n,), by a cubic through the 25 days around each day."""
    n = len(path)
    half = min(half, (n - 1) // 2)
    offsets = np.arange(-half, half + 1)
    out = np.zeros((3, n))
    centre = np.clip(np.arange(n), half, n - 1 - half)
    for away in np.unique(np.arange(n) - centre):
        rows = np.flatnonzero(np.arange(n) - centre == away)
        weights = np.linalg.pinv(np.vander(offsets - away, 4, increasing=True))
        nearby = path[centre[rows][:, None] + offsets]
        out[:, rows] = (weights[:3] @ nearby.T) * np.array([[1.0], [1.0], [2.0]])
    return out[0], out[1], out[2]


def _powers(sides: list[_Side], grain: Grain) -> list[int]:
    """Steps of curvature worth trying, the likeliest first: eight of them must follow the guide's turn in a week."""
    apart = 12 * grain.steps
    turn = max(float(np.abs(side.curvature[apart:] - side.curvature[:-apart]).max()) for side in sides)
    likely = int(np.clip(np.rint(np.log2(max(turn / 12, 1.0))), 0, 6))
    return [power for power in (likely, likely + 1, likely - 1, likely + 2) if 0 <= power <= 7]


class _Search:
    """Limits the number of wide searches: a year with breaks, which no curve can follow, must not take minutes."""

    def __init__(self, sides: list[_Side], grain: Grain, wide_tries: int) -> None:
        self.sides = sides
        self.starts = [_starts(side, grain) for side in sides]
        self.grain = grain
        self.wide_tries = wide_tries

    def both(self, days: int, power: int) -> tuple[Curve, Curve] | None:
        """Both sides' curves for a segment length and a step of curvature, or None."""
        curves = []
        for side, starts in zip(self.sides, self.starts, strict=True):
            curve = _search(side, starts, days * self.grain.steps, 1 << power, self.grain, _KEPT)
            if isinstance(curve, int) and curve > len(side.least) // 2 and self.wide_tries > 0:
                # The search came far: a wider one may succeed.
                self.wide_tries -= 1
                curve = _search(side, starts, days * self.grain.steps, 1 << power, self.grain, _KEPT_AT_LAST)
            if isinstance(curve, int):
                return None
            curves.append(curve)
        return curves[0], curves[1]


def _search(side: _Side, starts: Floats, length: int, step: int, grain: Grain, kept: int) -> Curve | int:
    """A curve through all bounds from one of the starts (3, n), or how far the search came [steps]."""
    states = starts
    trail: list[tuple[NDArray[np.intp], Floats]] = []
    end = len(side.least) - 1
    for at in range(0, end, length):
        span = min(length, end - at)
        ways = _ways(states, side, at, _segment(span, step))
        if not len(ways.parent):
            return at
        states, parent, change = ways.some(_nearest(ways, side, at + span, kept, grain))
        trail.append((parent, change))
    row = 0
    changes = []
    for parent, change in reversed(trail):
        changes.append(int(change[row]))
        row = int(parent[row])
    value, slope, curvature = (int(part) for part in starts[:, row])
    return Curve(slope, curvature, value, tuple(reversed(changes)))


_SCATTERED = 1 << 19  # more than a widest search asks for, with its salt


def _scatter(n: int, salt: int) -> NDArray[np.float64]:
    """n numbers in 0..1 without order, the same on every machine; other salts begin elsewhere in one long row."""
    row = _scattered(_SCATTERED)
    return row[salt : salt + n] if salt + n <= len(row) else _scattered(salt + n)[salt:]


@functools.lru_cache(maxsize=2)
def _scattered(n: int) -> NDArray[np.float64]:
    """The first n numbers of the row: multiplication by large odd numbers."""
    mixed = np.arange(n, dtype=np.uint64) * np.uint64(0x9E3779B97F4A7C15)
    mixed = (mixed ^ (mixed >> np.uint64(29))) * np.uint64(0xBF58476D1CE4E5B9)
    return np.asarray((mixed >> np.uint64(40)).astype(np.float64) / (1 << 24))


def _starts(side: _Side, grain: Grain) -> Floats:
    """Many starts (3, n) within the first day's bounds, slopes and curvatures around the guide's."""
    unit = 1 << grain.shift
    low = max(int(side.least[0]), int(side.value[0]) - 3 * unit)
    high = min(int(side.greatest[0]), int(side.value[0]) + 3 * unit)
    if low > high:
        low, high = int(side.least[0]), int(side.greatest[0])
    values = np.arange(-(-low // grain.start) * grain.start, high + 1, grain.start)
    if not len(values):
        return np.zeros((3, 0))
    spread = [_scatter(_STARTS, salt * _STARTS) for salt in (1, 2, 3)]
    value = values[(spread[0] * len(values)).astype(np.int64)]
    # A quarter of a minute a day and a twenty-fourth of that a day later: wider than a fitted guide errs at its end.
    slope = side.slope[0] + (spread[1] - 0.5) * unit / 2 / grain.steps
    curvature = side.curvature[0] + (spread[2] - 0.5) * unit / 12 / grain.steps**2
    return np.array([value, np.clip(np.rint(slope), -32768, 32767), np.clip(np.rint(curvature), -128, 127)])


class _Segment(NamedTuple):
    """A number of steps at one curvature: the value after j steps is value + j slope + j (j - 1) / 2 curvature.

    It is linear in value, slope and curvature, and in a change of the curvature too.

    end   (3, 3) value, slope and curvature at the end, of those at the beginning
    more   (3,) what one change more adds to them
    bound   (rows, 3) all that has bounds: the values after 2 to all steps, slope and curvature at the end; in changes
    change   (rows,) what one change adds to those
    """

    end: Floats
    more: Floats
    bound: Floats
    change: Floats


@functools.lru_cache(maxsize=256)
def _segment(span: int, step: int) -> _Segment:
    ahead = np.arange(2, span + 1)
    values = np.array([np.ones(len(ahead)), ahead, ahead * (ahead - 1) // 2]).T
    end = np.array([[1, span, span * (span - 1) // 2], [0, 1, span], [0, 0, 1]], np.float64)
    bound = np.concatenate((values, end[1:]))
    change = bound[:, 2] * step
    return _Segment(end, end[:, 2] * step, bound / change[:, None], change)


def _ways(states: Floats, side: _Side, at: int, segment: _Segment) -> _Ways:
    """All ways to carry states (3, n) over a segment from `at` on within bounds."""
    within = slice(at + 2, at + len(segment.change))
    # The bounds are half a unit wider: no whole number then lies where rounding could tell.
    least = ((np.array([*side.least[within], -32768, -128]) - 0.5) / segment.change)[:, None]
    greatest = ((np.array([*side.greatest[within], 32767, 127]) + 0.5) / segment.change)[:, None]
    first, last = np.empty((2, states.shape[1]))
    for begin in range(0, states.shape[1], _AT_ONCE):
        some = slice(begin, begin + _AT_ONCE)
        unchanged = segment.bound @ states[:, some]
        np.max(least - unchanged, axis=0, out=first[some])
        np.min(greatest - unchanged, axis=0, out=last[some])
    np.ceil(first, out=first)
    np.floor(last, out=last)
    np.maximum(first, _LEAST_CHANGE, out=first)
    np.minimum(last, _GREATEST_CHANGE, out=last)
    count = np.maximum(last - first + 1, 0).astype(np.intp)
    # No change tells in the first step.
    after_one = states[0] + states[1]
    count[(after_one < side.least[at + 1]) | (after_one > side.greatest[at + 1])] = 0
    ends = segment.end @ states + segment.more[:, None] * first
    return _Ways(first, np.cumsum(count) - count, np.repeat(np.arange(len(count)), count), ends, segment.more)


def _nearest(ways: _Ways, side: _Side, at: int, kept: int, grain: Grain) -> NDArray[np.intp]:
    """Up to `kept` ways that end near the guide at a time, in a fixed order, with scatter so that they differ."""
    n = len(ways.parent)
    if n <= kept:
        return np.arange(n)
    scatter = 2 * _scatter(n, at)
    # No way is nearer than its scatter alone. A sample says about how near those kept are, so that most ways need not
    # be looked at; where it says too little, all are.
    far = _far(ways, np.arange(0, n, _SAMPLED), side, at, grain, scatter)
    rank = min(kept * 5 // 4 // _SAMPLED, len(far) - 1)
    limit = np.partition(far, rank)[rank]
    near = np.flatnonzero(scatter <= limit)
    far = _far(ways, near, side, at, grain, scatter)
    within = np.flatnonzero(far <= limit)
    if len(within) < kept:
        near = within = np.arange(n)
        far = _far(ways, near, side, at, grain, scatter)
        limit = float(far.max())
    near, far = near[within], far[within]
    return near[_ascending(far, limit)[:kept]]


def _ascending(numbers: Floats, most: float) -> NDArray[np.intp]:
    """The order of numbers from 0 on, as np.argsort(numbers, kind="stable"): numpy sorts 16-bit parts much faster."""
    keys = (numbers * (4e9 / most)).astype(np.uint32)
    order = np.argsort(keys.astype(np.uint16), kind="stable")
    order = order[np.argsort((keys >> 16).astype(np.uint16)[order], kind="stable")]
    keys = keys[order]
    # Numbers too close for 32 bits.
    return order if (keys[1:] > keys[:-1]).all() else np.argsort(numbers, kind="stable")


def _far(ways: _Ways, some: NDArray[np.intp], side: _Side, at: int, grain: Grain, scatter: Floats) -> Floats:
    """How far from the guide the ends of some ways are, their scatter included."""
    value, slope, curvature = ways.some(some)[0]
    unit = 1 << grain.shift
    # Scales of half a minute, a tenth of a minute a day and a fiftieth a day squared: by trial at 0 to 60 degrees.
    far: Floats = ((value - side.value[at]) / (0.5 * unit)) ** 2
    far += ((slope - side.slope[at]) * grain.steps / (0.1 * unit)) ** 2
    far += ((curvature - side.curvature[at]) * grain.steps**2 / (0.02 * unit + 1)) ** 2
    far += scatter[some]
    return far


def pack_one_year(wanted: Wanted, progress: Progress | None = None) -> bytes | None:
    """Layout curves."""
    return pack(wanted, ONE_YEAR, progress)


def pack_many_years(wanted: Wanted, progress: Progress | None = None) -> bytes | None:
    """Layout years."""
    return pack(wanted, MANY_YEARS, progress)
