"""The report and the sheets in a real browser: quiet, offline, accessible, readable by mouse and keys, printable."""

from __future__ import annotations

import datetime as dt
import random
import re
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from sunsched.base.civil_time import clock_text, date_of
from sunsched.config import toml_file
from sunsched.job import pipeline
from sunsched.plan.reasons import Reason
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.report.page import report_file
from sunsched.report.sheets import sheet_file
from tests.browser.browser import A4_INCH, DESKTOP, LETTER_INCH, PHONE, Browser, boxes_outside_paper
from tests.conftest import CONFIGS

YEAR = 2028


class Report:
    """The page of one shipped configuration, with its plan."""

    def __init__(self, config: Path, folder: Path) -> None:
        work = pipeline.built(toml_file.read(str(config)), YEAR, str(config))
        self.plan: YearPlan = work.plan
        self.path = folder / f"{config.stem}.html"
        self.path.write_bytes(report_file.report_of(work, str(config)))

    def said_of(self, row: int) -> str:
        """What the day reader must say of a row, from the plan."""
        date, plan = date_of(self.plan.first_day + row), self.plan
        head = f"{date:%a} {date.day} {date:%b} {date.year}: "
        why = [Reason(side[row]).word.replace("_", " ") for side in (plan.open_reason, plan.close_reason)]
        if plan.open_min[row] == NO_MINUTE:
            return f"{head}the door stays down ({why[0]})"
        opens, closes = (
            [clock_text(round(float(minute))) if minute == minute else None for minute in plan.civil_min(column)]
            for column in (plan.open_min, plan.close_min)
        )
        following = opens[row + 1] if row + 1 < plan.n_days else None
        tail = f", next opening {following}" if following else ""
        return f"{head}opens {opens[row]} ({why[0]}), closes {closes[row]} ({why[1]}){tail}"


@pytest.fixture(scope="module", params=CONFIGS, ids=lambda path: path.stem)
def report(request: pytest.FixtureRequest, pages: Path) -> Report:
    """The report of each shipped configuration in turn."""
    return _made(request.param, pages)


# Workers share tests out one by one; each makes a configuration's report once.
_made = lru_cache(maxsize=8)(Report)


def reader(browser: Browser) -> str:
    """What the day reader says now."""
    return str(browser.run("return document.getElementById('reader-text').textContent"))


@pytest.mark.parametrize(("size", "dark"), [(DESKTOP, False), (PHONE, False), (DESKTOP, True)])
def test_the_page_is_quiet_offline_and_accessible(
    report: Report, browser: Browser, size: tuple[int, int], dark: bool
) -> None:
    browser.open(report.path, size, dark)
    assert browser.messages() == []
    assert browser.requests() == [report.path.as_uri()]
    # Nothing reaches beyond the window sideways.
    assert browser.run("return document.documentElement.scrollWidth") == size[0]
    assert browser.run(_WORDS_OUTSIDE) == []
    assert browser.faults_found_by_axe() == []


def test_keys_move_the_day_reader_to_the_plans_values(report: Report, browser: Browser) -> None:
    browser.open(report.path)
    assert reader(browser) == report.said_of(0)
    slider = browser.driver.find_element(By.ID, "reader-day")
    row = 0
    for key, step in ((Keys.ARROW_RIGHT, 1), (Keys.ARROW_RIGHT, 1), (Keys.ARROW_LEFT, -1), (Keys.END, 365)):
        slider.send_keys(key)
        row = min(max(row + step, 0), report.plan.n_days - 1)
        assert reader(browser) == report.said_of(row)
        assert slider.get_attribute("aria-valuetext") == report.said_of(row)


def test_the_mouse_reads_the_day_it_points_at(report: Report, browser: Browser) -> None:
    browser.open(report.path)
    chart = browser.driver.find_element(By.ID, "year")
    for row in random.Random(report.path.stem).sample(range(report.plan.n_days), 6):
        # The row's place comes from the ink: the step of that night on the drawn line, or the frame's share of rows.
        place = browser.run(_PLACE_OF_ROW, row, report.plan.n_days)
        browser.run("scrollBy(0, arguments[0] - innerHeight / 2)", place["y"])
        place = browser.run(_PLACE_OF_ROW, row, report.plan.n_days)
        ActionChains(browser.driver, duration=0).move_by_offset(0, 0).perform()
        _point_at(browser, place["x"], place["y"])
        assert reader(browser) == report.said_of(row)
        _check_marks(browser, report, row)
    assert chart.get_attribute("role") == "img"


_PLACE_OF_ROW = """
const sky = document.querySelector('#year rect.f-day').getBoundingClientRect();
const row = sky.height / (arguments[1] + 1);
return {x: sky.left + sky.width / 2, y: sky.top + row * (arguments[0] + 1.5)};
"""


def _point_at(browser: Browser, x: float, y: float) -> None:
    browser.command("Input.dispatchMouseEvent", {"type": "mouseMoved", "x": x, "y": y})


def _check_marks(browser: Browser, report: Report, row: int) -> None:
    """The two dots stand on the drawn lines, in the night after the row's evening."""
    for side, column, at in (("close", report.plan.close_min, row), ("open", report.plan.open_min, row + 1)):
        dot = browser.driver.find_element(By.ID, f"year-mark-{side}")
        shown = dot.get_attribute("visibility") != "hidden"
        assert shown == (at < report.plan.n_days and column[at] != NO_MINUTE)
        if shown:
            inside = browser.run(
                "const line = document.getElementById(`year-${arguments[0]}`);"
                "const dot = document.getElementById(`year-mark-${arguments[0]}`);"
                "const point = new DOMPoint(+dot.getAttribute('cx'), +dot.getAttribute('cy'));"
                "return line.isPointInStroke(point);",
                side,
            )
            assert inside


