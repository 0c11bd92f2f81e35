"""`day` showed no step at all on a day shut for want of twilight, and none for a kept-in day that was shut already.

A step was left out when the time before it and after it was none; a day that starts with no moment never had one.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from sunsched.config.toml_file import validated
from sunsched.job.one_day import day_steps

NORTH = {"latitude_deg": 69.1, "longitude_deg": 24.4, "zone": "Europe/Oslo"}


def steps(date: str, **sections: Any) -> tuple[list[tuple[str, str]], dict[str, Any]]:
    """Side and step of each step of a day, and the whole answer."""
    table = {"site": NORTH, "warn": {"least_shut_min": 0}, **sections}
    found = day_steps(validated(table, "x"), dt.date.fromisoformat(date))
    return [(step["side"], step["step"]) for step in found["steps"]], found


SHUT = {"no_twilight": ["shut"]}


# 69.1 N has no sunrise in December: noon altitude 90 - 69.1 - 23.4 = -2.5 deg.
def test_a_side_without_its_moment_says_shut() -> None:
    rules = {"morning": {"twilight": "sunrise", **SHUT}, "evening": SHUT}
    found, day = steps("2027-12-21", **rules)
    assert found == [("morning", "shut"), ("evening", "twilight"), ("evening", "shut")]
    assert day["steps"][0]["detail"] == "no twilight: the door stays down"
    assert day["steps"][2]["detail"] == "no twilight on the day's other side: the door stays down"
    assert (day["open"]["reason"], day["close"]["reason"]) == ("shut", "shut")


def test_kept_in_is_told_on_a_day_shut() -> None:
    rules = {"morning": {"twilight": "sunrise", **SHUT}, "evening": {"twilight": "sunset", **SHUT}}
    kept = [{"from": "12-20", "to": "12-24", "why": "one"}, {"from": "12-21", "to": "12-22", "why": "two"}]
    found, day = steps("2027-12-21", kept_in=kept, **rules)
    assert found == [("morning", "shut"), ("evening", "shut"), ("morning", "kept_in"), ("evening", "kept_in")]
    assert [step["detail"] for step in day["steps"][2:]] == ["one", "one"]
    assert day["open"]["reason"] == "kept_in"
