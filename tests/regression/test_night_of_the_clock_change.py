"""On a chip that keeps civil time the night in which clocks go forward was taken for an hour longer than it is."""

from __future__ import annotations

from typing import Any

import pytest

from sunsched.base.errors import ConfigError
from sunsched.config.toml_file import validated
from sunsched.job.pipeline import plan_of


def table(least_shut_min: int, keeps: str) -> dict[str, Any]:
    """London, closing at 23:30 and opening at 02:15 on every day of the year."""
    return {
        "site": {"latitude_deg": 51.5, "longitude_deg": -0.13, "zone": "Europe/London"},
        "chip": {"keeps": keeps},
        "morning": {"not_before": "02:15", "not_after": "02:15"},
        "evening": {"not_before": "23:30", "not_after": "23:30"},
        "warn": {"least_shut_min": least_shut_min},
    }


# IANA tz, rule EU: in 2026 clocks go from 01:00 to 02:00 on 29 March. 23:30 to 02:15 is 165 min on the clock, 105 then.
@pytest.mark.parametrize("keeps", ["civil", "standard"])
def test_the_night_is_counted_in_minutes_that_pass(keeps: str) -> None:
    with pytest.raises(ConfigError, match="a night of 105 min on 2026-03-28; wanted nights of at least"):
        plan_of(validated(table(120, keeps), "x"), 2026)
    assert plan_of(validated(table(105, keeps), "x"), 2026).n_days == 365
