"""Comparison, fault nights and noted nights on the page: drawn figures are the given ones."""

from __future__ import annotations

import datetime as dt
import html as html_module
import re
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sunsched.config.configuration import Configuration
from sunsched.job import pipeline
from sunsched.report.page import report_file
from sunsched.report.page.more_sections import fault_section
from sunsched.report.pictures.evenings_shifted import LastBird, MonthShift, dull_shift_chart, last_bird_chart
from tests.report.drawn import SVG, marks_in, upright_axis
from tests.report.test_year_map import SOUTH_KEPT


def minutes_at(root: ET.Element, unit: float) -> float:
    """The minutes at a height of the picture, from its axis's own labels."""
    return upright_axis(root, 0.0, 1e6).value(unit)


def test_bars_and_dots_of_dull_evenings_are_the_given_minutes() -> None:
    months = [MonthShift(-4.5 + 0.25 * k, -9 - k % 3, 1 + k % 2) for k in range(11)] + [MonthShift(None, None, None)]
    drawing = dull_shift_chart(months)
    root = ET.fromstring(drawing.file_text())
    dots = [float(c.attrib["cy"]) for c in root.iter(f"{SVG}circle")]
    assert [minutes_at(root, y) for y in dots] == pytest.approx([m.mean_min for m in months[:11]], abs=0.05)
    # By construction: -9 - k % 3 is least in the third month, and the last month has no evening.
    assert drawing.title.startswith("In March one evening in ten closes 11 min early or more")
    assert "No such evening: Dec." in {text.text for text in root.iter(f"{SVG}text")}
    bars = [r for r in root.iter(f"{SVG}rect") if "f-close" in r.attrib.get("class", "") and "stroke" not in r.attrib]
    *bars, sample = bars
    assert float(sample.attrib["y"]) > max(float(bar.attrib["y"]) for bar in bars)
    tops = [minutes_at(root, float(r.attrib["y"])) for r in bars]
    feet = [minutes_at(root, float(r.attrib["y"]) + float(r.attrib["height"])) for r in bars]
    assert tops == pytest.approx([m.brightest_tenth_min for m in months[:11]], abs=0.05)
    assert feet == pytest.approx([m.dullest_tenth_min for m in months[:11]], abs=0.05)


def test_noted_nights_stand_at_their_minutes() -> None:
    nights = [LastBird(0, -12.0), LastBird(180, 3.5), LastBird(364, -31.0)]
    drawing = last_bird_chart(nights)
    root = ET.fromstring(drawing.file_text())
    (marks,) = marks_in(root, "nights")
    minutes = [minutes_at(root, y) for _, y in marks]
    assert minutes == pytest.approx([night.after_closing_min for night in nights], abs=0.05)
    group = next(g for g in root.iter(f"{SVG}g") if g.attrib.get("class") == "nights")
    # Shut out is a square in the alarm's colour, in time a circle.
    assert ["f-alarm" in mark.attrib["class"] for mark in group] == [False, True, False]
    assert [mark.tag.removeprefix(SVG) for mark in group] == ["circle", "rect", "circle"]
    assert drawing.title == "The last bird came after the planned closing on 1 of 3 noted nights, by up to 4 min."
    assert "On 1 of them" in drawing.description


def test_nights_of_a_list_are_held_against_their_own_years_plan(tmp_path: Path) -> None:
    data = {**SOUTH_KEPT, "kept_in": []}
    configuration = Configuration.model_validate(data)
    plan = pipeline.plan_of(configuration, 2026)
    civil, log = plan.civil_min(plan.close_min), tmp_path / "nights.txt"
    lines = []
    for month, late in ((2, -8), (5, 4), (9, -3), (11, -5)):
        date = dt.date(2026, month, 14)
        minute = round(float(civil[plan.row(date)])) + late
        lines.append(f"{date} {minute // 60:02d}:{minute % 60:02d}")
    log.write_text("\n".join(lines) + "\n", encoding="utf-8")
    section = report_file.nights_of_log(pipeline.built(configuration, 2027), log)
    picture = re.search(r"<svg.*?</svg>", section.inside, re.DOTALL)
    assert picture
    root = ET.fromstring(picture[0])
    (marks,) = marks_in(root, "nights")
    assert [minutes_at(root, y) for _, y in marks] == pytest.approx([-8, 4, -3, -5], abs=0.05)


def test_the_fault_table_holds_every_cell() -> None:
    def row(fault: str, strategy: str, birds: float, minutes: float, never: float) -> dict[str, Any]:
        case = {"follow_light": 0.5, "birds_out_a_night": {"mean": birds}, "open_min": {"mean": minutes}}
        return {"fault": fault, "strategy": strategy, "by_follow_light": [case], "nights_never_shut": {"mean": never}}

    faults = [
        row(f, s, k + 0.25, 10.0 * k, 0.25 * (s == "light"))
        for f in ("a <b>", "c")
        for k, s in enumerate(("light", "clock", "both"))
    ]
    found = {"faults": faults, "weather_years": 4, "birds": 6, "limits": ["only this", "not this"]}
    text = fault_section(found).html()
    cells = [html_module.unescape(cell) for cell in re.findall(r"<td[^>]*>(.*?)</td>", text)]
    assert cells == ["0.25 out, 0 min, never shut 25 %", "1.25 out, 10 min", "2.25 out, 20 min"] * 2
    assert "a &lt;b&gt;" in text and "not this" not in text


@pytest.mark.usefixtures("two_assumptions")
def test_a_short_comparison_makes_its_sections() -> None:
    configuration = Configuration.model_validate({**SOUTH_KEPT, "flock": {"birds": 4}})
    work = pipeline.built(configuration, 2027)
    comparison, faults = report_file.comparison_sections(work, 2)
    assert comparison.ident == "comparison" and faults.ident == "faults"
    assert comparison.inside.count("<svg") == 4
    assert "no forecast" in comparison.inside
    assert (comparison, faults) == report_file.comparison_sections(work, 2)


def test_the_tables_proof_is_read_back() -> None:
    plan_days = pipeline.built(Configuration.model_validate(SOUTH_KEPT), 2028)
    proof = report_file.table_proof(plan_days)
    # By hand: two minutes of two bytes for each of 365 or 366 days.
    assert proof["Minutes, plain layout"] == "1464 bytes"
    assert proof["Packed and read back"] == "0 days differ, worst 0 min"
    assert np.count_nonzero(plan_days.plan.open_min == -32768) == 43 and proof["Days"] == "366"
