"""The page holds every day, every warning and what to do, and asks for nothing."""

from __future__ import annotations

import base64
import hashlib
import html as html_module
import re
from pathlib import Path
from typing import Any

import pytest

from sunsched.base.civil_time import clock_text, date_of
from sunsched.config import toml_file
from sunsched.job import pipeline
from sunsched.plan.reasons import Reason
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.report.page import page, report_file
from sunsched.report.pictures.evening import OVERCAST, evening_chart, evening_of, passes
from sunsched.study.trial import Why
from tests.report.drawn import planned
from tests.report.test_year_map import AFTER_MIDNIGHT, POLAR, SOUTH_KEPT
from tests.support.known import known


def page_of(data: dict[str, Any], year: int = 2027) -> tuple[YearPlan, str]:
    """Plan and page of a configuration given as plain data."""
    plan, configuration = planned(data, year)
    stamp = pipeline.stamp_of(configuration, plan, year)
    c = configuration
    return plan, page.text(page.Subject(plan, c.rules, c.light_cell, c.clock, stamp))


def rows_of_months(text: str) -> list[list[str]]:
    """The cells of every day in the month tables."""
    months = text[text.index('class="months"') :]
    months = months[: months.index("</section>")]
    rows = re.findall(r"<tr[^>]*><th scope=\"row\">(.*?)</tr>", months)
    return [[html_module.unescape(re.sub("<[^>]+>", "", cell)) for cell in row.split("</t")[:-1]] for row in rows]


@pytest.mark.parametrize("data", [POLAR, AFTER_MIDNIGHT, SOUTH_KEPT])
@pytest.mark.parametrize("year", [2027, 2028])
def test_every_day_stands_in_the_month_tables(data: dict[str, Any], year: int) -> None:
    plan, text = page_of(data, year)
    rows = [[cell.split(">")[-1] for cell in row] for row in rows_of_months(text)]
    assert len(rows) == plan.n_days == (366 if year == 2028 else 365)
    opens, closes = plan.civil_min(plan.open_min), plan.civil_min(plan.close_min)
    for row, cells in enumerate(rows):
        assert cells[0].split()[0] == str(date_of(plan.first_day + row).day)
        if plan.open_min[row] == NO_MINUTE:
            assert cells[1].startswith("stays down")
            continue
        assert cells[1:3] == [clock_text(round(float(opens[row]))), clock_text(round(float(closes[row])))]
        why = dict.fromkeys(Reason(side[row]).record.short for side in (plan.open_reason, plan.close_reason))
        assert cells[3] == " / ".join(why)


def test_the_policy_names_the_script_and_the_style_that_are_there(config_path: Path) -> None:
    configuration = toml_file.read(str(config_path))
    work = pipeline.built(configuration, 2027, str(config_path))
    content = report_file.report_of(work)
    assert content == report_file.report_of(work)
    assert len(content) < 400_000
    text = content.decode()
    policy = html_module.unescape(known(re.search(r'Content-Security-Policy" content="([^"]*)"', text))[1])
    for tag, name in (("script", "script-src"), ("style", "style-src")):
        inside = re.findall(rf"<{tag}>(.*?)</{tag}>", text, re.DOTALL)
        assert len(inside) == 1
        digest = base64.b64encode(hashlib.sha256(inside[0].encode()).digest()).decode()
        assert f"{name} 'sha256-{digest}'" in policy
    assert "default-src 'none'" in policy
    ids = re.findall(r'\sid="([^"]*)"', text)
    assert len(ids) == len(set(ids))
    assert set(re.findall(r'href="#([^"]*)"|aria-labelledby="(part-[^"]*)"', text)) <= {
        *((name, "") for name in ids),
        *(("", name) for name in ids),
    }
    # Nothing is asked for and nothing is styled in place; the only address is the name of SVG's namespace.
    assert not re.search(r'\sstyle="|\son[a-z]+="|\ssrc=|url\((?!#)|@import', text)
    assert set(re.findall(r"https?://[^\s\"<]+", text)) <= {"http://www.w3.org/2000/svg"}
    assert str(config_path.parent) not in text


def test_every_warning_of_a_plan_says_what_to_do() -> None:
    odd = {
        "site": {"name": "W", "latitude_deg": 69.1, "longitude_deg": 24.4, "zone": "Europe/Oslo"},
        "evening": {"twilight": "nautical", "later_min": -90, "not_after": "23:00", "no_twilight": ["limit"]},
        "morning": {"twilight": "civil", "not_before": "06:30", "not_after": "07:30"},
        "season": [{"name": "leap", "from": "02-29", "to": "02-29", "morning": {"later_min": 1}}],
        "kept_in": [{"from": "2031-01-01", "to": "2031-02-01"}],
    }
    late = {
        "site": {"name": "L", "latitude_deg": 52.0, "longitude_deg": 5.0, "zone": "America/New_York"},
        "evening": {"depression_deg": 13.0},
        "morning": {"not_before": "05:00"},
        "chip": {"keeps": "utc"},
    }
    shut = {**POLAR, "evening": {"twilight": "civil", "no_twilight": ["shut"]}, "warn": {"least_open_h": 12}}
    warnings = [w for data in (odd, late, shut) for w in planned(data)[0].warnings]
    advice = {re.sub(r"[0-9']+.*", "", w.text): w.to_do for w in warnings}
    assert all(text.endswith(".") for text in advice.values())
    # The sides of the day share one advice; every other kind of warning has its own.
    assert len(advice) - len(set(advice.values())) == 1


