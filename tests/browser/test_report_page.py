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
from sunsched.report.sheets.days import day_notes
from sunsched.report.sheets.words import ENGLISH
from tests.browser.browser import (
    A4_INCH,
    DESKTOP,
    LETTER_INCH,
    NARROW,
    PHONE,
    TABLET,
    Browser,
    boxes_outside_paper,
)
from tests.conftest import CONFIGS

YEAR = 2028
LARCH, BIRCH, TUSSOCK = (CONFIGS[0].parent / f"{name}.toml" for name in ("larch_end", "birch_hollow", "tussock_flat"))


class Report:
    """The page of one shipped configuration, with its plan."""

    def __init__(self, config: Path, folder: Path, year: int = YEAR) -> None:
        configuration = toml_file.read(str(config))
        work = pipeline.built(configuration, year, str(config))
        self.plan: YearPlan = work.plan
        self.notes = day_notes(work.plan, configuration.rules, ENGLISH)
        self.path = folder / f"{config.stem}_{year}.html"
        self.path.write_bytes(report_file.report_of(work, str(config)))

    def said_of(self, row: int) -> str:
        """What the day reader must say of a row, from the plan."""
        date, plan = date_of(self.plan.first_day + row), self.plan
        head = f"{date:%a} {date.day} {date:%b} {date.year}: "
        why = [Reason(side[row]).record.said for side in (plan.open_reason, plan.close_reason)]
        if plan.open_min[row] == NO_MINUTE:
            return f"{head}{'; '.join(self.notes[row])}"
        opens, closes = (
            [clock_text(round(float(minute))) if minute == minute else None for minute in plan.civil_min(column)]
            for column in (plan.open_min, plan.close_min)
        )
        following = opens[row + 1] if row + 1 < plan.n_days else None
        tail = f"; next opening {following}" if following else ""
        return f"{head}opens {opens[row]} by {why[0]}; closes {closes[row]} by {why[1]}{tail}"


@pytest.fixture(scope="module", params=CONFIGS, ids=lambda path: path.stem)
def report(request: pytest.FixtureRequest, pages: Path) -> Report:
    """The report of each shipped configuration in turn."""
    return _made(request.param, pages)


@pytest.fixture(scope="module", params=[LARCH, TUSSOCK], ids=lambda path: path.stem)
def kept_report(request: pytest.FixtureRequest, pages: Path) -> Report:
    """The reports of two configurations with days kept in."""
    return _made(request.param, pages)


# Workers share tests out one by one; each makes a configuration's report once.
_made = lru_cache(maxsize=12)(Report)
_OPEN_ALL = "document.querySelectorAll('details').forEach((one) => { one.open = true; })"


def reader(browser: Browser) -> str:
    """What the day reader says now."""
    return str(browser.run("return document.getElementById('reader-text').textContent"))


def test_the_page_is_quiet_offline_and_accessible(report: Report, browser: Browser) -> None:
    for size, dark in ((DESKTOP, False), (PHONE, True), (NARROW, False)):
        browser.open(report.path, size, dark)
        assert browser.messages() == []
        assert browser.requests() == [report.path.as_uri()]
        if size == PHONE:
            assert browser.faults_found_by_axe() == []
        browser.run(_OPEN_ALL)
        # Nothing reaches beyond the window sideways, no table is cut, no word of a picture leaves its frame.
        assert browser.run("return document.documentElement.scrollWidth") == size[0]
        assert browser.run(_WORDS_OUTSIDE) == []
        assert size == DESKTOP or browser.run(_TABLES_CUT) == []
        # A month's times stand in one line of their own, none broken after its dash.
        assert browser.run(_LINES_OF_MONTHS) == [1]


_TABLES_CUT = """
return [...document.querySelectorAll('.scrolled, table')]
  .filter((one) => one.scrollWidth > one.clientWidth + 1 || one.getBoundingClientRect().right > innerWidth + 1)
  .map((one) => one.outerHTML.slice(0, 80));
"""


_LINES_OF_MONTHS = """
const lines = (one) => new Set([...one.getClientRects()].map((box) => Math.round(box.top))).size;
return [...new Set([...document.querySelectorAll('.month small')].map((one) => {
  const text = document.createRange();
  text.selectNodeContents(one);
  return lines(text);
}))];
"""


def test_what_is_folded_is_accessible_too(browser: Browser, pages: Path) -> None:
    browser.open(_made(LARCH, pages).path)
    # One month for all: they are alike, and the checker takes a second for each.
    browser.run("document.querySelectorAll('.folds details, #month-2028-11').forEach((one) => { one.open = true; })")
    assert browser.faults_found_by_axe() == []


