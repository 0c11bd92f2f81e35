"""The sentences above a year's picture hold on every day that they name, and the picture's labels on theirs."""

from __future__ import annotations

import datetime as dt
import math
import re
import xml.etree.ElementTree as ET
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from sunsched.base.civil_time import MONTH_NAMES, MONTHS, clock_text, date_of
from sunsched.base.errors import ConfigError
from sunsched.config import toml_file
from sunsched.job import pipeline
from sunsched.plan.reasons import Kind
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.report.pictures.findings import (
    LEAST_DAYS,
    WEEKDAY_APART_MIN,
    off_the_week,
    side_finding,
    weekdays_apart,
    year_findings,
)
from sunsched.report.pictures.nights import kinds
from sunsched.report.pictures.year_map import YearMap
from tests.conftest import CONFIGS
from tests.report.drawn import SVG, minutes_drawn, planned, row_edges
from tests.report.test_year_map import AFTER_MIDNIGHT, POLAR, SOUTH_KEPT
from tests.support.known import known
from tests.support.strategies import configurations

DAY = rf"(\d+ (?:{'|'.join(MONTHS)}))"
MONTH = rf"({'|'.join(MONTH_NAMES)})"


def rows_named(plan: YearPlan, words: str) -> list[int]:
    """The rows of the days that a sentence names, by a reading of its own."""
    dates = [date_of(int(day)) for day in plan.days]
    if "all year" in words or "on all these days" in words:
        return list(range(plan.n_days))
    if found := re.search(rf"(?:from )?{DAY} to {DAY}", words):
        ends = [dt.datetime.strptime(f"{day} 2028", "%d %b %Y").date() for day in found.groups()]
        first, last = ((end.month, end.day) for end in ends)
        return [row for row, date in enumerate(dates) if first <= (date.month, date.day) <= last]
    months = known(re.search(rf"(?:from {MONTH} to {MONTH}|in {MONTH})", words)).groups()
    numbers = [MONTH_NAMES.index(month) + 1 for month in months if month]
    return [row for row, date in enumerate(dates) if numbers[0] <= date.month <= numbers[-1]]


def check_sentence(plan: YearPlan, side: str, words: str) -> None:
    """Every claim of a sentence against the plan's columns."""
    civil = plan.civil_min(plan.open_min if side == "open" else plan.close_min)
    decided = kinds(plan, side)
    assert words.startswith("Opens " if side == "open" else "Closes ")
    if "your limit" in words:
        rows = rows_named(plan, words)
        stated = known(re.search(r"(-?\d\d:\d\d)", words))[1]
        assert len(rows) >= LEAST_DAYS
        assert {clock_text(round(float(civil[row]))) for row in rows} == {stated}
        assert set(decided[rows].tolist()) <= {Kind.LIMIT, Kind.STAND_IN}
        assert ("no twilight" in words) == (set(decided[rows].tolist()) == {Kind.STAND_IN})
    elif "clear sky's light" in words:
        rows = rows_named(plan, words)
        assert len(rows) >= LEAST_DAYS and set(decided[rows].tolist()) == {Kind.LIGHT}
    else:
        low, high = re.findall(r"(-?\d\d:\d\d)", words)
        assert (low, high) == tuple(clock_text(round(float(end))) for end in (np.nanmin(civil), np.nanmax(civil)))
        for time, day in re.findall(rf"(-?\d\d:\d\d) \({DAY}\)", words):
            (row,) = rows_named(plan, f"{day} to {day}")
            assert clock_text(round(float(civil[row]))) == time


def check_labels(year: YearMap) -> None:
    """Each time beside a line is the minute of the night at which it stands."""
    root = ET.fromstring(year.drawing.file_text())
    _, height = row_edges(root, year.plan.n_days)
    for side in ("close", "open"):
        drawn = minutes_drawn(root, side)
        labels = [text for text in root.iter(f"{SVG}text") if text.get("class", "").startswith(f"at-{side}")]
        word = {"close": "closes ", "open": "opens "}[side]
        in_legend = any(text.text == f"the door {word.strip()}" for text in root.iter(f"{SVG}text"))
        assert sum((text.text or "").startswith(word) for text in labels) + in_legend == bool(drawn)
        for text in labels:
            middle = float(text.attrib["y"]) - 0.36 * float(text.attrib["font-size"])
            row = min(drawn, key=lambda y: abs(y + height / 2 - middle))
            assert known(text.text).split()[-1] == clock_text(round(drawn[row]) % 1440)


