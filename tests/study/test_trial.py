"""The short way of judging twilights against the rules stepped minute by minute, and rules on light made by hand."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from sunsched.study.passing import confirmed, lightest_to_come
from sunsched.study.trial import (
    AFTER_NOON_MIN,
    FALL_MIN,
    QUICK_MIN,
    RAMP_LOG,
    Levels,
    Moves,
    Why,
    Window,
    dawn_in_window,
    dawns_by_light,
    dusk_in_window,
    dusks_by_light,
    falling_from,
    lit_again,
    steep_falls,
    stepped_dusk,
)

N_MIN, N = 420, 60


def wild_light(seed: int) -> NDArray[np.float32]:
    """Dusks that fall, waver, jump into the dark and back, or lie in the dark from the start."""
    rng = np.random.default_rng(seed)
    minute = np.arange(N_MIN)[:, None]
    fall = 4.0 - rng.uniform(0.01, 0.05, N) * np.maximum(minute - rng.uniform(0, 250, N), 0)
    light = fall + 0.3 * np.cumsum(rng.standard_normal((N_MIN, N)), axis=0) / 10
    begins, lasts = rng.integers(0, N_MIN, N), rng.integers(1, 250, N)
    hidden = (minute >= begins) & (minute < begins + lasts) & (rng.random(N) < 0.5)
    return (light - 3.5 * hidden).astype(np.float32)


def levels(n: int, wait_min: int = 1) -> Levels:
    dark = np.full(n, 0.7, dtype=np.float32)
    return Levels(dark, dark + np.float32(0.477), dark + np.float32(1.079), wait_min)


def window(seed: int, from_min: int, until_min: int) -> Window:
    rng = np.random.default_rng(seed + 10_000)
    planned = rng.integers(-from_min, N_MIN - until_min - 1, N)
    return Window(planned + from_min, planned, planned + until_min, rng.random(N) < 0.9)


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 10_000), st.integers(0, 4), st.integers(-60, 0), st.integers(0, 60))
def test_the_short_way_is_the_long_way_in_a_window(seed: int, wait_min: int, from_min: int, until_min: int) -> None:
    light, own, acts = wild_light(seed), levels(N, wait_min), window(seed, from_min, until_min)
    short = dusk_in_window(light, confirmed(light, wait_min, True), steep_falls(light, 0.477), own, acts)
    long = stepped_dusk(light, own, acts, acts.first)
    # the first minutes have no minutes before them: a dark that stands at the very start is not yet confirmed there
    fair = ~((long.place <= wait_min) | (short.place <= wait_min))
    assert np.array_equal(short.place[fair], long.place[fair])
    assert np.array_equal(short.why[fair], long.why[fair])


@settings(max_examples=100, deadline=None)
@given(st.integers(0, 10_000), st.integers(0, 4))
def test_the_short_way_is_the_long_way_without_a_clock(seed: int, wait_min: int) -> None:
    light, own = wild_light(seed), levels(N, wait_min)
    first = np.full(N, 5)
    (short,) = dusks_by_light(
        light, falling_from(confirmed(light, wait_min, True), first), steep_falls(light, 0.477), [own], first
    )
    long = stepped_dusk(light, own, None, first)
    assert np.array_equal(short.place, long.place)
    assert np.array_equal(short.why, long.why)


def column(*values: float) -> NDArray[np.float32]:
    return np.array(values, dtype=np.float32)[:, None]


def one_window(first: int, planned: int, last: int, usable: bool = True) -> Window:
    return Window(np.array([first]), np.array([planned]), np.array([last]), np.array([usable]))


def closed(light: NDArray[np.float32], acts: Window, wait_min: int = 1) -> tuple[int, Why]:
    moves = dusk_in_window(
        light, confirmed(light, wait_min, True), steep_falls(light, 0.477), levels(1, wait_min), acts
    )
    return int(moves.place[0]), Why(int(moves.why[0]))


def dusk(dark_from: int, n: int = 60) -> NDArray[np.float32]:
    """Falls by 0.05 a minute to the dark level at minute `dark_from`."""
    return (0.7 - 0.05 * (np.arange(n) - dark_from + 0.5)).astype(np.float32)[:, None]


# Rule E3: dark for 100 s in the window; light is held for a minute, so it is the minute after the first dark one.
def test_dark_within_the_window_shuts_after_its_confirmation() -> None:
    assert closed(dusk(30), one_window(20, 30, 45)) == (31, Why.LIGHT)
    assert closed(dusk(30), one_window(20, 30, 45), wait_min=4) == (34, Why.LIGHT)


# The first confirmed dark at or after the window opens, not the first of all: simulated before as what a storm that
# cleared demands.
def test_a_dark_that_passed_before_the_window_is_forgotten() -> None:
    light = dusk(40)
    light[10:15] = 0.2  # a slow storm: not below the fall test's reach
    assert closed(light, one_window(20, 30, 45))[0] == 41


def test_a_dusk_before_the_window_shuts_at_its_opening() -> None:
    assert closed(dusk(10), one_window(20, 30, 45)) == (20, Why.LIGHT)


# Rule E5.
def test_no_dark_shuts_at_the_windows_end() -> None:
    assert closed(dusk(55), one_window(20, 30, 45)) == (45, Why.LIMIT)


# Rules C1 and E4: a wire that breaks is no dusk; the clock decides.
def test_a_sudden_dark_leaves_it_to_the_clock() -> None:
    light = dusk(55)
    light[22:] = -2.0
    assert closed(light, one_window(20, 30, 45)) == (30, Why.CLOCK)
    late = dusk(55)
    late[37:] = -2.0
    assert closed(late, one_window(20, 30, 45)) == (37, Why.CLOCK)


# Rules C2 and E4: dark for three hours is a covered cell.
def test_a_cell_dark_for_hours_leaves_it_to_the_clock() -> None:
    light = dusk(20, 300)
    assert closed(light, one_window(240, 250, 265)) == (250, Why.CLOCK)
    assert closed(light, one_window(100, 110, 125)) == (100, Why.LIGHT)


def test_an_unproven_cell_leaves_it_to_the_clock() -> None:
    assert closed(dusk(25), one_window(20, 30, 45, usable=False)) == (30, Why.CLOCK)


# Rule A1: without a clock a sudden dark is believed after an hour, a natural one after its confirmation.
def test_without_a_clock_a_sudden_dark_waits_an_hour() -> None:
    light = np.full((200, 1), 3.0, dtype=np.float32)
    light[50:] = -2.0
    first = np.array([0])
    (moves,) = dusks_by_light(
        light, falling_from(confirmed(light, 1, True), first), steep_falls(light, 0.477), [levels(1)], first
    )
    assert (int(moves.place[0]), int(moves.why[0])) == (50 + 60 - 1, Why.LIGHT)
    assert AFTER_NOON_MIN == 120


# Rules D2 to D4.
def test_mornings() -> None:
    light = -dusk(30) + np.float32(2 * 0.7 + 0.477)  # rises through the light level in minute 30
    settled = confirmed(light, 1, False)
    for acts, expected in (
        (one_window(20, 30, 45), (31, Why.LIGHT)),
        (one_window(35, 40, 50), (35, Why.LIGHT)),
        (one_window(5, 10, 20), (20, Why.LIMIT)),
        (one_window(20, 25, 45, usable=False), (25, Why.CLOCK)),
    ):
        moves = dawn_in_window(settled, levels(1), acts)
        assert (int(moves.place[0]), int(moves.why[0])) == expected
    (alone,) = dawns_by_light(settled, [levels(1)])
    assert int(alone.place[0]) == 31


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.integers(0, 4))
def test_light_after_the_closing_is_found_as_by_looking_at_every_minute(seed: int, wait_min: int) -> None:
    rng, own = np.random.default_rng(seed), levels(N, wait_min)
    light = rng.choice([0.5, 1.5], (N_MIN, N), p=[0.3, 0.7]).astype(np.float32)
    light[-rng.integers(1, N_MIN) :] = 0.5
    place = rng.integers(-1, N_MIN, N)
    found = lit_again(light, lightest_to_come(light), own, Moves(place, place))
    for column in range(N):
        lit = light[:, column] >= own.light_log[column]
        after = range(place[column] + wait_min, N_MIN) if place[column] >= 0 else ()
        assert found[column] == any(lit[max(n - wait_min, 0) : n + 1].all() for n in after)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from([0.05, 0.2, 0.4]), st.sampled_from([0.3, 0.477, 1.3]))
def test_a_steep_fall_is_found_as_by_looking_at_every_minute(seed: int, waver_log: float, ratio_log: float) -> None:
    rng = np.random.default_rng(seed)
    light = (rng.uniform(-0.2, 0.05, N) * np.arange(40)[:, None] + waver_log * rng.normal(size=(40, N))).astype(
        np.float32
    )
    light[20:, 0] -= np.float32(0.99)  # a step that is steep with what lies beside it, or not
    plain = [
        any(
            light[minute - back, column] - light[minute, column]
            > (min(ratio_log, RAMP_LOG) if back <= QUICK_MIN else RAMP_LOG)
            for minute in range(40)
            for back in range(1, min(FALL_MIN, minute) + 1)
        )
        for column in range(N)
    ]
    assert steep_falls(light, ratio_log).tolist() == plain
    assert not steep_falls(light[:1], ratio_log).any()