@pytest.mark.parametrize("paper", [A4_INCH, LETTER_INCH], ids=["A4", "Letter"])
def test_the_page_prints_whole(report: Report, browser: Browser, paper: tuple[float, float], tmp_path: Path) -> None:
    browser.open(report.path)
    text = browser.pdf(tmp_path / "page.pdf", paper)
    assert boxes_outside_paper(tmp_path / "page.pdf") == []
    flat = " ".join(text.split())
    # Every day of every month is on paper, and the last line of the page too.
    days = re.findall(r"\b\d{1,2} (?:Mon|Tue|Wed|Thu|Fri|Sat|Sun) (?:\d\d:\d\d|stays)", flat)
    assert len(days) == report.plan.n_days
    assert "Made by sunsched" in flat
    for warning in report.plan.warnings:
        # A line may break after the hyphen of a date.
        assert "".join(warning.text.split()) in "".join(flat.split())
    assert text.count("\f") <= 14


def test_without_its_script_the_page_is_complete(report: Report, browser: Browser) -> None:
    browser.command("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        browser.open(report.path)
        assert not browser.driver.find_element(By.ID, "reader").is_displayed()
        rows = browser.driver.find_elements(By.CSS_SELECTOR, ".months tbody tr")
        assert len(rows) == report.plan.n_days
    finally:
        browser.command("Emulation.setScriptExecutionDisabled", {"value": False})


def sheet_page(config: Path, folder: Path, commission: bool) -> Path:
    """A sheet over the autumn's change of the clocks."""
    first = dt.date(YEAR, 10, 25)
    configuration = toml_file.read(str(config))
    sheet = sheet_file.sheet_of(configuration, first, first + dt.timedelta(13), commission=commission)
    path = folder / f"{config.stem}_{commission}.html"
    path.write_bytes(sheet_file.sheet_bytes(sheet, ".html"))
    return path


@pytest.mark.parametrize("commission", [False, True])
def test_sheets_are_quiet_accessible_and_print(browser: Browser, pages: Path, commission: bool, tmp_path: Path) -> None:
    path = sheet_page(CONFIGS[0], pages, commission)
    for size in (DESKTOP, PHONE):
        browser.open(path, size)
        assert browser.messages() == []
        assert browser.requests() == [path.as_uri()]
        assert browser.run("return document.documentElement.scrollWidth") == size[0]
        assert browser.faults_found_by_axe() == []
    for paper in (A4_INCH, LETTER_INCH):
        text = browser.pdf(tmp_path / "sheet.pdf", paper)
        assert boxes_outside_paper(tmp_path / "sheet.pdf") == []
        assert "GENERATED by sunsched" in " ".join(text.split())
        assert text.count("\f") <= 4


def test_hostile_names_run_nothing(browser: Browser, pages: Path) -> None:
    taken = "document.title='taken'"
    name = f'</script><script>{taken}</script><img src=x onerror="{taken}">\u202eمزرعة 🐔'
    data: dict[str, Any] = {
        "site": {"name": name * 40, "latitude_deg": 52.1, "longitude_deg": 5.2, "zone": "Europe/Amsterdam"},
        "kept_in": [{"from": "03-10", "to": "03-12", "why": name}],
        "season": [{"name": name, "from": "05-01", "to": "08-01", "evening": {"later_min": 3}}],
    }
    from sunsched.config.configuration import Configuration

    path = pages / "hostile.html"
    path.write_bytes(report_file.report_of(pipeline.built(Configuration.model_validate(data), YEAR)))
    for size in (DESKTOP, PHONE):
        browser.open(path, size)
        assert browser.messages() == []
        assert browser.requests() == [path.as_uri()]
        assert browser.driver.title != "taken"
        assert browser.run("return document.documentElement.scrollWidth") == size[0]
        assert browser.run("return document.querySelectorAll('img').length") == 0
        assert browser.faults_found_by_axe() == []


def test_the_page_with_comparison_faults_and_nights_is_whole(browser: Browser, pages: Path, tmp_path: Path) -> None:
    config = next(path for path in CONFIGS if path.stem == "fig_yard")
    work = pipeline.built(toml_file.read(str(config)), YEAR, str(config))
    log = tmp_path / "nights.txt"
    closing = work.plan.civil_min(work.plan.close_min)
    days = (20, 120, 220, 320)
    log.write_text(
        "".join(f"{date_of(work.plan.first_day + d)} {clock_text(round(float(closing[d])) - 3)}\n" for d in days),
        encoding="utf-8",
    )
    more = (*report_file.comparison_sections(work, 2), report_file.nights_of_log(work, log))
    path = pages / "compared.html"
    path.write_bytes(report_file.report_of(work, str(config), more))
    for size in (DESKTOP, PHONE):
        browser.open(path, size)
        assert browser.messages() == []
        assert browser.run("return document.documentElement.scrollWidth") == size[0]
        assert browser.faults_found_by_axe() == []
        # No word of a picture reaches beyond the picture's own frame.
        assert browser.run(_WORDS_OUTSIDE) == []
    text = browser.pdf(tmp_path / "compared.pdf", A4_INCH)
    assert boxes_outside_paper(tmp_path / "compared.pdf") == []
    assert "What these figures cannot say" in " ".join(text.split())


_WORDS_OUTSIDE = """
const found = [];
for (const svg of document.querySelectorAll('figure svg')) {
  const frame = svg.getBoundingClientRect();
  for (const text of svg.querySelectorAll('text')) {
    const box = text.getBoundingClientRect();
    if (box.left < frame.left - 1 || box.right > frame.right + 1 || box.top < frame.top - 1 ||
        box.bottom > frame.bottom + 1) found.push(text.textContent);
  }
}
return found;
"""
