"""Each kind of picture, at every option: letters large enough, inside the picture, on nothing; captions whole."""

from __future__ import annotations

import datetime as dt
import math
import xml.etree.ElementTree as ET
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from sunsched.config import toml_file
from sunsched.job import pipeline
from sunsched.job.logs.replay import Did, Replay, Twilight
from sunsched.report.pictures.battery import battery_chart
from sunsched.report.pictures.comparison import NOTE, TradeOff, TradeOffPoint, trade_off_chart
from sunsched.report.pictures.evening import evening_chart
from sunsched.report.pictures.evenings_shifted import LastBird, MonthShift, dull_shift_chart, last_bird_chart
from sunsched.report.pictures.lettering import text_width, wrapped_lines
from sunsched.report.pictures.replay import replay_drawing
from sunsched.report.pictures.svg import TEXT, Drawing
from sunsched.report.pictures.year_map import YearMap
from sunsched.study.settings import IN_WORDS, STRATEGIES, Strategy
from sunsched.study.tally import Difference
from tests.conftest import CONFIGS
from tests.report.drawn import SVG, Axis, marks_in, path_of, planned, points_of, upright_axis
from tests.report.test_battery_chart import sums_of
from tests.report.test_year_map import AFTER_MIDNIGHT, POLAR, SOUTH_KEPT
from tests.report.written import LEAST_PX, TELEPHONE_PX, check_letters, metrics, whole_words, written
from tests.support.known import known

LONG = "Hen house behind the old mill at the end of the long lane"


def root_of(drawing: Drawing) -> ET.Element:
    return ET.fromstring(drawing.file_text())


# The font file itself: what is reckoned is never less than what is drawn.
@given(st.text(st.characters(max_codepoint=0x17F, exclude_categories=["C"]), max_size=60))
@example("".join(map(chr, range(32, 127))))
@example("Œœ—…°")
def test_a_text_is_reckoned_no_narrower_than_the_font_draws_it(words: str) -> None:
    assert text_width(words, 10.0) >= metrics(False).width(words, 10.0) - 0.005 * len(words) - 1e-9
    plain = "".join(letter for letter in words if letter.isascii())
    assert text_width(plain, 10.0) == pytest.approx(metrics(False).width(plain, 10.0), abs=0.006 * len(plain) + 1e-9)


@given(st.lists(st.text("abcdefgmilw.,-", min_size=1, max_size=30), max_size=20), st.floats(30.0, 400.0))
def test_lines_hold_every_word_and_are_no_wider_than_asked(words: list[str], width: float) -> None:
    lines = wrapped_lines(" ".join(words), width, TEXT)
    assert "".join(lines).replace(" ", "") == "".join(words)
    assert all(text_width(line, TEXT) <= width for line in lines)
    whole = [word for word in words if text_width(word, TEXT) <= width]
    assert all(any(word in line.split() for line in lines) for word in whole)


@pytest.mark.parametrize("path", CONFIGS, ids=lambda path: path.stem)
def test_years_and_evenings_of_the_shipped_configurations(path: Any) -> None:
    configuration = toml_file.read(str(path))
    plan = pipeline.plan_of(configuration, 2027)
    year = root_of(YearMap(plan, configuration.rules).drawing)
    check_letters(year)
    for season in configuration.rules.season:
        assert season.name in whole_words(year)
    row = plan.row(dt.date(2027, 6, 21))
    evening = evening_chart(plan, configuration.rules, configuration.light_cell, row, "e")
    for words, size, _ in written(root_of(known(evening))):
        assert size * TELEPHONE_PX / known(evening).width >= LEAST_PX, words


# On 30 November at 69 N both lines of light leave the picture at the right, where the thresholds have their names.
@pytest.mark.parametrize("path", CONFIGS, ids=lambda path: path.stem)
def test_no_line_of_light_runs_through_the_name_of_a_threshold(path: Any) -> None:
    configuration = toml_file.read(str(path))
    plan = pipeline.plan_of(configuration, 2027)
    for date in (dt.date(2027, 3, 21), dt.date(2027, 6, 21), dt.date(2027, 11, 30), dt.date(2027, 12, 21)):
        drawing = evening_chart(plan, configuration.rules, configuration.light_cell, plan.row(date), "e")
        if drawing is None:
            continue
        root = root_of(drawing)
        lines = [points_of(p.attrib["d"]) for p in root.iter(f"{SVG}path")]
        light = [points for points in lines if len(points) > 20]
        names = [box for words, _, box in written(root) if words.startswith(("light above", "dark below"))]
        assert len(light) == 2 and len(names) == 2
        for box in names:
            inside = [(x, y) for x, y in light[0] + light[1] if box.left < x < box.right and box.top < y < box.bottom]
            assert inside == [], (date, box)


@pytest.mark.parametrize("data", [POLAR, AFTER_MIDNIGHT, SOUTH_KEPT], ids=["polar", "after midnight", "south"])
def test_years_of_hard_places_and_long_names(data: dict[str, Any]) -> None:
    season = {"name": LONG, "from": "02-01", "to": "02-20", "evening": {"later_min": 3}}
    site = {**data["site"], "name": LONG}
    plan, configuration = planned({**data, "site": site, "season": [season]})
    root = root_of(YearMap(plan, configuration.rules).drawing)
    check_letters(root)
    assert f"A: {LONG}" in whole_words(root)


