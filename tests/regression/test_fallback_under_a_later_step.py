"""Days without twilight went unmentioned when minutes later, a weekday or a limit came after the fallback.

The warning counted days whose last reason was the fallback; every later step hid them.
"""

from __future__ import annotations

from sunsched.config.toml_file import validated
from sunsched.job.pipeline import plan_of
from sunsched.plan.reasons import Reason
from sunsched.plan.year import YearPlan


def planned(later_min: int, kept_in: list[dict[str, str]] | None = None) -> YearPlan:
    """A year at 61.2 N, whose civil twilight goes on all night around midsummer."""
    side = {"fallback_lux": 60.0, "no_twilight": ["light"], "later_min": later_min}
    table = {
        "site": {"latitude_deg": 61.2, "longitude_deg": 24.4, "zone": "Europe/Helsinki"},
        "warn": {"least_shut_min": 0},
        "morning": side,
        "evening": side,
        "kept_in": kept_in or [],
    }
    return plan_of(validated(table, "x"), 2027)


def fallback_warnings(plan: YearPlan) -> list[str]:
    """The warnings of days without twilight."""
    return [w.text for w in plan.warnings if w.text.startswith("no twilight")]


def test_minutes_later_do_not_hide_the_days_without_twilight() -> None:
    plain, later = planned(0), planned(5)
    assert len(fallback_warnings(plain)) == 2
    assert "the clear sky's light decides instead" in fallback_warnings(plain)[0]
    assert fallback_warnings(later) == fallback_warnings(plain)
    assert not (later.open_reason == Reason.LIGHT).any()


def test_days_kept_in_are_not_among_them() -> None:
    assert fallback_warnings(planned(0, [{"from": "05-01", "to": "08-15"}])) == []
