"""The comparison's sentence says what its table says; the whole proof is `python -m tests.study.answer_proof`."""

from __future__ import annotations

import copy
import re
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sunsched.report.text.comparison_answer import comparison_answer, near_rows, own_row
from tests.study.answer_proof import faults

FIGURES = st.one_of(st.just(0.0), st.floats(0.001, 2000.0).map(lambda x: round(x, 6)))


def row(strategy: str, setting: str, yours: bool, birds: list[float], minutes: list[float]) -> dict[str, Any]:
    """A setting as `compare --json` prints it, with the figures that the answer reads."""
    cases = [
        {
            "follow_light": k / 2,
            "birds_out": {"mean": b, "error": 0.0},
            "open_after_dark_min": {"mean": m, "error": 0.0},
        }
        for k, (b, m) in enumerate(zip(birds, minutes, strict=True))
    ]
    return {"strategy": strategy, "setting": setting, "yours": yours, "by_follow_light": cases}


@st.composite
def comparisons(draw: st.DrawFn) -> dict[str, Any]:
    """A comparison's values of any figures, with the settings that are as good worked out by hand."""
    rows = []
    for k in range(draw(st.integers(1, 30))):
        three = st.lists(FIGURES, min_size=3, max_size=3)
        strategy = ("light", "clock", "both")[k % 3]
        rows.append(row(strategy, f"{k} lux", k == 0, draw(three), draw(three)))
    own = rows[0]["by_follow_light"]
    better = []
    for one in rows[1:]:
        pairs = list(zip(one["by_follow_light"], own, strict=True))
        gaps = {f: [a[f]["mean"] - b[f]["mean"] for a, b in pairs] for f in ("birds_out", "open_after_dark_min")}
        every = [gap for of_it in gaps.values() for gap in of_it]
        if all(gap <= 0 for gap in every) and any(gap < 0 for gap in every):
            listed = {f: [{"difference": gap, "error": 0.0} for gap in of_it] for f, of_it in gaps.items()}
            better.append(
                {"strategy": one["strategy"], "setting": one["setting"], "told": draw(st.booleans()), **listed}
            )
    years = draw(st.sampled_from([2, 16, 200, 1600]))
    return {"birds": 6, "weather_years": years, "late_hour": "23:30", "settings": rows, "at_least_as_good": better}


@given(comparisons())
@settings(max_examples=60)
def test_the_sentence_says_what_the_table_says(found: dict[str, Any]) -> None:
    assert faults(found) == []
    assert own_row(found) in near_rows(found)


def test_a_sentence_that_says_another_thing_is_found() -> None:
    own = row("both", "5 lux", True, [4.0, 3.0, 2.0], [16.0, 18.0, 21.0])
    other = row("clock", "4 deg", False, [4.0, 3.0, 2.0], [15.0, 18.0, 21.0])
    found = {"birds": 6, "weather_years": 200, "settings": [own, other], "at_least_as_good": []}
    # The other is as good in birds and better in minutes, and the list of those was left empty.
    assert faults(found) == ["none is named, yet ['clock alone, 4 deg'] are as good"]
    gaps = {
        f: [{"difference": d, "error": 0.0} for d in ds]
        for f, ds in (("birds_out", (0.0, 0.0, 0.0)), ("open_after_dark_min", (-1.0, 0.0, 0.0)))
    }
    named = {**found, "at_least_as_good": [{"strategy": "clock", "setting": "4 deg", "told": True, **gaps}]}
    assert faults(named) == []
    assert (
        comparison_answer(named).answer
        == "Your door shuts out 2.0 to 4.0 birds a year; open 16 to 21 min after the last."
    )
    assert comparison_answer(named).next_step == "Try clock alone, 4 deg, fewer birds out, fewer minutes."


# Hanley & Lippman-Hand 1983, JAMA 249, 1743: none in n gives at most 3/n with 95 %.
@pytest.mark.parametrize(("years", "bound"), [(200, "0.015"), (16, "0.19"), (7, "0.43"), (2, "1.5")])
def test_no_bird_at_all_has_its_bound(years: int, bound: str) -> None:
    own = row("both", "5 lux", True, [0.0, 0.0], [16.0, 18.0])
    found: dict[str, Any] = {"birds": 6, "weather_years": years, "settings": [own], "at_least_as_good": []}
    answer = comparison_answer(found)
    assert answer.answer.startswith(f"Your door shuts out under {bound} birds a year; ")
    assert not re.search(r"\b0(\.0)? birds", " ".join(answer.lines()))
    assert faults(found) == []
    some = copy.deepcopy(found)
    some["settings"][0]["by_follow_light"][1]["birds_out"]["mean"] = 3.0
    assert comparison_answer(some).answer.startswith("Your door shuts out 0 to 3.0 birds a year")
