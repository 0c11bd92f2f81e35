"""`day` ended in a traceback for the first and the last years a date can have, and spoke of other dates for others."""

from __future__ import annotations

import pytest

from sunsched.base.errors import UsageError
from sunsched.cli.options import parsed_date


@pytest.mark.parametrize("date", ["0001-01-01", "1989-12-31", "2053-01-01", "9999-12-31"])
def test_the_date_and_the_years_are_named(date: str) -> None:
    with pytest.raises(UsageError) as caught:
        parsed_date(date)
    assert str(caught.value) == f"the date is '{date}'; wanted one from 1990-01-01 to 2052-12-31"
    assert caught.value.exit_code == 2


def test_the_first_and_the_last_day_are_taken() -> None:
    assert parsed_date("1990-01-01").year == 1990
    assert parsed_date("2052-12-31").year == 2052