# By hand from the plans of 2027: the site's zone decides which evening it is, whatever the browser's own.
@pytest.mark.parametrize(
    ("config", "now", "head", "here", "lines"),
    [
        (LARCH, "2026-12-20T16:00Z", "Fri 1 Jan 2027", "This page begins on Fri 1 Jan 2027, which is still to come.",
         ["Down between 17:00 and 17:25", "Look at 17:35: door down, birds counted."]),
        (LARCH, "2027-06-21T19:50Z", "Tonight, Mon 21 Jun 2027",
         "Now, 21:50: the door should be closing; down by 22:13.",
         ["Down between 21:38 and 22:03", "Planned 21:48 by the Sun, with your minutes later or earlier.",
          "Look at 22:13: door down, birds counted.",
          "Opens Tue 22 Jun between 06:20 and 06:45, planned 06:30 by your limit (not before)."]),
        (LARCH, "2027-06-22T00:30Z", "Tonight, Tue 22 Jun 2027",
         "Now, 02:30: the door should be down until 06:20.", ["Down between 21:38 and 22:03"]),
        (LARCH, "2027-06-22T10:00Z", "Tonight, Tue 22 Jun 2027",
         "Now, 12:00: the door should be up until 21:38.", ["Down between 21:38 and 22:03"]),
        (LARCH, "2028-01-03T16:00Z", "Fri 31 Dec 2027",
         "This page ended on Fri 31 Dec 2027: have the page of this year made.",
         ["Down between 16:59 and 17:24", "The next morning is in next year's page."]),
        (LARCH, "2027-10-31T16:30Z", "Tonight, Sun 31 Oct 2027",
         "Now, 17:30: the door should be closing; down by 17:58.",
         ["That morning, Sun 31 Oct: opens between 07:24 and 07:49.",
          "Note for that morning: clocks go back 60 min before this day's opening; the times here follow."]),
        (LARCH, "2027-10-30T16:30Z", "Tonight, Sat 30 Oct 2027",
         "Now, 18:30: the door should be closing; down by 18:59.",
         ["Note for Sun 31 Oct: clocks go back 60 min before this day's opening; the times here follow."]),
        (LARCH, "2027-11-25T12:00Z", "Tonight, Thu 25 Nov 2027", "Now, 13:00: the door should be down.",
         ["The door stays down", "Stays down all day (housing order).",
          "The birds need light, water, food and air inside."]),
        (BIRCH, "2027-06-21T21:05Z", "Tonight, Mon 21 Jun 2027",
         "Now, 23:05: the door should be closing; down by 23:30.",
         ["Down between 22:50 and 23:20", "Planned 23:00 by your limit, for there is no twilight that day."]),
    ],
    ids=["before", "in the year", "at night", "by day", "after", "clocks", "eve of the clocks", "order", "white night"],
)  # fmt: skip
def test_the_card_says_tonight(
    browser: Browser, pages: Path, config: Path, now: str, head: str, here: str, lines: list[str]
) -> None:
    browser.set_clock(now)
    try:
        browser.open(_made(config, pages, 2027).path, PHONE)
    finally:
        browser.set_clock()
    shown = browser.run("return document.getElementById('tonight').innerText").split("\n")
    assert [line for line in shown if line][:2] == [head, here]
    assert [line for line in lines if line not in shown] == []


def test_on_a_phone_every_month_is_two_screens_away(report: Report, browser: Browser) -> None:
    browser.open(report.path, PHONE)
    links = browser.driver.find_elements(By.CSS_SELECTOR, ".months-nav a")
    assert len(links) == 12
    for month in (0, 11):
        browser.run("scrollTo(0, 0)")
        assert links[month].rect["y"] + links[month].rect["height"] <= 2 * PHONE[1]
        links[month].click()
        name = str(links[month].get_attribute("href")).rpartition("#")[2]
        table = browser.driver.find_element(By.CSS_SELECTOR, f"#{name} table")
        assert table.is_displayed()
        assert 0 <= browser.run("return arguments[0].getBoundingClientRect().top", table) <= PHONE[1] / 2