def a_panel(follow: float, own: Strategy, shift: float, unknown: bool = False) -> TradeOff:
    """A panel of curves of our own invention; `shift` moves the other two against each other."""
    points = []
    for k, strategy in enumerate(STRATEGIES):
        for step in range(8):
            minutes = 2.0 * 1.5**step * (1 + shift * k)
            birds = 900.0 / (step + 1) ** 3 * (1 + follow)
            label = f"{step + 1} lux, -10..+15 min"
            points.append(
                TradeOffPoint(
                    strategy, label, minutes, birds, birds / 2, birds * 2, step == 4 and strategy == own, True
                )
            )
    others = [strategy for strategy in STRATEGIES if strategy != own]
    differences = [None if unknown else Difference(-12.5, 2.0), Difference(3.0, 4.0)]
    return TradeOff(follow, tuple(points), tuple(zip(others, differences, strict=True)))


@pytest.mark.parametrize("own", ["light", "clock", "both"])
@pytest.mark.parametrize("shares", [(0.0,), (1 / 3, 0.875), (0.0, 0.25, 0.5, 0.75, 1.0)])
@pytest.mark.parametrize("shift", [0.0, 0.04, 0.5])
def test_comparisons_at_every_option(own: Strategy, shares: tuple[float, ...], shift: float) -> None:
    panels = [a_panel(share, own, shift, share == 0.0) for share in shares]
    words = f"2027, 400 weather years, seed 123456789012345.\n{NOTE}"
    root = root_of(trade_off_chart(panels, LONG, words))
    check_letters(root)
    told = whole_words(root)
    for caption in (*words.split("\n"), "Ringed: yours. Shaded: yours in the middle 80 % of the years.", "cannot tell"):
        assert caption in told
    names = [t.text or "" for t in root.iter(f"{SVG}text") if t.get("class", "").startswith("name")]
    # In each panel yours and the two ends of three curves, and no other point.
    assert sorted(names) == sorted(["yours", *["1 lux", "8 lux"] * 3] * len(shares))


def test_two_strategies_have_a_legend_of_two() -> None:
    panel = a_panel(0.5, "both", 0.5)
    fewer = TradeOff(0.5, tuple(point for point in panel.points if point.strategy != "light"))
    assert "light alone" not in whole_words(root_of(trade_off_chart([fewer], "x", "y")))
    assert "light alone" in whole_words(root_of(trade_off_chart([panel], "x", "y")))


@pytest.mark.parametrize("panel_w", [0.0, 1.5, 10.0])
def test_batteries(panel_w: float) -> None:
    root = root_of(battery_chart(sums_of(panel_w), LONG))
    check_letters(root)
    told = whole_words(root)
    for words in ("full, 7 Ah", "depth limit", "typical weather", "worst weather", "nine winters in ten"):
        assert words in told


def a_replay(after: dict[Strategy, list[int | None]]) -> Replay:
    """Evenings of our own invention: minutes after the plan, None where a strategy never closed."""
    dates = [(dt.date(2027, 3, 1) + dt.timedelta(days=k)).isoformat() for k in range(len(after["clock"]))]
    evenings = [
        Twilight(
            date, "evening", "18:30", 5.0, {name: Did("", "", values[k], "light") for name, values in after.items()}
        )
        for k, date in enumerate(dates)
    ]
    none: Any = None
    return Replay(settled=none, window_min={}, window_assumed=False, twilights=evenings)


@settings(max_examples=20)
@given(st.lists(st.tuples(*[st.none() | st.integers(-90, 120)] * 3), min_size=1, max_size=80))
@example([(-10, 0, -10)] * 3)
@example([(-30, None, 0)])
@example([(None, 0, 15)] * 2)
def test_replayed_evenings_stand_at_their_minutes(evenings: list[tuple[int | None, ...]]) -> None:
    after: dict[Strategy, list[int | None]] = dict(zip(STRATEGIES, map(list, zip(*evenings, strict=True)), strict=True))
    replay = a_replay(after)
    drawing = replay_drawing(replay, LONG)
    root = root_of(drawing)
    check_letters(root)
    axis: Axis = upright_axis(root, 0.0, 1e6)
    for strategy, values in after.items():
        wanted = [value for value in values if value is not None]
        marks = marks_in(root, f"points-{strategy}")
        drawn = marks[0] if marks else points_of(path_of(root, f"replay-{strategy}").replace("h0", ""))
        assert [axis.value(y) for _, y in drawn] == pytest.approx(wanted, abs=0.1)
        middle = replay.summary()["evening"][strategy]["after_planned_min"]["median"]
        assert middle is None or middle == np.median(wanted)
        if strategy != "clock" and middle is not None:
            ends = f"({min(wanted):+d} to {max(wanted):+d} min)"
            assert ends in drawing.title
            said = f" {abs(round(middle))} min {'after' if middle > 0 else 'before'} the plan"
            assert (said in drawing.title) == bool(round(middle))
        never = len(values) - len(wanted)
        assert (f"{IN_WORDS[strategy].capitalize()} never closed on {never} of" in whole_words(root)) == (never > 0)
    assert LONG[:30] in whole_words(root)


def test_dull_months_and_last_birds() -> None:
    months = [MonthShift(-4.5, -9.0 - k, 1.0) for k in range(11)] + [MonthShift(None, None, None)]
    for drawing in (
        dull_shift_chart(months),
        dull_shift_chart([MonthShift(2.0, 0.0, 6.0)] * 12),
        last_bird_chart([LastBird(3, 250.0), LastBird(360, -250.0)]),
        last_bird_chart([LastBird(100, -7.0)]),
    ):
        root = root_of(drawing)
        check_letters(root)
        assert drawing.title.rstrip(".").split(". ")[0] in whole_words(root)
    assert last_bird_chart([LastBird(100, -7.0)]).title.endswith("on all of 1 noted night, by 7 min or more.")
    assert not any(math.isnan(float(c.attrib["cy"])) for c in root.iter(f"{SVG}circle"))
