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
_KEPT = 1_500
_SLOPES = np.arange(-128, 128, dtype=np.int32)


class Piece(NamedTuple):
    """Days of one slope; `jump` holds the value and slope of the next day instead, and change is 0."""

    days: int
    change: int
    jump: tuple[int, int] | None = None


class _Search(NamedTuple):
    """What is known of each day's states, an array (values, 256 slopes) a day.

    cost   bytes of the cheapest way there
    came   state of the piece's first day, on its day
    piece   days * 16 + change + 8; 0 for a jump or the start
    """

    cost: list[NDArray[np.uint16]]
    came: list[NDArray[np.int32]]
    piece: list[NDArray[np.int16]]


class _Ways(NamedTuple):
    """Pieces begun on a day: the state each came from, its change of slope, its slope, and its value so far."""

    came: NDArray[np.intp]
    change: NDArray[np.int64]
    slope: NDArray[np.int64]
    value: NDArray[np.int64]


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
    n = len(least)
    width = greatest - least + 1
    search = _Search(
        cost=[np.full((int(w), 256), _NEVER, np.uint16) for w in width],
        came=[np.zeros((int(w), 256), np.int32) for w in width],
        piece=[np.zeros((int(w), 256), np.int16) for w in width],
    )
    cost, came, piece = search
    cost[0][:] = 3
    for day in range(n - 1):
        flat = cost[day].ravel()
        best = int(flat.min())
        jump = cost[day + 1] > best + JUMP_BYTES
        cost[day + 1][jump], came[day + 1][jump], piece[day + 1][jump] = best + JUMP_BYTES, int(flat.argmin()), 0
        states = np.flatnonzero(flat < best + JUMP_BYTES)
        # Dearest first: of two that reach the same state the cheaper is written last and stays.
        states = states[np.argsort(flat[states], kind="stable")][:_KEPT][::-1]
        _extend(day, states, flat, least, greatest, search)
    return _trace(least, search)


def _extend(
    day: int,
    states: NDArray[np.intp],
    flat: NDArray[np.uint16],
    least: NDArray[np.int32],
    greatest: NDArray[np.int32],
    search: _Search,
) -> None:
    """Carry the states of a day on by every change of slope and up to 16 days; `flat` is the day's cost by state."""
    came, change = np.repeat(states, 16), np.tile(np.arange(-8, 8), len(states))
    slope = came % 256 - 128 + change
    known = np.flatnonzero((slope >= -128) & (slope <= 127))
    # Ways with the same value and slope stay together from here on: the last of them, the cheapest, stands for all.
    meeting = came // 256 * 256 + slope + 128
    # One day without a change would be the byte 0, which means a jump: one day ahead come only those with a change.
    spans = ((1, 1, known[change[known] != 0]), (2, 16, known))
    for shortest, longest, rows in spans:
        rows = _last_of_each(meeting, rows, len(flat))
        ways = _Ways(came[rows], change[rows], slope[rows], least[day] + came[rows] // 256)
        for days in range(1, min(longest, len(least) - 1 - day) + 1):
            at = day + days
            value = ways.value + ways.slope
            inside = np.flatnonzero((least[at] <= value) & (value <= greatest[at]))
            if not len(inside):
                break
            ways = _Ways(ways.came[inside], ways.change[inside], ways.slope[inside], value[inside])
            if days >= shortest:
                _arrive(ways, days, at, flat, least, search)


def _last_of_each(meeting: NDArray[np.int64], rows: NDArray[np.intp], n: int) -> NDArray[np.intp]:
    """Of the rows that meet in the same place, of n places, the last."""
    last = np.full(n, -1)
    last[meeting[rows]] = rows
    return last[last >= 0]


def _arrive(
    ways: _Ways, days: int, at: int, flat: NDArray[np.uint16], least: NDArray[np.int32], search: _Search
) -> None:
    """Note the ways that are cheaper than what is known of the day they arrive at."""
    target = (ways.value - least[at]) * 256 + ways.slope + 128
    price = flat[ways.came] + 1
    better = np.flatnonzero(price < search.cost[at].ravel()[target])
    target = target[better]
    search.cost[at].ravel()[target] = price[better]
    search.came[at].ravel()[target] = ways.came[better]
    search.piece[at].ravel()[target] = days * 16 + ways.change[better] + 8


def _trace(least: NDArray[np.int32], search: _Search) -> tuple[int, int, list[Piece]]:
    """Start value, start slope and pieces of the cheapest way to the last day, followed backwards."""
    cost, came, piece = search
    day = len(least) - 1
    state = int(cost[day].argmin())
    pieces: list[Piece] = []
    while day > 0:
        code = int(piece[day].ravel()[state])
        if code == 0:
            pieces.append(Piece(1, 0, (int(least[day]) + state // 256, state % 256 - 128)))
            state, day = int(came[day].ravel()[state]), day - 1
        else:
            days = code // 16
            pieces.append(Piece(days, code % 16 - 8))
            state, day = int(came[day].ravel()[state]), day - days
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