def test_keys_alone_reach_date_days_months_and_what_is_folded(browser: Browser, pages: Path) -> None:
    browser.set_clock("2027-06-21T19:50Z")
    try:
        browser.open(_made(LARCH, pages, 2027).path)
    finally:
        browser.set_clock()

    def focused() -> str:
        named = "const at = document.activeElement; return at.id || at.getAttribute('href') || at.textContent"
        return str(browser.run(named))

    def press(*keys: str) -> None:
        ActionChains(browser.driver).send_keys(*keys).perform()

    def until(name: str, most: int = 60) -> None:
        for _ in range(most):
            press(Keys.TAB)
            if focused() == name:
                return
        raise AssertionError(f"{name} is not reached by Tab; at {focused()}")

    def head() -> str:
        return str(browser.run("return document.getElementById('tonight-h').textContent"))

    until("day-before")
    press(Keys.SPACE)
    assert head() == "Sun 20 Jun 2027"
    until("day-after")
    press(Keys.ENTER)
    assert head() == "Tonight, Mon 21 Jun 2027"
    press(Keys.ENTER)
    assert head() == "Tue 22 Jun 2027"
    until("day-today")
    press(Keys.SPACE)
    assert head() == "Tonight, Mon 21 Jun 2027"
    until("#month-2027-03")
    press(Keys.ENTER)
    assert browser.run("return document.getElementById('month-2027-03').open")
    until("For the chip")
    press(Keys.ENTER)
    assert browser.run("return document.querySelector('#part-chip details').open")


def test_a_date_that_is_picked_is_shown(browser: Browser, pages: Path) -> None:
    report = _made(LARCH, pages)
    browser.open(report.path)
    for row in (0, 59, report.plan.n_days - 1):
        browser.run(
            "const date = document.getElementById('day-date'); date.value = arguments[0];"
            "date.dispatchEvent(new Event('change'))",
            str(date_of(report.plan.first_day + row)),
        )
        assert reader(browser) == report.said_of(row)
    browser.driver.get(f"{report.path.as_uri()}#{date_of(report.plan.first_day + 40)}")
    assert reader(browser) == report.said_of(40)
    assert browser.run("return document.getElementById('tonight-now').innerText") == ""


def test_keys_move_the_day_reader_to_the_plans_values(kept_report: Report, browser: Browser) -> None:
    report = kept_report
    browser.open(report.path)
    slider = browser.driver.find_element(By.ID, "reader-day")
    slider.send_keys(Keys.HOME)
    row = 0
    assert reader(browser) == report.said_of(row)
    for key, step in ((Keys.ARROW_RIGHT, 1), (Keys.ARROW_RIGHT, 1), (Keys.ARROW_LEFT, -1), (Keys.END, 365)):
        slider.send_keys(key)
        row = min(max(row + step, 0), report.plan.n_days - 1)
        assert reader(browser) == report.said_of(row)
        assert slider.get_attribute("aria-valuetext") == report.said_of(row)


def test_the_mouse_reads_the_day_it_points_at(kept_report: Report, browser: Browser) -> None:
    report = kept_report
    browser.open(report.path)
    chart = browser.driver.find_element(By.ID, "year")
    for row in random.Random(report.path.stem).sample(range(report.plan.n_days), 4):
        # The row's place comes from the ink: the step of that night on the drawn line, or the frame's share of rows.
        place = browser.run(_PLACE_OF_ROW, row, report.plan.n_days)
        browser.run("scrollBy(0, arguments[0] - innerHeight / 2)", place["y"])
        place = browser.run(_PLACE_OF_ROW, row, report.plan.n_days)
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
    """The two dots stand on the drawn line, or on a dot of its own, in the night after the row's evening."""
    for side, column, at in (("close", report.plan.close_min, row), ("open", report.plan.open_min, row + 1)):
        dot = browser.driver.find_element(By.ID, f"year-mark-{side}")
        shown = dot.get_attribute("visibility") != "hidden"
        assert shown == (at < report.plan.n_days and column[at] != NO_MINUTE)
        if shown:
            inside = browser.run(
                "const lines = ['', '-apart'].map((end) => document.getElementById(`year-${arguments[0]}${end}`));"
                "const dot = document.getElementById(`year-mark-${arguments[0]}`);"
                "const point = new DOMPoint(+dot.getAttribute('cx'), +dot.getAttribute('cy'));"
                "return lines.some((line) => line && line.isPointInStroke(point));",
                side,
            )
            assert inside


