"""Layouts curves and years: two curves whose curvature changes by half a byte every few days.

The minute is the top of an accumulator: each step of time adds the slope to the value and the
curvature to the slope; every `length` days half a byte changes the curvature. `curves` holds one
year and steps by days; `years` holds many and steps by quarters of a day, because the calendar
falls a quarter of a day behind the Sun each year until a leap day.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sunsched.table.wanted import Minutes

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


def quarters_ahead(year: int) -> int:
    """Quarters of a day that the Sun is ahead of the calendar since the leap year before."""
    return -year & 3


def unpack(data: bytes, n_days: int) -> Minutes:
    """The minutes of both sides of a one-year table (2, n)."""
    return np.array([_side(data, side, n_days, ONE_YEAR, 0) for side in (0, 1)], np.int32)


def unpack_year(data: bytes, n_days: int, year: int) -> Minutes:
    """The minutes of both sides of one year of a many-year table (2, n)."""
    return np.array([_side(data, side, n_days, MANY_YEARS, quarters_ahead(year)) for side in (0, 1)], np.int32)


def _side(data: bytes, side: int, n_days: int, grain: Grain, quarters: int) -> list[int]:
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
