"""Layout blocks: differences from day to day, packed for 16 days at a time in as few bits as they need.

Exact for every plan, days without a minute included; about 180 bytes for a smooth year.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sunsched.plan.year import NO_MINUTE
from sunsched.table.wanted import Minutes, Wanted

BLOCK_DAYS = 16
_WHOLE = 15  # width code of 16 bits, for differences that fit no less


def pack(wanted: Wanted) -> bytes:
    """The bytes of one year."""
    sides = [_side(minutes) for minutes in _paths(wanted)]
    return (2 + len(sides[0])).to_bytes(2, "little") + sides[0] + sides[1]


def size(wanted: Wanted) -> int:
    """How many bytes `pack` would make."""
    found = 2
    for minutes in _paths(wanted):
        steps = _steps(minutes)
        last = len(steps) % BLOCK_DAYS or BLOCK_DAYS
        widths = [width for width, _ in _heads(steps)]
        found += 2 + sum(1 + 2 * width for width in widths[:-1]) + sum(1 + (last * w + 7) // 8 for w in widths[-1:])
    return found


def _paths(wanted: Wanted) -> list[NDArray[np.int32]]:
    return [_steady(wanted.least[0, side], wanted.greatest[0, side]) for side in (0, 1)]


def _steady(least: NDArray[np.int32], greatest: NDArray[np.int32]) -> NDArray[np.int32]:
    """Of the accepted minutes, those that change least from the day before."""
    path, free = least.copy(), np.flatnonzero(least != greatest)
    if len(free):
        bound = np.flatnonzero((least == greatest) & (least != NO_MINUTE))
        first = int(least[bound[0]]) if len(bound) else 0
        for row in free.tolist():
            before = path[row - 1] if row else first
            path[row] = min(max(before, least[row]), greatest[row])
    return path


def _steps(minutes: NDArray[np.int32]) -> NDArray[np.int32]:
    return (np.diff(minutes) + 0x8000) % 0x10000 - 0x8000


def _heads(steps: NDArray[np.int32]) -> list[tuple[int, int]]:
    """Width and addition of each block, see `_fitted`."""
    first = np.arange(0, len(steps), BLOCK_DAYS)
    if not len(first):
        return []
    extremes = (extreme.reduceat(steps, first).tolist() for extreme in (np.minimum, np.maximum))
    return [_fitted(lowest, highest) for lowest, highest in zip(*extremes, strict=True)]


def _side(minutes: NDArray[np.int32]) -> bytes:
    steps = _steps(minutes)
    data = bytearray((int(minutes[0]) & 0xFFFF).to_bytes(2, "little"))
    for at, (width, least) in zip(range(0, len(steps), BLOCK_DAYS), _heads(steps), strict=True):
        block = steps[at : at + BLOCK_DAYS]
        packed = 0
        for day, step in enumerate(block.tolist()):
            packed |= ((step - least) & 0xFFFF) << (day * width)
        data.append(min(width, _WHOLE) | (least >> _scale(width) & 15) << 4)
        data += packed.to_bytes((len(block) * width + 7) // 8, "little")
    return bytes(data)


def _scale(width: int) -> int:
    """Bits by which the head's addition is shifted left."""
    return max(0, width - 4)


def _fitted(lowest: int, highest: int) -> tuple[int, int]:
    """The least width of a block's differences [bits], and what is added to each."""
    for width in range(_WHOLE):
        scale = _scale(width)
        least = min(7, lowest >> scale) << scale
        if least >= -8 << scale and highest - least < 1 << width:
            return width, least
    return 16, 0


def unpack(data: bytes, n_days: int) -> Minutes:
    """The minutes of both sides (2, n)."""
    starts = (2, int.from_bytes(data[:2], "little"))
    return np.array([_unpack_side(data, start, n_days) for start in starts], np.int32)


def _unpack_side(data: bytes, at: int, n_days: int) -> list[int]:
    minute = int.from_bytes(data[at : at + 2], "little")
    at += 2
    minutes = [minute]
    while len(minutes) < n_days:
        head = data[at]
        width = 16 if head & 15 == _WHOLE else head & 15
        least = (((head >> 4) ^ 8) - 8) << _scale(width)
        days = min(BLOCK_DAYS, n_days - len(minutes))
        size = (days * width + 7) // 8
        bits = int.from_bytes(data[at + 1 : at + 1 + size], "little")
        at += 1 + size
        for day in range(days):
            minute += least + (bits >> (day * width) & ((1 << width) - 1))
            minutes.append(minute)
    return [(value + 0x8000) % 0x10000 - 0x8000 for value in minutes]
