"""Results rounded where they leave the sums: the last bit of a routine is not seen any more."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sunsched.base.rounding import DIGITS, PRINTED_DIGITS, printed_values, rounded, to_41_bits

REAL = st.floats(-1e12, 1e12, allow_nan=False)


# by hand
@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (0.1 + 0.2 - 0.3, 0.0),
        (2.4999999999999996, 2.5),
        (1.7753199726867308, 1.77531997),
        (123456.7890123, 123456.789),
        (-1e-20, 0.0),
        (1e20, 1e20),
    ],
)
def test_by_hand(value: float, expected: float) -> None:
    assert rounded(value) == expected
    assert math.copysign(1.0, rounded(-1e-20)) == 1.0


def test_without_end() -> None:
    assert rounded(math.inf) == math.inf
    assert math.isnan(rounded(math.nan))


@given(REAL)
def test_rounded_twice_is_rounded_once_and_near(value: float) -> None:
    once = rounded(value)
    assert rounded(once) == once
    assert abs(once - value) <= 0.51 * max(10.0**-DIGITS, abs(value) * 10.0 ** (1 - DIGITS))


@given(REAL, REAL)
def test_order_stays(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert rounded(low) <= rounded(high)


def test_plain_values_keep_everything_but_digits() -> None:
    values = {"a": [1.23456789012, (2, True, None, "x 1.23456789012")], "b": {"c": np.float64(1 / 3)}}
    assert printed_values(values) == {"a": [1.234568, (2, True, None, "x 1.23456789012")], "b": {"c": 0.3333333}}
    assert type(printed_values(values)["b"]["c"]) is float
    assert rounded(1 / 3, PRINTED_DIGITS) == 0.3333333


@given(st.integers(-(2**40), 2**40))
def test_a_whole_number_or_the_next_double_is_that_number(whole: int) -> None:
    around = [np.nextafter(float(whole), -np.inf), float(whole), np.nextafter(float(whole), np.inf)]
    expected = [float(whole)] * 3 if whole else around
    assert to_41_bits(around).tolist() == expected


@given(st.floats(1e-300, 1e299))
def test_41_bits_are_near_and_stay(value: float) -> None:
    once = to_41_bits([value, -value])
    assert np.all(np.abs(once - [value, -value]) <= 2.0**-41 * value)
    assert to_41_bits(once).tolist() == once.tolist()
    assert all(np.frexp(once)[0] * 2.0**41 % 1.0 == 0.0)


def test_41_bits_of_what_is_no_number_to_round() -> None:
    odd = to_41_bits([np.inf, -np.inf, 0.0, np.nan])
    assert odd[:3].tolist() == [np.inf, -np.inf, 0.0] and np.isnan(odd[3])
