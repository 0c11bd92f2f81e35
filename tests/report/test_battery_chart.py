"""The battery's picture and the report's sections about drive and battery."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from functools import lru_cache

import numpy as np
import pytest
from numpy.typing import NDArray

from sunsched.config import toml_file
from sunsched.hardware.battery_case import Place, Weather
from sunsched.hardware.battery_sums import BatterySums, battery_sums
from sunsched.hardware.drive_sums import drive_sums
from sunsched.hardware.figures import exactly, number
from sunsched.hardware.parts import Battery, Door, Motor, Spool
from sunsched.hardware.solar_input import month_of_row
from sunsched.job.drive_and_battery import battery_of, plain
from sunsched.report.page.more_sections import battery_section, drive_section
from sunsched.report.pictures.battery import battery_chart, battery_finding
from sunsched.report.pictures.svg import Drawing
from sunsched.study.weather import daily_clearness
from tests.conftest import ROOT
from tests.report.drawn import SVG, Axis, path_of, points_of, upright_axis
from tests.support.known import known


def sums_of(panel_w: float = 10.0, n_days: int = 365) -> BatterySums:
    return _sums(panel_w, n_days)


@lru_cache
def _sums(panel_w: float, n_days: int) -> BatterySums:
    clearness = daily_clearness([0.35] * 12, 20, 1)
    if n_days == 366:
        clearness = np.insert(clearness, 59, clearness[:, 58], axis=1)
    return battery_sums(
        Battery(panel_w=panel_w), exactly(0.001), Place(52.0), Weather(clearness, np.zeros(n_days), False)
    )


@pytest.fixture(scope="module")
def sums() -> BatterySums:
    return sums_of()


def heights(drawing: Drawing, panel: str, line: str) -> NDArray[np.float64]:
    """Every y of one line of a panel."""
    return np.array([y for _, y in points_of(path_of(ET.fromstring(drawing.inline()), f"{panel}-{line}"))])


def axis_of_panel(drawing: Drawing, panel: str) -> Axis:
    """The upright axis of the panel whose range is drawn between its ends."""
    root = ET.fromstring(drawing.inline())
    texts = [(float(t.attrib["y"]), t.text) for t in root.iter(f"{SVG}text")]
    middle = next(y for y, words in texts if words == "The winter enlarged")
    return upright_axis(root, middle, 1e6) if panel == "winter" else upright_axis(root, 0.0, middle)


# By construction: the drawn lines are the charge, day by day from midsummer, as the axis's own labels say.
@pytest.mark.parametrize("panel", ["year", "winter"])
def test_the_lines_are_the_charge_of_the_two_years_and_its_levels(sums: BatterySums, panel: str) -> None:
    drawing = battery_chart(sums, "Larch end")
    axis, start = axis_of_panel(drawing, panel), sums.start_row
    months = np.roll(month_of_row(365), -start)
    firsts = [k for k in range(1, 365) if months[k] != months[k - 1]]
    span = slice(0, 365) if panel == "year" else slice(firsts[3], firsts[9] + 1)
    wanted = {
        "typical": sums.stated.years.end[sums.typical],
        "worst": sums.stated.years.end[sums.worst],
        "limit": sums.limit_held_ah,
        "flat": sums.flat_held_ah,
        "full": np.full(365, 7.0),  # the default battery's capacity
    }
    for line, held in wanted.items():
        drawn = heights(drawing, panel, line)
        shown = np.roll(held, -start)[span]
        assert drawn.size == shown.size
        assert np.abs([axis.value(y) for y in drawn] - shown).max() < 0.01 * max(7.0, shown.max())


def test_the_band_is_nine_winters_in_ten_of_the_inputs_ranges(sums: BatterySums) -> None:
    drawing = battery_chart(sums, "Larch end")
    axis, drawn = axis_of_panel(drawing, "year"), heights(drawing, "year", "range")
    held = np.roll(sums.drawn.years.end, -sums.start_row, axis=1)
    upper, lower = np.array([axis.value(y) for y in drawn[:365]]), np.array([axis.value(y) for y in drawn[365:][::-1]])
    assert np.abs(upper - np.quantile(held, 0.95, axis=0)).max() < 0.07
    assert np.abs(lower - np.quantile(held, 0.05, axis=0)).max() < 0.07
    assert ((held >= lower - 0.07) & (held <= upper + 0.07)).mean() > 0.88


def test_the_lines_are_the_days_that_the_json_holds() -> None:
    configuration = toml_file.read(str(ROOT / "configs" / "larch_end.toml"))
    work = battery_of(configuration, 2027, "larch_end.toml", weather_years=20)
    found, drawing = plain(work), battery_chart(work.sums, work.site_name)
    axis = axis_of_panel(drawing, "year")
    for line in ("typical", "worst"):
        held = np.roll([day["end_ah"] for day in found[f"days_{line}_year"]], -work.sums.start_row)
        assert np.abs([axis.value(y) for y in heights(drawing, "year", line)] - held).max() < 0.07
    stated, ranges = found["winters"], battery_finding(work.sums)
    # The shares of the JSON, of 20 winters, are the counts of the sentences.
    over, flat = (round(20 * stated[f"chance_{what}_inputs_drawn"][0]) for what in ("over_limit", "flat"))
    assert ranges[1].endswith(f"past the limit in {over}, flat in {flat}" if over or flat else "above the limit in all")
    assert f"Holds {number(stated['lowest_ah'])} Ah" in ranges[0]


def test_the_picture_speaks_its_figures(sums: BatterySums) -> None:
    drawing = battery_chart(sums, "Larch <end>")
    root = ET.fromstring(drawing.file_text())
    found, ranges = battery_finding(sums)
    spoken = known(root.find(f"{SVG}title")).text or ""
    assert spoken == f"Larch <end>: charge of the battery, Ah. {found}. {ranges}"
    result = known(root.find(f"{SVG}desc")).text
    assert f"the depth limit is passed in {sums.stated.n_over_limit} winters" in known(result).lower()
    labels = {text.text for text in root.iter(f"{SVG}text")}
    assert {"Jan", "Jul", "typical weather", "worst weather", "depth limit", "full, 7 Ah"} <= labels
    assert drawing.file_text() == battery_chart(sums, "Larch <end>").file_text()


@pytest.mark.parametrize("panel_w", [0.0, 1.5, 10.0])
def test_the_finding_is_the_winters_own_count(panel_w: float) -> None:
    sums = sums_of(panel_w)
    found, ranges = battery_finding(sums)
    outcome = sums.stated.outcome
    flat, over = int((outcome.flat_days > 0).sum()), int((outcome.over_limit_days > 0).sum())
    if flat:
        assert found == f"Flat in {flat} of 20 winters: the door stops"
    elif over:
        assert found == f"Past its depth limit in {over} of 20 winters, never flat"
    else:
        least = float(known(re.search(r"Holds ([\d.]+) Ah", found))[1])
        assert least == pytest.approx(outcome.lowest_ah.min(), rel=0.01)
    over, flat = sums.drawn.n_over_limit, sums.drawn.n_flat
    assert (f"past the limit in {over}, flat in {flat}" in ranges) == bool(over or flat)


def test_a_leap_year_and_an_empty_battery_are_drawn() -> None:
    # by hand: without a panel the charge is 0 from day 40 on
    drawing = battery_chart(sums_of(panel_w=0.0, n_days=366), "x")
    drawn = heights(drawing, "year", "typical")
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
