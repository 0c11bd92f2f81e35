"""One sheet for several huts: every hut on every date, in the order of the evening's look, in all three forms."""

from __future__ import annotations

import csv
import datetime as dt
import html as html_module
import io
import re
from typing import Any

import pytest
from typer.testing import CliRunner

from sunsched.cli.app import app
from sunsched.report.sheets import handover, several_huts, sheet_file
from sunsched.report.sheets.several_huts import Round
from sunsched.report.sheets.words import ENGLISH
from tests.conftest import CONFIGS
from tests.report.test_handover import sheet_of
from tests.support.command_line import sunsched_bytes as run

EAST: dict[str, Any] = {
    "site": {"name": "East <b>", "latitude_deg": 52.0, "longitude_deg": 9.0, "zone": "Europe/Berlin"},
    "evening": {"depression_deg": 4.5, "not_after": "21:00", "cell_from_min": -5, "cell_until_min": 20},
    "kept_in": [{"from": "2027-03-10", "to": "2027-03-10", "why": "frost"}],
    "flock": {"birds": 9},
}
# By hand: six degrees further east the Sun goes down 24 min earlier, and the window there ends 20 min later.
WEST: dict[str, Any] = {
    "site": {"name": "West", "latitude_deg": 52.0, "longitude_deg": 3.0, "zone": "Europe/Brussels"},
    "evening": {"depression_deg": 4.5},
}


def both(order: tuple[dict[str, Any], ...] = (WEST, EAST)) -> list[handover.Handover]:
    """The sheets of both huts over four days, one of them shut in the east."""
    return [sheet_of(data, "2027-03-08", "2027-03-11") for data in order]


def test_the_huts_of_a_date_stand_in_the_order_of_the_look() -> None:
    for sheets in (both(), both((EAST, WEST))):
        several = Round(tuple(sheets))
        for k, huts in enumerate(several.evenings()):
            shut = huts[-1][1].opens == ""
            assert shut == (k == 2)
            names = [sheet.plan.site.name for sheet, _ in huts]
            # A hut whose door stays down comes last; else the earlier look comes first.
            assert names == (["West", "East <b>"] if shut else sorted(names, key=lambda n: n == "West"))
            looks = [day.look for _, day in huts if day.look]
            assert looks == sorted(looks)


def test_the_same_huts_in_all_three_forms() -> None:
    sheets = both()
    days = {(sheet.plan.site.name, day.iso_date): day for sheet in sheets for day in sheet.days}
    page, text, table = (sheet_file.sheets_bytes(sheets, ending).decode() for ending in (".html", ".txt", ".csv"))
    rows = list(csv.DictReader(io.StringIO(table, newline="")))
    assert {(row["hut"], row["date"]) for row in rows} == set(days) and len(rows) == 8
    shown = html_module.unescape(re.sub("<[^>]+>", " ", page))
    for row in rows:
        day = days[row["hut"], row["date"]]
        assert (row["opens_between"], row["closes_between"], row["look"]) == (day.opens, day.closes, day.look)
        if day.opens:
            birds = " (9 birds)" if row["hut"].startswith("East") else ""
            times = rf"{re.escape(row['hut'])}\s*{re.escape(birds)}\s+{day.opens}\s+{day.closes}\s+{day.look}"
            for place in (shown, text):
                assert re.search(times, place)
    assert max(len(line) for line in text.splitlines()) <= 78
    assert text.count("stays down all day (frost)") == 1
    assert "there should be the number beside the hut's name" in " ".join(text.split())
    # What a limit binds is said of the hut that has one; zones are named where they differ.
    assert "East <b>: By light the door may close" in " ".join(text.split()) and "West: By" not in text
    assert "Europe/Brussels, Europe/Berlin" in " ".join(text.split())


def test_a_hut_that_stays_down_says_what_its_birds_need() -> None:
    for sheets in (both(), both((EAST, WEST))):
        assert ENGLISH.kept_days in " ".join(several_huts.text(Round(tuple(sheets))).split())
    assert ENGLISH.kept_days not in " ".join(several_huts.text(Round(tuple(both((WEST, WEST))))).split())


def test_warnings_name_their_hut() -> None:
    short = {**EAST, "warn": {"least_open_h": 20}}
    found = sheet_file.warnings_of(both((WEST, short)))
    assert found and {w.text.partition(":")[0] for w in found if "least_open_h" in w.text} == {"East <b>"}


def test_the_command_takes_several_huts_for_a_week() -> None:
    configs = [str(path) for path in CONFIGS[:2]]
    done = CliRunner().invoke(app, ["handover", *configs, "--from", "2027-03-08"])
    assert done.exit_code == 0
    assert "Looking after the birds: 2 huts" in done.output
    first = dt.date(2027, 3, 8)
    assert all(f"{first + dt.timedelta(k):%a} {8 + k} March" in done.output for k in range(7))


@pytest.mark.parametrize("words", [("--ics", "x.ics"), ("--commission",)])
def test_what_is_of_one_hut_is_refused_for_several(words: tuple[str, ...]) -> None:
    done = run("handover", str(CONFIGS[0]), str(CONFIGS[1]), "--from", "2027-03-08", *words)
    assert done.returncode == 2 and "wanted one configuration" in done.stderr.decode()
