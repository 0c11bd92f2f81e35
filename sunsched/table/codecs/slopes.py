"""Layout slopes: straight pieces of one byte each, with jumps. For years with kinks and breaks.

Value and slope are in sixteenths of a minute (a day). A byte holds the days of a piece less one
(low half) and the signed change of slope (high half); a zero byte is a jump to a new value and slope.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.table.wanted import FREE, Minutes, Wanted, smooth_guide

UNIT = 16  # steps of a minute
JUMP_BYTES = 4
_WIDE_MIN = 3  # how far from a straight line free days are searched [minutes]
_NEVER = 60_000
_NO_WAY = 1 << 30
_KEPT = 1_500


class Piece(NamedTuple):
    """Days of one slope; `jump` holds the value and slope of the next day instead, and change is 0."""

    days: int
    change: int
    jump: tuple[int, int] | None = None


class _Search(NamedTuple):
    """What is known of each day's states: of a day's states (values, 256 slopes) those from `first[day]` on.

    cost   bytes of the cheapest way there
    came   state of the piece's first day, on its day
    piece   days * 16 + change + 8; 0 for a jump or the start
    """

    least: NDArray[np.int32]
    greatest: NDArray[np.int32]
    first: NDArray[np.int64]
    cost: NDArray[np.uint16]
    came: NDArray[np.int32]
    piece: NDArray[np.int16]

    @classmethod
    def over(cls, least: NDArray[np.int32], greatest: NDArray[np.int32]) -> _Search:
        """Nothing known but that the first day may begin anywhere within its bounds."""
        first = np.concatenate([[0], np.cumsum((greatest - least + 1) * 256, dtype=np.int64)])
        n = int(first[-1])
        cost = np.full(n, _NEVER, np.uint16)
        cost[: first[1]] = 3
        return cls(least, greatest, first, cost, np.zeros(n, np.int32), np.zeros(n, np.int16))

    def states(self, day: int) -> slice:
        """Where the states of a day stand."""
        return slice(int(self.first[day]), int(self.first[day + 1]))


class _Ways(NamedTuple):
    """Pieces begun on a day: the state each came from, its change of slope, its slope, the day's value, its cost."""

    came: NDArray[np.int32]
    change: NDArray[np.int32]
    slope: NDArray[np.int32]
    value: NDArray[np.int32]
    cost: NDArray[np.int32]

    def part(self, rows: NDArray[np.intp]) -> _Ways:
        """Some of them."""
        return _Ways(*(column[rows] for column in self))


def pack(wanted: Wanted) -> bytes | None:
    """The fewest bytes found for one year; None for minutes outside -2048 to 2047."""
    straight = smooth_guide(wanted.least[0], wanted.greatest[0])
    sides = []
    for side in (0, 1):
        least, greatest = _bounds(wanted.least[0, side], wanted.greatest[0, side], straight[side])
        if least.min() < -2048 or greatest.max() > 2047:
            return None
        sides.append(_bytes(*_fewest(least * UNIT, greatest * UNIT + UNIT - 1)))
    return (2 + len(sides[0])).to_bytes(2, "little") + sides[0] + sides[1]


def _bounds(
    least: NDArray[np.int32], greatest: NDArray[np.int32], straight: NDArray[np.float64]
) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Bounds with the free days narrowed to the neighbourhood of a path, so that the search stays small.

    The path is straight across a run of free days, moved to where it suits all days of the run if it can:
    limits that differ by weekday would else make it jump each week.
    """
    near = np.rint(straight).astype(np.int32)
    free = (least <= -FREE) | (greatest >= FREE)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], free, [False]]).astype(np.int8)))
    for begin, end in zip(edges[::2], edges[1::2], strict=True):
        low, high = int(least[begin:end].max()), int(greatest[begin:end].min())
        if low <= high:
            near[begin:end] = np.clip(near[begin:end], low, high)
    near = np.clip(near, least, greatest)
    return np.maximum(least, near - _WIDE_MIN), np.minimum(greatest, near + _WIDE_MIN)


def _fewest(least: NDArray[np.int32], greatest: NDArray[np.int32]) -> tuple[int, int, list[Piece]]:
    """Start value, start slope and pieces by dynamic programming over the decoder's own states, day by day."""
    search = _Search.over(least, greatest)
    for day in range(len(least) - 1):
        flat = search.cost[search.states(day)]
        best = int(flat.min())
        after = search.states(day + 1)
        jump = search.cost[after] > best + JUMP_BYTES
        search.cost[after][jump], search.came[after][jump] = best + JUMP_BYTES, int(flat.argmin())
        search.piece[after][jump] = 0
        states = np.flatnonzero(flat < best + JUMP_BYTES)
        # Of as many as are kept the cheapest, and of equals the first.
        states = states[np.argsort(flat[states], kind="stable")][:_KEPT]
        _extend(day, states, flat, search)
    return _trace(search)


def _extend(day: int, states: NDArray[np.intp], flat: NDArray[np.uint16], search: _Search) -> None:
    """Carry the states of a day on by every change of slope and up to 16 days; `flat` is the day's cost by state."""
    changed, any_change = _cheapest_ways(states, flat)
    # One day without a change would be the byte 0, which means a jump: one day ahead come only those with a change.
    for found, steps in ((changed, ((1, 1, True),)), (any_change, ((1, 1, False), (2, 5, True), (6, 16, True)))):
        ways = _ways(found, int(search.least[day]))
        for shortest, longest, arrives in steps:
            days = np.arange(shortest, min(longest, len(search.least) - 1 - day) + 1, dtype=np.int32)
            if not len(days) or not len(ways.came):
                break
            ways = _carried(ways, day, days, search, arrives)


