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
    cost, came, piece = search
    state = np.repeat(states, 16)
    change = np.tile(np.arange(-8, 8), len(states))
    slope = state % 256 - 128 + change
    value = least[day] + state // 256
    kept = (slope >= -128) & (slope <= 127)
    for days in range(1, min(16, len(least) - 1 - day) + 1):
        value = value + slope
        kept = kept & (least[day + days] <= value) & (value <= greatest[day + days])
        rows = np.flatnonzero(kept)
        if not len(rows):
            return
        state, change, slope, value = state[rows], change[rows], slope[rows], value[rows]
        kept = np.ones(len(rows), np.bool_)
        # One day without a change would be the byte 0, which means a jump.
        real = np.flatnonzero((change != 0) | (days > 1))
        target = (value[real] - least[day + days]) * 256 + slope[real] + 128
        price = flat[state[real]] + 1
        better = price < cost[day + days].ravel()[target]
        target, chosen = target[better], real[better]
        cost[day + days].ravel()[target] = price[better]
        came[day + days].ravel()[target] = state[chosen]
        piece[day + days].ravel()[target] = days * 16 + change[chosen] + 8


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
