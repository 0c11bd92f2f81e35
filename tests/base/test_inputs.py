"""Numbers of JSON that are short enough to be taken at once, and others, follow the rules of `whole` and `decimal`."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sunsched.base import inputs

NUMBERS = st.one_of(
    st.integers(), st.floats(), st.from_regex(r"\A-?(0|[1-9][0-9]{0,22})(\.[0-9]{1,22})?([eE][+-]?[0-9]{1,4})?\Z")
)


@given(NUMBERS)
def test_a_number_of_json_is_that_of_its_text(number: int | float | str) -> None:
    text = str(number).replace("nan", "NaN").replace("inf", "Infinity")
    limit = 10**inputs.MOST_DIGITS
    wanted: float | None = inputs.whole(text, -limit, limit)
    if wanted is None:
        wanted = inputs.decimal(text) if set(text) & set(".eEN") else None
    if wanted is None:
        with pytest.raises(ValueError):
            inputs.json_of(text)
    else:
        (found,) = inputs.json_of(f"[{text}]".encode())
        assert (found, type(found)) == (wanted, type(wanted))


@pytest.mark.parametrize("number", ["1" * 19, "0." + "1" * 19, "1e400", "-1e400", "NaN", "Infinity", "-Infinity"])
def test_endless_numbers_are_refused(number: str) -> None:
    with pytest.raises(ValueError):
        inputs.json_of(f"[{number}]")
    with pytest.raises(ValueError):
        inputs.json_of(f"[{number}]".encode("utf-16"))