def test_the_page_prints_on_two_pages_and_the_months(report: Report, browser: Browser, tmp_path: Path) -> None:
    for paper in (A4_INCH, LETTER_INCH) if report.path.stem.startswith("larch") else (A4_INCH,):
        browser.open(report.path)
        text = browser.pdf(tmp_path / "page.pdf", paper)
        assert boxes_outside_paper(tmp_path / "page.pdf") == []
        flat = " ".join(text.split())
        # Every day of every month is on paper, and the last line of the page too.
        days = re.findall(r"\b\d{1,2} (?:Mon|Tue|Wed|Thu|Fri|Sat|Sun) (?:\d\d:\d\d|stays)", flat)
        assert len(days) == report.plan.n_days
        assert "Made by sunsched" in flat
        first, second, *months = text.removesuffix("\f").split("\f")
        assert len(months) == 2 and "Every day, month by month" in months[0]
        assert "The year" in second and "Cautions" in first
        for warning in report.plan.warnings:
            # A line may break anywhere, also after the hyphen of a date, and columns stand side by side.
            assert all(word in "".join(first.split()) for word in re.findall(r"\w+", warning.text))
        # No heading is the last line of its page.
        for page in (first, second, *months):
            assert page.rstrip().splitlines()[-1].strip() not in _HEADINGS


_HEADINGS = {
    "Warnings, and what to do", "What was asked", "Cautions", "The year", "Light on three evenings",
    "Every day, month by month", "Morning", "Evening", "Seasons",
}  # fmt: skip


def test_without_its_script_the_page_is_complete(browser: Browser, pages: Path) -> None:
    report = _made(LARCH, pages)
    browser.command("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        browser.open(report.path)
        for hidden in ("tonight", "reader", "months-open"):
            assert not browser.driver.find_element(By.ID, hidden).is_displayed()
        rows = browser.driver.find_elements(By.CSS_SELECTOR, ".months tbody tr")
        assert len(rows) == report.plan.n_days
        browser.driver.find_element(By.CSS_SELECTOR, "#month-2028-05 summary").click()
        assert browser.driver.find_element(By.CSS_SELECTOR, "#month-2028-05 table").is_displayed()
    finally:
        browser.command("Emulation.setScriptExecutionDisabled", {"value": False})


def sheet_page(configs: list[Path], folder: Path, commission: bool) -> Path:
    """A sheet over the autumn's change of the clocks; one for the round where there are several huts."""
    first = dt.date(YEAR, 10, 25)
    sheets = [
        sheet_file.sheet_of(toml_file.read(str(config)), first, first + dt.timedelta(6), commission=commission)
        for config in configs
    ]
    path = folder / f"{configs[0].stem}_{len(configs)}_{commission}.html"
    path.write_bytes(sheet_file.sheets_bytes(sheets, ".html"))
    return path


@pytest.mark.parametrize(
    ("configs", "commission"), [([LARCH], False), ([LARCH], True), ([LARCH, BIRCH], False)], ids=["one", "first", "two"]
)
def test_sheets_are_quiet_accessible_and_print(
    browser: Browser, pages: Path, configs: list[Path], commission: bool, tmp_path: Path
) -> None:
    path = sheet_page(configs, pages, commission)
    for size in (TABLET, PHONE, NARROW):
        browser.open(path, size, size == TABLET)
        assert browser.messages() == []
        assert browser.requests() == [path.as_uri()]
        assert browser.run("return document.documentElement.scrollWidth") == size[0]
        assert browser.run(_TABLES_CUT) == []
        assert size == NARROW or browser.faults_found_by_axe() == []
        # Each blank has a line to write on; a date stands in one line where there is room for a table.
        assert min(browser.run(_WIDTHS, ".lines i")) >= 100
        assert size != TABLET or browser.run(_LINES_OF_DATES) == ([1] if len(configs) == 1 else [])
    text = browser.pdf(tmp_path / "sheet.pdf", A4_INCH)
    assert not any(page.rstrip().endswith("The worst come first:") for page in text.split("\f"))
    assert boxes_outside_paper(tmp_path / "sheet.pdf") == []
    assert "GENERATED by sunsched" in " ".join(text.split())
    assert text.count("\f") <= 3


_WIDTHS = "return [...document.querySelectorAll(arguments[0])].map((one) => one.getBoundingClientRect().width)"
_LINES_OF_DATES = _LINES_OF_MONTHS.replace(".month small", ".dated tbody th")


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
    config = next(path for path in CONFIGS if path.stem == "larch_end")
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
        browser.run("document.querySelectorAll('.wide').forEach((one) => { one.open = true; })")
        assert browser.messages() == []
        assert browser.run("return document.documentElement.scrollWidth") == size[0]
        # No word of a picture reaches beyond the picture's own frame.
        assert browser.run(_WORDS_OUTSIDE) == []
    assert browser.run(_TABLES_CUT) == []
    assert browser.faults_found_by_axe() == []
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
