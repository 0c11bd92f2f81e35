"""The battery's picture and the report's sections about drive and battery."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from numpy.typing import NDArray

from sunsched.hardware.battery_sums import BatterySums, Place, Weather, battery_sums
from sunsched.hardware.drive_sums import drive_sums
from sunsched.hardware.figures import exactly
from sunsched.hardware.parts import Battery, Door, Motor, Spool
from sunsched.report.page.more_sections import battery_section, drive_section
from sunsched.report.pictures.battery import battery_chart
from sunsched.report.pictures.svg import Drawing
from sunsched.study.weather import daily_clearness
from tests.support.known import known

SVG = "{http://www.w3.org/2000/svg}"


def sums_of(panel_w: float = 10.0, n_days: int = 365) -> BatterySums:
    clearness = daily_clearness([0.35] * 12, 20, 1)
    if n_days == 366:
        clearness = np.insert(clearness, 59, clearness[:, 58], axis=1)
    return battery_sums(
        Battery(panel_w=panel_w), exactly(0.001), Place(52.0), Weather(clearness, np.zeros(n_days), False)
    )


@pytest.fixture(scope="module")
def sums() -> BatterySums:
    return sums_of()


def heights(drawing: Drawing, role: str) -> NDArray[np.float64]:
    """Every y of the path drawn in a role."""
    paths = [
        p.get("d") for p in ET.fromstring(drawing.inline()).iter(f"{SVG}path") if f"s-{role}" in p.get("class", "")
    ]
    assert len(paths) == 1
    return np.array([float(y) for _, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", known(paths[0]))])


# By construction: the drawn line is the charge, day by day from midsummer, scaled once.
def test_the_lines_are_the_charge_of_the_two_years(sums: BatterySums) -> None:
    drawing = battery_chart(sums, "Larch end")
    for year, role in ((sums.typical, "close"), (sums.worst, "open")):
        held = np.roll(sums.stated.years.end[year], -sums.start_row)
        drawn = heights(drawing, role)
        assert drawn.size == 365
        slope, level = np.polyfit(held, drawn, 1)
        assert slope < 0
        assert np.abs(level + slope * held - drawn).max() < 0.02


def test_the_picture_speaks_its_figures(sums: BatterySums) -> None:
    drawing = battery_chart(sums, "Larch <end>")
    root = ET.fromstring(drawing.file_text())
    assert known(root.find(f"{SVG}title")).text == "Larch <end>: charge of the battery, 20 winters of model weather"
    result = known(root.find(f"{SVG}desc")).text
    assert f"the depth limit is passed in {sums.stated.n_over_limit} winters" in known(result).lower()
    labels = {text.text for text in root.iter(f"{SVG}text")}
    assert {"Jan", "Jul", "Dec", "typical weather year", "worst weather year", "depth limit", "flat"} <= labels
    assert drawing.file_text() == battery_chart(sums, "Larch <end>").file_text()


def test_a_leap_year_and_an_empty_battery_are_drawn() -> None:
    # by hand: without a panel the charge is 0 from day 40 on
    drawing = battery_chart(sums_of(panel_w=0.0, n_days=366), "x")
    drawn = heights(drawing, "close")
    assert drawn.size == 366
    assert len(set(drawn[60:].tolist())) == 1 and drawn[60] == drawn.max()


def test_the_sections_hold_every_figure_and_verdict(sums: BatterySums) -> None:
    battery = battery_section(sums, "Larch end", "assumed").html()
    drive = drive_sums(Door(), Spool(), Motor())
    for html, expected in ((battery, sums), (drive_section(drive).html(), drive)):
        ET.fromstring(html)
        assert all(figure.label.replace("'", "&#x27;") in html or figure.label in html for figure in expected.figures)
        assert all(f"<b>{judged.state}: </b>{judged.name}" in html for judged in expected.verdicts)
        assert all(f">{assumed.key}<" in html for assumed in expected.assumptions)
        assert " safe" not in html.lower()
    assert "birds locked in need water and air" in battery
    assert "no published limit for birds" in drive_section(drive).html()
