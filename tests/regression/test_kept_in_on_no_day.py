"""A kept-in range of every year that touches no day of this one (29 February alone) was passed over in silence."""

from __future__ import annotations

from sunsched.config.toml_file import validated
from sunsched.job.pipeline import plan_of

SITE = {"latitude_deg": 52.1, "longitude_deg": 5.2, "zone": "Europe/Amsterdam"}


def touching_nothing(year: int, first: str, last: str) -> list[str]:
    """The warnings of ranges that touch no day."""
    table = {"site": SITE, "kept_in": [{"from": first, "to": last}]}
    return [w.text for w in plan_of(validated(table, "x"), year).warnings if "touches no day" in w.text]


# Gregorian calendar: 2028 is a leap year, 2027 is not.
def test_29_february_alone() -> None:
    assert touching_nothing(2027, "02-29", "02-29") == ["kept_in 02-29 to 02-29 touches no day of 2027"]
    assert touching_nothing(2028, "02-29", "02-29") == []


def test_ranges_that_reach_into_the_year_from_either_end() -> None:
    assert touching_nothing(2028, "2027-12-20", "2028-01-01") == []
    assert touching_nothing(2027, "2027-12-31", "2028-01-10") == []
    assert touching_nothing(2027, "2028-01-01", "2028-01-10") == [
        "kept_in 2028-01-01 to 2028-01-10 touches no day of 2027"
    ]
