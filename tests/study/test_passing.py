"""When light passes a level, and what is worked out from it, against the plain definition: looking at every minute."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from sunsched.study.passing import (
    GROUP_MIN,
    Running,
    confirmed,
    first_above,
    first_below,
    last_reaching,
    proving_stretch,
)
from sunsched.study.weather import QUICK_MEMORY_MIN, SLOW_MEMORY_MIN, drawn_minutes, minute_wander


def some_minutes(seed: int, n_min: int) -> list[float]:
    """Light that wavers about a slope either way, in coarse steps, so that levels are met to the bit."""
    rng = np.random.default_rng(seed)
    slope = rng.choice([-1.0, 0.0, 1.0]) * np.linspace(0.0, 4.0, n_min)
    return [float(v) for v in np.round(2 * (slope + rng.normal(0.0, 1.0, n_min))) / 2]


minutes = st.builds(some_minutes, st.integers(0, 2**32), st.integers(1, 3 * GROUP_MIN + 1))
levels = st.sampled_from([float(v) for v in np.arange(-5.0, 5.5, 0.5)])


def columns(*values: list[float]) -> NDArray[np.float32]:
    return np.array(values, dtype=np.float32).T


@given(minutes, levels, st.integers(0, 6))
def test_passing_by_halving_is_passing_by_looking(values: list[float], level: float, wait_min: int) -> None:
    light = columns(values, values[::-1])
    at = np.array([[level, level], [values[-1], values[0]]], dtype=np.float32)
    for column, own in enumerate((values, values[::-1])):
        for row in range(2):
            limit = float(at[row, column])
            below = [n for n, v in enumerate(own) if v < limit]
            above = [n for n, v in enumerate(own) if v > limit]
            reaching = [n for n, v in enumerate(own) if v >= limit]
            assert first_below(light, at)[row, column] == (below[0] if below else len(own))
            assert first_above(light, at)[row, column] == (above[0] if above else len(own))
            assert last_reaching(light, at)[row, column] == (reaching[-1] + 1 if reaching else 0)
    for brightest, worst in ((True, max), (False, min)):
        held = [worst(values[max(0, n - wait_min) : n + 1]) for n in range(len(values))]
        assert confirmed(light, wait_min, brightest)[:, 0].tolist() == pytest.approx(held)


@given(minutes)
def test_a_running_extreme_is_that_of_all_minutes_before(values: list[float]) -> None:
    light, every = columns(values, values[::-1]), np.arange(len(values))
    for worst in (np.minimum, np.maximum):
        plain = worst.accumulate(light, axis=0)
        for column in range(2):
            found = Running.of(light, worst).at(every, np.full(len(values), column))
            assert found.tolist() == plain[:, column].tolist()
        backwards = Running.of(light[::-1], worst).at(every, np.zeros(len(values), dtype=np.int64))
        assert backwards.tolist() == worst.accumulate(light[::-1, 0]).tolist()


@given(minutes, levels, st.integers(0, 6))
def test_light_was_dimmed_for_some_minutes_only_so_long_after_the_last_that_was_not(
    values: list[float], level: float, wait_min: int
) -> None:
    light, at = columns(values), np.array([level], dtype=np.float32)
    last = int(last_reaching(light, at)[0])
    held = int(last_reaching(confirmed(light, wait_min, True), at)[0])
    assert held == (min(last + wait_min, len(values)) if last else 0)


@given(minutes, levels, st.integers(1, 9))
def test_a_stretch_proves_at_a_level_what_the_best_of_all_stretches_proves(
    values: list[float], level: float, n_min: int
) -> None:
    values = [*values, *values[:1] * n_min]  # long enough to hold one
    light, every, at = columns(values, values[::-1]), np.array([1, 0]), np.full(2, level, dtype=np.float32)
    stretches = [values[first : first + n_min] for first in range(len(values) - n_min + 1)]
    deepest, brightest = min(max(one) for one in stretches), max(min(one) for one in stretches)
    for above in (0.0, 0.5):  # a level proved at is proved at by any threshold beyond it
        assert ((proving_stretch(light, n_min, every, at, True) < level + above) == (deepest < level + above)).all()
        assert ((proving_stretch(light, n_min, every, at, False) > level - above) == (brightest > level - above)).all()


@pytest.mark.parametrize("n_min", [0, 1, 2, 3, 50])
def test_minutes_wander_as_the_plain_autoregression_does(n_min: int) -> None:
    spread = 0.2
    found = minute_wander(n_min, 7, np.random.default_rng(3), spread)
    slow, quick = np.exp(-1 / SLOW_MEMORY_MIN), np.exp(-1 / QUICK_MEMORY_MIN)
    first, second = slow + quick, -slow * quick
    near = first / (1 - second)
    fresh = drawn_minutes(n_min, 7, np.random.default_rng(3)).astype(np.float64)
    plain = np.zeros((n_min, 7))
    for minute in range(n_min):
        if minute == 0:
            plain[0] = spread * fresh[0]
        elif minute == 1:
            plain[1] = near * plain[0] + spread * np.sqrt(1 - near**2) * fresh[1]
        else:
            own = spread * np.sqrt((1 + second) * ((1 - second) ** 2 - first**2) / (1 - second))
            plain[minute] = first * plain[minute - 1] + second * plain[minute - 2] + own * fresh[minute]
    assert found.shape == (n_min, 7)
    np.testing.assert_allclose(found, plain, atol=2e-6)
