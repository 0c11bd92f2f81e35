"""A door that closes at nautical dusk was said to be open after it on every day: by the seconds of rounding up."""

from __future__ import annotations

from sunsched.config.toml_file import validated
from sunsched.job.pipeline import plan_of

SITE = {"latitude_deg": 50.1, "longitude_deg": 5.2, "zone": "Europe/Brussels"}


def late_warnings(later_min: int) -> list[str]:
    """The warnings of closing after nautical dusk."""
    evening = {"twilight": "nautical", "later_min": later_min}
    plan = plan_of(validated({"site": SITE, "evening": evening, "warn": {"least_shut_min": 0}}, "x"), 2027)
    return [w.text for w in plan.warnings if "nautical dusk" in w.text]


def test_rounding_up_is_not_lateness_and_a_minute_more_is() -> None:
    assert late_warnings(0) == []
    assert late_warnings(1) == [
        "still open after nautical dusk on 365 days (2027-01-01 to 2027-12-31): the fox may be about"
    ]