def _cheapest_ways(states: NDArray[np.intp], flat: NDArray[np.uint16]) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """For each value and slope after a change (values, 256): cost * 256 + slope before it of the cheapest state.

    Of equals the least slope; the first with a change that is not 0, the second with any.
    """
    before = np.full((len(flat) // 256, 8 + 256 + 8), _NO_WAY, np.int32)
    before[states // 256, states % 256 + 8] = flat[states] * np.int32(256) + states % 256
    pairs = np.minimum(before[:, :-1], before[:, 1:])
    fours = np.minimum(pairs[:, :-2], pairs[:, 2:])
    eights = np.minimum(fours[:, :-4], fours[:, 4:])
    # A slope comes from seven lower ones, by changes of 1 to 7, from itself, or from eight higher ones.
    changed = np.minimum(np.minimum(fours[:, 1:257], fours[:, 4:260]), eights[:, 9:265])
    return changed, np.minimum(changed, before[:, 8:264])


def _ways(found: NDArray[np.int32], least: int) -> _Ways:
    place = np.flatnonzero(found < _NO_WAY).astype(np.int32)
    code = found.ravel()[place]
    row, slope, before = place >> 8, place & 255, code & 255
    return _Ways((row << 8) + before, slope - before, slope - 128, row + np.int32(least), code >> 8)


def _carried(ways: _Ways, day: int, days: NDArray[np.int32], search: _Search, arrives: bool) -> _Ways:
    """Carry the ways of a day on by each number of days; if they arrive, note those cheaper than what is known there.

    Returns those that stay within bounds all the way. No two of them arrive at the same state of a day.
    """
    at = day + days
    value = ways.value + days[:, None] * ways.slope
    inside = (search.least[at][:, None] <= value) & (value <= search.greatest[at][:, None])
    if len(days) > 1:
        np.logical_and.accumulate(inside, axis=0, out=inside)
    if arrives:
        place = np.flatnonzero(inside)
        number = np.repeat(np.arange(len(days)), np.count_nonzero(inside, axis=1))
        way = place - number * len(ways.came)
        low = search.first[at] - search.least[at].astype(np.int64) * 256 + 128
        target = low[number] + (value.ravel()[place] * 256 + ways.slope[way])
        price = (ways.cost[way] + 1).astype(np.uint16)
        better = np.flatnonzero(price < search.cost[target])
        target, number, way = target[better], number[better], way[better]
        search.cost[target] = price[better]
        search.came[target] = ways.came[way]
        search.piece[target] = days[number] * 16 + ways.change[way] + 8
    return ways.part(np.flatnonzero(inside[-1]))


def _trace(search: _Search) -> tuple[int, int, list[Piece]]:
    """Start value, start slope and pieces of the cheapest way to the last day, followed backwards."""
    least, first = search.least, search.first
    day = len(least) - 1
    state = int(search.cost[search.states(day)].argmin())
    pieces: list[Piece] = []
    while day > 0:
        at = int(first[day]) + state
        code = int(search.piece[at])
        if code == 0:
            pieces.append(Piece(1, 0, (int(least[day]) + state // 256, state % 256 - 128)))
            state, day = int(search.came[at]), day - 1
        else:
            days = code // 16
            pieces.append(Piece(days, code % 16 - 8))
            state, day = int(search.came[at]), day - days
    return int(least[0]) + state // 256, state % 256 - 128, pieces[::-1]


def _bytes(value: int, slope: int, pieces: list[Piece]) -> bytes:
    data = bytearray(value.to_bytes(2, "little", signed=True) + slope.to_bytes(1, "little", signed=True))
    for piece in pieces:
        if piece.jump is None:
            data.append((piece.change & 15) << 4 | piece.days - 1)
        else:
            data.append(0)
            data += piece.jump[0].to_bytes(2, "little", signed=True) + piece.jump[1].to_bytes(1, "little", signed=True)
    return bytes(data)


def unpack(data: bytes, n_days: int) -> Minutes:
    """The minutes of both sides (2, n), bit for bit as sunsched_slopes_min of sunsched_slopes.h."""
    starts = (2, int.from_bytes(data[:2], "little"))
    return np.array([_unpack_side(data, start, n_days) for start in starts], np.int32)


def _unpack_side(data: bytes, at: int, n_days: int) -> list[int]:
    value = int.from_bytes(data[at : at + 2], "little", signed=True)
    slope = int.from_bytes(data[at + 2 : at + 3], "little", signed=True)
    at += 3
    left = 0
    minutes = [value >> 4]
    while len(minutes) < n_days:
        if left == 0:
            byte = data[at]
            at += 1
            if byte == 0:
                value = int.from_bytes(data[at : at + 2], "little", signed=True)
                slope = int.from_bytes(data[at + 2 : at + 3], "little", signed=True)
                at += 3
                minutes.append(value >> 4)
                continue
            slope = (slope + ((byte >> 4) ^ 8) - 8 + 128) % 256 - 128
            left = (byte & 15) + 1
        value = (value + slope + 0x8000) % 0x10000 - 0x8000
        left -= 1
        minutes.append(value >> 4)
    return minutes
