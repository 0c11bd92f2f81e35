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
Progress = Callable[[str], None]

_STARTS = 20_000
_KEPT = 4_000
_KEPT_AT_LAST = 24_000
_WIDE_TRIES = 5
_CHANGES = np.arange(-8, 8, dtype=np.int32)
_SHORTEST_DAYS = 3


class _Side(NamedTuple):
    """One side over time: bounds of the value, and the guide with its first two differences, all in its grain."""

    least: Ints
    greatest: Ints
    value: NDArray[np.float64]
    slope: NDArray[np.float64]
    curvature: NDArray[np.float64]


class _States(NamedTuple):
    value: Ints
    slope: Ints
    curvature: Ints


def pack(wanted: Wanted, grain: Grain, progress: Progress | None = None) -> bytes | None:
    """The shortest bytes found that hit every wanted minute, or None when no segment length does.

    `progress` is called with a line of text for each attempt. The same input gives the same bytes.
    """
    sides = [_fitted_side(wanted, side, grain) for side in (0, 1)]
    if any((side.least > side.greatest).any() for side in sides):
        return None
    best: bytes | None = None
    best_days = _SHORTEST_DAYS - 1
    search = _Search(grain, _WIDE_TRIES)
    for power in _powers(sides, grain):
        low, high = best_days + 1, LONGEST_DAYS
        while low <= high:
            # A search with short segments takes longer than a failure with long ones: try long segments first.
            days = low if low == high else (low + high) // 2
            if progress is not None:
                progress(f"segments of {days} days, step {1 << power}")
            curves = search.both(sides, days, power)
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

    def __init__(self, grain: Grain, wide_tries: int) -> None:
        self.grain = grain
        self.wide_tries = wide_tries

    def both(self, sides: list[_Side], days: int, power: int) -> tuple[Curve, Curve] | None:
        """Both sides' curves for a segment length and a step of curvature, or None."""
        curves = []
        for side in sides:
            curve = _search(side, days * self.grain.steps, 1 << power, self.grain, _KEPT)
            if isinstance(curve, int) and curve > len(side.least) // 2 and self.wide_tries > 0:
                # The search came far: a wider one may succeed.
                self.wide_tries -= 1
                curve = _search(side, days * self.grain.steps, 1 << power, self.grain, _KEPT_AT_LAST)
            if isinstance(curve, int):
                return None
            curves.append(curve)
        return curves[0], curves[1]


def _search(side: _Side, length: int, step: int, grain: Grain, kept: int) -> Curve | int:
    """A curve through all bounds, or how far the search came [steps]."""
    states = start = _starts(side, grain)
    trail: list[tuple[Ints, Ints]] = []
    end = len(side.least) - 1
    for at in range(0, end, length):
        span = min(length, end - at)
        states, parent, change = _carry(states, side, at, span, step)
        if not len(parent):
            return at
        keep = _nearest(states, side, at + span, kept, grain)
        states = _States(*(part[keep] for part in states))
        trail.append((parent[keep], change[keep]))
    row = 0
    changes = []
    for parent, change in reversed(trail):
        changes.append(int(change[row]))
        row = int(parent[row])
    return Curve(int(start.slope[row]), int(start.curvature[row]), int(start.value[row]), tuple(reversed(changes)))


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


