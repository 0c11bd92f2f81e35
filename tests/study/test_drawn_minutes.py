"""The numbers that the minutes walk by: a table of normal numbers against the normal distribution, and their draws."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from sunsched.study.stage import Stage
from sunsched.study.weather import PARTS_OF_NORMAL, Light, drawn_minutes
from tests.study.draws_proof import Pairs, exact_minutes, figures
from tests.support import study_sites as sites

N_MIN, N_COLUMNS = 200, 2500
FOUR_ERRORS = 4.0  # one draw in 16,000 lies beyond by chance; the seeds are fixed


class Words:
    """A generator that gives the words it was made with, in a processor's order of bytes."""

    def __init__(self, parts: list[int], order: str = "=") -> None:
        words = [
            sum(part << 16 * place for place, part in enumerate(parts[n : n + 4])) for n in range(0, len(parts), 4)
        ]
        self.words: NDArray[np.uint64] = np.array(words, dtype=np.uint64).astype(order + "u8")

    def integers(self, _low: int, _high: int, size: int, dtype: type) -> NDArray[np.uint64]:
        """The first words; `dtype` is the one that they are of."""
        assert dtype is np.uint64 and size <= len(self.words)
        return self.words[:size]


def of_parts(parts: list[int], order: str = "=") -> Light:
    row: Light = drawn_minutes(1, len(parts), Words(parts, order))[0]  # type: ignore[arg-type]
    return row


def table() -> np.ndarray:
    """Every value that can be drawn, in float64."""
    return of_parts(list(range(PARTS_OF_NORMAL))).astype(np.float64)


def drawn(seed: int = 7) -> np.ndarray:
    return drawn_minutes(N_MIN, N_COLUMNS, np.random.default_rng(seed)).astype(np.float64)


def test_the_values_have_the_moments_of_a_normal_distribution_as_far_as_they_say() -> None:
    values = table()
    assert len(np.unique(values)) == PARTS_OF_NORMAL
    assert (np.diff(values) > 0).all() and np.array_equal(values, -values[::-1])
    assert values.std() == pytest.approx(1, abs=1e-7)
    # A normal distribution's fourth and sixth moments are 3 and 15 (1 x 3 x 5: any textbook); the docstring's figures.
    assert (values**4).mean() == pytest.approx(2.9992, abs=1e-4) == pytest.approx(3, rel=3e-4)
    assert (values**6).mean() == pytest.approx(14.972, abs=1e-3) == pytest.approx(15, rel=2e-3)


def test_the_values_have_the_tails_of_a_normal_distribution_up_to_their_largest() -> None:
    values = table()
    # The C library's complementary error function: what share of a normal distribution lies beyond a value, and below.
    for beyond, rel in ((1, 0.001), (2, 0.001), (3, 0.01), (4, 0.05)):
        assert (np.abs(values) > beyond).mean() == pytest.approx(math.erfc(beyond / math.sqrt(2)), rel=rel)
    below = np.array([math.erfc(-value / math.sqrt(2)) / 2 for value in values])
    at = np.arange(PARTS_OF_NORMAL + 1) / PARTS_OF_NORMAL
    assert max(np.abs(below - at[:-1]).max(), np.abs(below - at[1:]).max()) < 1.1e-5
    assert values.max() == pytest.approx(4.325, abs=1e-4)
    assert math.erfc(values.max() / math.sqrt(2)) == pytest.approx(1 / 65_500, rel=0.01)


@given(st.lists(st.integers(0, PARTS_OF_NORMAL - 1), min_size=1, max_size=9))
def test_a_word_names_four_values_lowest_bits_first_on_every_processor(parts: list[int]) -> None:
    wanted = [float(of_parts([part])[0]) for part in parts]
    assert of_parts(parts, "<").tolist() == of_parts(parts, ">").tolist() == wanted


@given(st.integers(0, 9), st.integers(0, 9), st.integers(0, 2**32 - 1))
def test_any_number_of_minutes_and_columns_is_the_beginning_of_more(n_min: int, n_columns: int, seed: int) -> None:
    found = drawn_minutes(n_min, n_columns, np.random.default_rng(seed))
    more = drawn_minutes(1, 100, np.random.default_rng(seed))[0]
    assert found.shape == (n_min, n_columns) and found.dtype == np.float32
    assert found.ravel().tolist() == more[: n_min * n_columns].tolist()


def test_drawn_numbers_have_the_mean_and_the_spread_of_their_table() -> None:
    values, n = drawn(), N_MIN * N_COLUMNS
    assert abs(values.mean()) < FOUR_ERRORS / math.sqrt(n)
    # A variance of n normal numbers is known to sqrt(2 / n), their fourth moment to sqrt(96 / n).
    assert abs(values.var() - 1) < FOUR_ERRORS * math.sqrt(2 / n)
    assert abs((values**4).mean() - 3) < FOUR_ERRORS * math.sqrt(96 / n)


@pytest.mark.parametrize("apart", [1, 2, 3, 4, 5, 8, N_COLUMNS, 2 * N_COLUMNS])
def test_a_number_says_nothing_of_those_drawn_after_it(apart: int) -> None:
    # Four come from one word: 1 to 3 apart share it, N_COLUMNS apart are neighbouring minutes of one twilight.
    values = drawn().ravel()
    one, other = values[:-apart], values[apart:]
    n = len(one)
    for of in (np.asarray, np.abs, np.square):
        assert abs(np.corrcoef(of(one), of(other))[0, 1]) < FOUR_ERRORS / math.sqrt(n)
    # Sixteenths of either against each other: chi-square of 255 degrees, whose spread is sqrt(2 x 255).
    cells = np.bincount(sixteenth(one) * 16 + sixteenth(other), minlength=256)
    chi_square = ((cells - n / 256) ** 2 / (n / 256)).sum()
    assert abs(chi_square - 255) < FOUR_ERRORS * math.sqrt(2 * 255)


def sixteenth(values: np.ndarray) -> np.ndarray:
    """Which equally likely sixteenth each value lies in."""
    return np.searchsorted(table()[4095:-1:4096], values, side="left").astype(np.int64)


def test_blocks_and_seeds_draw_minutes_of_their_own() -> None:
    one, other = drawn(7).ravel(), drawn(8).ravel()
    assert abs(np.corrcoef(one, other)[0, 1]) < FOUR_ERRORS / math.sqrt(len(one))


def test_weather_years_have_the_figures_of_exact_normal_numbers() -> None:
    # A sample of `python -m tests.study.draws_proof`.
    on = stage()
    exact = figures(on, 2, exact_minutes, 1)
    off = np.abs(Pairs(exact, figures(on, 2, drawn_minutes, 1)).errors_off)
    assert off.max() < FOUR_ERRORS and (off > 2).mean() < 0.2
    # So few years see a spread that is a quarter wider; the proof's 16,000 know it fifty times as well.
    off = np.abs(Pairs(exact, figures(on, 2, a_quarter_wider, 1)).errors_off)
    assert off.max() > FOUR_ERRORS and (off > 2).mean() > 0.2


def a_quarter_wider(n_min: int, n_columns: int, rng: np.random.Generator) -> Light:
    return np.float32(1.25) * drawn_minutes(n_min, n_columns, rng)


def stage() -> Stage:
    c = sites.configuration()
    found = sites.scene(c)
    return sites.stage(c, sites.settings(found), found)