def test_warnings_stand_on_the_page_with_what_to_do() -> None:
    plan, text = page_of({**POLAR, "warn": {"least_open_h": 12}})
    assert plan.warnings
    for warning in plan.warnings:
        assert html_module.escape(warning.text) in text
        assert html_module.escape(warning.to_do) in text


# By hand: an overcast tenth of the light passes a level when a clear sky passes ten times that level.
def test_the_evening_passes_its_thresholds_in_order() -> None:
    plan, configuration = planned(AFTER_MIDNIGHT)
    evening = evening_of(plan, configuration.rules, configuration.light_cell, 60)
    assert evening is not None
    cell = configuration.light_cell
    dark, light, dull = (passes(evening, lux) for lux in (cell.dark_lux, cell.light_lux, cell.dark_lux / OVERCAST))
    assert dark is not None and light is not None and dull is not None
    assert dull < light < dark
    k = int(dark - evening.civil_min[0])
    assert evening.clear_lux[k] >= cell.dark_lux >= evening.clear_lux[k + 1]


def test_page_and_map_say_what_a_limit_binds() -> None:
    data = {**AFTER_MIDNIGHT, "evening": {"depression_deg": 4.5, "not_after": "23:00", "cell_from_min": -10}}
    _, text = page_of(data)
    assert "by light from -10 to +0 min around the planned minute, also beyond a limit: limits bind" in text
    assert "The lines are the planned minutes, which your limits bind; by light the door may close from -10" in text
    _, text = page_of({**data, "evening": {"depression_deg": 4.5, "not_after": "23:00"}})
    assert "it goes by the clock alone" in text and "also beyond a limit" not in text


def test_an_evening_says_what_the_program_does() -> None:
    data = {**AFTER_MIDNIGHT, "evening": {"depression_deg": 4.5, "not_after": "00:45", "cell_until_min": 15}}
    plan, configuration = planned(data)
    evening = evening_of(plan, configuration.rules, configuration.light_cell, 60)
    drawing = evening_chart(plan, configuration.rules, configuration.light_cell, 60, "e")
    assert evening is not None and drawing is not None and evening.cell_acts
    for minute, why in (evening.clear, evening.dull):
        assert why is Why.LIGHT and evening.window_min[0] <= minute <= evening.window_min[1]
        assert clock_text(round(minute)) in drawing.title and clock_text(round(minute)) in drawing.description
    assert "by the clock" not in drawing.description
    # Without a window the clock alone decides, and the picture says so.
    plan, configuration = planned(AFTER_MIDNIGHT)
    drawing = evening_chart(plan, configuration.rules, configuration.light_cell, 60, "e")
    assert drawing is not None and "by the clock" in drawing.title and "the light may not act" in drawing.description


def test_a_months_line_says_equal_ends_once_and_its_days_down() -> None:
    data = {**SOUTH_KEPT, "morning": {"twilight": "civil", "not_before": "09:30"}}
    _, text = page_of(data)
    lines = re.findall(r"<small>(.*?)</small>", text)
    assert len(lines) == 12
    # By hand: 09:30 is after every civil dawn at 45 S. Kept in: 1 to 10 January, 1 to 21 June, 20 to 31 December.
    assert all(line.startswith("09:30, ") for line in lines)
    assert [line.rpartition(", ")[2] for line in lines if "down" in line] == [f"down on {n} days" for n in (10, 21, 12)]


def test_a_season_stands_on_the_page_in_words() -> None:
    season = {
        "name": "cubs",
        "from": "04-15",
        "to": "07-10",
        "morning": {"twilight": "sunrise", "no_twilight": ["shut"], "later_min": 0, "not_before": "06:00"},
        "evening": {"later_min": -5, "cell_until_min": 7, "weekday_later_min": {"sun": 10}, "fallback_lux": 20.0},
    }
    _, text = page_of({**SOUTH_KEPT, "season": [season]})
    told = " ".join(html_module.unescape(re.sub("<[^>]+>", "", text)).split())
    assert (
        "cubs (04-15 to 07-10): morning: sunrise, no minutes later or earlier, planned not before 06:00, if the Sun "
        "never gets there: shut; evening: 5 min earlier, the light that stands in: 20 lux, by light from +0 to +7 min "
        "around the planned minute, sun 10 min later"
    ) in told


def test_the_line_of_the_day_lies_below_the_times_on_the_map() -> None:
    _, text = page_of(AFTER_MIDNIGHT)
    names = [found.start() for found in re.finditer(r'class="[^"]*\bat-(?:open|close)\b', text)]
    assert names and 0 < text.index('id="year-mark"') < min(names)