@settings(max_examples=15)
@given(configurations())
@example(POLAR)
@example(AFTER_MIDNIGHT)
@example(SOUTH_KEPT)
def test_sentences_and_labels_hold_on_the_days_they_name(data: dict[str, Any]) -> None:
    try:
        plan, configuration = planned(data, 2028)
    except ConfigError:
        assume(False)
    for side in ("open", "close"):
        words = side_finding(plan, side)
        assert (words == "") == bool((plan.open_min == NO_MINUTE).all())
        if words:
            check_sentence(plan, side, words)
    check_labels(YearMap(plan, configuration.rules))


# Read off the configuration: not_before 06:30 on every weekday of these months, dawn before it even on Sundays.
def test_the_shipped_hill_farm_opens_at_its_limit_in_summer() -> None:
    plan = pipeline.plan_of(toml_file.read(str(next(path for path in CONFIGS if path.stem == "larch_end"))), 2027)
    found = year_findings(plan)
    assert found[0] == "Opens 06:30 from 3 May to 6 Aug: your limit"
    assert found[2] == "Stays down from 20 Nov to 15 Dec"


@pytest.mark.parametrize("path", CONFIGS, ids=lambda path: path.stem)
def test_every_finding_of_the_shipped_configurations_holds(path: Any) -> None:
    plan = pipeline.plan_of(toml_file.read(str(path)), 2027)
    for side, words in zip(("open", "close"), year_findings(plan), strict=False):
        check_sentence(plan, side, words)


def a_plan(more: dict[str, Any]) -> tuple[YearPlan, YearMap]:
    site = {"name": "O", "latitude_deg": 52.0, "longitude_deg": 5.0, "zone": "Europe/Amsterdam"}
    plan, configuration = planned({"site": site, **more})
    return plan, YearMap(plan, configuration.rules)


def legend_of(year: YearMap) -> set[str]:
    root = ET.fromstring(year.drawing.file_text())
    texts = [text for text in root.iter(f"{SVG}text") if float(text.attrib["y"]) > year.bottom + 30]
    return {text.text or "" for text in texts}


def test_the_legend_holds_what_occurs_and_nothing_else() -> None:
    _, plain = a_plan({})
    dusk = {"Sun 0° to 6° down", "6° to 12°", "12° to 18°", "more: night"}
    assert legend_of(plain) == dusk
    _, held = a_plan({"morning": {"not_before": "07:00"}, "kept_in": [{"from": "01-01", "to": "01-03"}]})
    assert legend_of(held) == dusk | {"edge: your limit decides", "your limits", "the door stays down"}
    _, sundays = a_plan({"morning": {"weekday_later_min": {"sun": 40}}})
    assert legend_of(sundays) == dusk | {"Sun: minutes of their own"}


def test_weekends_are_dots_and_the_line_has_no_comb() -> None:
    plan, year = a_plan({"morning": {"weekday_later_min": {"sat": 40, "sun": 55}}})
    weekend = np.isin([date_of(int(day)).weekday() for day in plan.days], (5, 6))
    apart: NDArray[np.bool_] = weekdays_apart(plan, "open")
    assert apart.tolist() == weekend.tolist()
    assert not weekdays_apart(plan, "close").any()
    path = known(re.search(r' d="([^"]*)"[^>]*id="year-open"', year.drawing.file_text()))[1]
    steps = np.abs(np.diff([year.x.value(float(x)) for x in re.findall(r"[HM]([\d.]+)", path)]))
    # A change of clocks is an hour; no other step of a line through weekdays is more than some minutes.
    assert sorted(steps)[-3] < 10


def test_a_seasons_name_stands_whole_in_the_picture() -> None:
    short = {"name": "fox cubs", "from": "04-15", "to": "07-10", "evening": {"later_min": -5}}
    long = {"name": "when the young hens are let out for the first time", "from": "08-01", "to": "08-20"}
    _, year = a_plan({"season": [short, {**long, "evening": {"later_min": 9}}]})
    texts = [text.text or "" for text in ET.fromstring(year.drawing.file_text()).iter(f"{SVG}text")]
    assert "fox cubs" in texts and "A" in texts
    assert f"A: {long['name']}" in " ".join(texts)


@given(st.lists(st.integers(200, 500) | st.just(math.nan), min_size=1, max_size=40))
def test_a_day_lies_off_the_middle_of_the_week_around_it(minutes: list[float]) -> None:
    values = np.array(minutes)
    weeks = [values[max(row - 3, 0) : row + 4] for row in range(len(values))]
    days = [(own, week) for own, week in zip(values, weeks, strict=True) if not math.isnan(own)]
    wanted = [abs(own - np.nanmedian(week)) > WEEKDAY_APART_MIN for own, week in days]
    assert off_the_week(values)[~np.isnan(values)].tolist() == wanted
    assert not off_the_week(values)[np.isnan(values)].any()
