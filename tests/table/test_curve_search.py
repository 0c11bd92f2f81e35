"""The search for curves, held against walking every state by every change and sorting all of them."""

from __future__ import annotations

from unittest.mock import patch

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from sunsched.table.codecs import curves
from sunsched.table.codecs.curves import MANY_YEARS, ONE_YEAR, Floats, Grain


def side_of(seed: int, n: int, grain: Grain, width: int) -> curves._Side:
    """A guide that turns slowly, with bounds around it; a few steps are free."""
    chance = np.random.default_rng(seed)
    steps = np.arange(n)
    value = 400_000 + chance.uniform(-300, 300) * steps + chance.uniform(-9, 9) * steps**2
    slope, curvature = np.gradient(value), np.gradient(np.gradient(value))
    middle = np.rint(value).astype(np.int32)
    free = chance.random(n) < 0.1
    top = (1 << 23) - 1
    least = np.where(free, -top, middle - width).astype(np.int32)
    greatest = np.where(free, top, middle + width).astype(np.int32)
    return curves._Side(least, greatest, value, slope, curvature)


def states_near(side: curves._Side, seed: int, n: int) -> Floats:
    chance = np.random.default_rng(seed)
    near = np.array([side.value[0], side.slope[0], side.curvature[0]])[:, None]
    states: Floats = np.rint(near + chance.normal(0, 1, (3, n)) * np.array([[200.0], [40.0], [8.0]]))
    states[2] = np.clip(states[2], -128, 127)
    return states


def walked(states: Floats, side: curves._Side, span: int, step: int) -> list[tuple[int, int, tuple[int, int, int]]]:
    """Parent, change and end of every way, one step after the other."""
    found = []
    for parent, (value, slope, curvature) in enumerate(states.T.astype(int).tolist()):
        for change in range(-8, 8):
            turned = curvature + change * step
            at, pace, inside = value, slope, -128 <= turned <= 127
            for ahead in range(1, span + 1):
                at, pace = at + pace, pace + turned
                inside = inside and bool(side.least[ahead] <= at <= side.greatest[ahead])
            if inside and -32768 <= pace <= 32767:
                found.append((parent, change, (at, pace, turned)))
    return found


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 999), st.integers(1, 40), st.integers(0, 7), st.sampled_from([0, 40, 256, 9000, 4_000_000]))
def test_intervals_of_changes_are_the_ways_that_a_walk_finds(seed: int, span: int, power: int, width: int) -> None:
    side = side_of(seed, span + 2, ONE_YEAR, width)
    states = states_near(side, seed, 60)
    # Far from the guide too, where the limits of slope and curvature are what tells.
    states[1, ::7], states[2, ::3] = np.arange(9) * 8191 - 32768, np.arange(20) * 13 - 128
    with patch.object(curves, "_AT_ONCE", 16):
        ways = curves._ways(states, side, 0, curves._segment(span, 1 << power))
    ends, parent, change = ways.some(np.arange(len(ways.parent)))
    rows = zip(parent.tolist(), change.tolist(), map(tuple, ends.T.tolist()), strict=True)
    assert list(rows) == walked(states, side, span, 1 << power)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 999), st.integers(3, 9), st.sampled_from([ONE_YEAR, MANY_YEARS]), st.integers(1, 4000))
def test_the_nearest_ways_are_the_first_of_all_sorted(seed: int, span: int, grain: Grain, kept: int) -> None:
    side = side_of(seed, span + 2, grain, 2000)
    # Equal states beside each other: their distances differ by the scatter alone.
    states = np.repeat(states_near(side, seed, 100), 4, axis=1)
    ways = curves._ways(states, side, 0, curves._segment(span, 4))
    (value, slope, curvature), _, _ = ways.some(np.arange(len(ways.parent)))
    unit = 1 << grain.shift
    far = ((value - side.value[span]) / (0.5 * unit)) ** 2
    far += ((slope - side.slope[span]) * grain.steps / (0.1 * unit)) ** 2
    far += ((curvature - side.curvature[span]) * grain.steps**2 / (0.02 * unit + 1)) ** 2
    far += 2 * curves._scatter(len(far), span)
    wanted = np.arange(len(far)) if len(far) <= kept else np.argsort(far, kind="stable")[:kept]
    assert curves._nearest(ways, side, span, kept, grain).tolist() == wanted.tolist()


@settings(max_examples=30, deadline=None)
@given(st.lists(st.integers(0, 400), min_size=1, max_size=300), st.sampled_from([1.0, 1e-12, 3e7]))
def test_numbers_equal_or_close_stand_as_a_stable_sort_has_them(whole: list[int], scale: float) -> None:
    numbers = 1.0 + np.array(whole) * scale
    found = curves._ascending(numbers, float(numbers.max()))
    assert found.tolist() == np.argsort(numbers, kind="stable").tolist()