def _starts(side: _Side, grain: Grain) -> _States:
    """Many starts within the first day's bounds, slopes and curvatures around the guide's."""
    unit = 1 << grain.shift
    low = max(int(side.least[0]), int(side.value[0]) - 3 * unit)
    high = min(int(side.greatest[0]), int(side.value[0]) + 3 * unit)
    if low > high:
        low, high = int(side.least[0]), int(side.greatest[0])
    values = np.arange(-(-low // grain.start) * grain.start, high + 1, grain.start)
    if not len(values):
        return _States(*(np.zeros(0, np.int32),) * 3)
    spread = [_scatter(_STARTS, salt * _STARTS) for salt in (1, 2, 3)]
    value = values[(spread[0] * len(values)).astype(np.int64)]
    # A quarter of a minute a day and a twenty-fourth of that a day later: wider than a fitted guide errs at its end.
    slope = side.slope[0] + (spread[1] - 0.5) * unit / 2 / grain.steps
    curvature = side.curvature[0] + (spread[2] - 0.5) * unit / 12 / grain.steps**2
    return _States(
        value.astype(np.int32),
        np.clip(np.rint(slope), -32768, 32767).astype(np.int32),
        np.clip(np.rint(curvature), -128, 127).astype(np.int32),
    )


def _carry(states: _States, side: _Side, at: int, span: int, step: int) -> tuple[_States, Ints, Ints]:
    """Every state carried over one segment by every change: those that stay within bounds all the way."""
    # The end of the segment sorts out most: it is asked before anything is copied for each change.
    turned = states.curvature[:, None] + _CHANGES * np.int32(step)
    then = (states.value + span * states.slope)[:, None] + span * (span - 1) // 2 * turned
    low, high = side.least[at + span], side.greatest[at + span]
    valid = np.flatnonzero((turned >= -128) & (turned <= 127) & (low <= then) & (then <= high))
    parent, change = (valid // 16).astype(np.int32), _CHANGES[valid % 16]
    value, slope, curvature = states.value[parent], states.slope[parent], turned.ravel()[valid]
    for ahead in _telling(span):
        # `value` after j steps of value += slope, slope += curvature.
        then = value + ahead * slope + ahead * (ahead - 1) // 2 * curvature
        valid = np.flatnonzero((side.least[at + ahead] <= then) & (then <= side.greatest[at + ahead]))
        if len(valid) < len(then):
            value, slope, curvature = value[valid], slope[valid], curvature[valid]
            change, parent = change[valid], parent[valid]
    # Hardly any of the rest leaves the bounds: all are walked through the segment, in place.
    then, pace = value.copy(), slope.copy()
    width = (side.greatest[at : at + span] - side.least[at : at + span]).view(np.uint32)
    for ahead in range(1, span):
        then += pace
        pace += curvature
        # Below the least is far above the greatest, as a number without a sign.
        inside = (then - side.least[at + ahead]).view(np.uint32) <= width[ahead]
        if not inside.all():
            value, slope, curvature, then, pace = (part[inside] for part in (value, slope, curvature, then, pace))
            change, parent = change[inside], parent[inside]
    end_slope = slope + span * curvature
    fits = np.flatnonzero((end_slope >= -32768) & (end_slope <= 32767))
    end_value = value + span * slope + span * (span - 1) // 2 * curvature
    return _States(end_value[fits], end_slope[fits], curvature[fits]), parent[fits], change[fits]


def _telling(span: int) -> list[int]:
    """The steps of a segment that sort out most states, but for its end: the middle and the quarters."""
    return list(dict.fromkeys(ahead for ahead in (span // 2, span // 4, 3 * span // 4) if 0 < ahead < span))


def _nearest(states: _States, side: _Side, at: int, kept: int, grain: Grain) -> NDArray[np.intp]:
    """Up to `kept` states near the guide at a time, in a fixed order, with scatter so that they differ."""
    n = len(states.value)
    if n <= kept:
        return np.arange(n)
    unit = 1 << grain.shift
    # Scales of half a minute, a tenth of a minute a day and a fiftieth a day squared: by trial at 0 to 60 degrees.
    far = ((states.value - side.value[at]) / (0.5 * unit)) ** 2
    far += ((states.slope - side.slope[at]) * grain.steps / (0.1 * unit)) ** 2
    far += ((states.curvature - side.curvature[at]) * grain.steps**2 / (0.02 * unit + 1)) ** 2
    far += 2 * _scatter(n, at)
    # Only those as near as the last one kept are sorted; the order is that of sorting them all.
    near = np.flatnonzero(far <= np.partition(far, kept - 1)[kept - 1])
    return near[np.argsort(far[near], kind="stable")[:kept]]


def pack_one_year(wanted: Wanted, progress: Progress | None = None) -> bytes | None:
    """Layout curves."""
    return pack(wanted, ONE_YEAR, progress)


def pack_many_years(wanted: Wanted, progress: Progress | None = None) -> bytes | None:
    """Layout years."""
    return pack(wanted, MANY_YEARS, progress)
