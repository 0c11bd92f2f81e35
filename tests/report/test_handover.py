"""The sheets: the plan's times in civil time, when to look, what is unusual, every word from one file."""

from __future__ import annotations

import csv
import dataclasses
import datetime as dt
import html as html_module
import io
import re
from typing import Any

import pytest

from sunsched.base.errors import UsageError
from sunsched.config.configuration import Configuration
from sunsched.controller.words import Alarm
from sunsched.report.sheets import handover, sheet_file
from sunsched.report.sheets.days import between_words, clock_words
from sunsched.report.sheets.words import ENGLISH, SheetWords
from tests.report.test_year_map import SOUTH_KEPT


def sheet_of(data: dict[str, Any], first: str, last: str, **options: Any) -> handover.Handover:
    """A sheet from plain data."""
    span = (dt.date.fromisoformat(first), dt.date.fromisoformat(last))
    return sheet_file.sheet_of(Configuration.model_validate(data), *span, **options)


# By hand: noon is 12 pm and midnight 12 am in twelve-hour time (common practice).
@pytest.mark.parametrize(
    ("minute", "plain", "twelve"),
    [
        (0, "00:00", "12:00 am"),
        (391, "06:31", "6:31 am"),
        (720, "12:00", "12:00 pm"),
        (1265, "21:05", "9:05 pm"),
        (1460, "00:20 next day", "12:20 am next day"),
        (-10, "23:50 the day before", "11:50 pm the day before"),
    ],
)
def test_clock_words(minute: int, plain: str, twelve: str) -> None:
    assert clock_words(minute, ENGLISH, False) == plain
    assert clock_words(minute, ENGLISH, True) == twelve


def test_the_same_days_in_all_three_forms() -> None:
    sheet = sheet_of(SOUTH_KEPT, "2027-09-20", "2027-10-02")
    rows = list(csv.DictReader(io.StringIO(handover.csv_text(sheet), newline="")))
    assert [row["date"] for row in rows] == [f"{dt.date(2027, 9, 20) + dt.timedelta(k)}" for k in range(13)]
    page, text = handover.html(sheet), handover.text(sheet)
    for row, day in zip(rows, sheet.days, strict=True):
        for place in (re.sub("<[^>]+>", " ", page), text):
            assert re.search(rf"{day.date}\s+{row['opens_between']}\s+{row['closes_between']}\s+{row['look']}", place)
        assert (row["opens"], row["closes"]) == day.planned
    assert max(len(line) for line in text.splitlines()) <= 78
    assert "<script" not in page


# New Zealand: daylight time begins on the last Sunday of September (Time Act 1974 order of 2007), 26 September 2027.
def test_a_change_of_the_clocks_is_said_on_its_day() -> None:
    sheet = sheet_of(SOUTH_KEPT, "2027-09-20", "2027-10-02")
    noted = {day.iso_date: day.note for day in sheet.days if day.note}
    assert list(noted) == ["2027-09-26"]
    assert "forward 60 min" in noted["2027-09-26"]


def test_days_kept_in_say_why_and_have_no_times() -> None:
    data = {**SOUTH_KEPT, "kept_in": [{"from": "2027-06-01", "to": "2027-06-03", "why": "housing order"}]}
    sheet = sheet_of(data, "2027-05-31", "2027-06-04")
    assert [bool(day.opens) for day in sheet.days] == [True, False, False, False, True]
    assert sheet.days[1].note == "stays down all day (housing order)"
    text = handover.text(sheet)
    assert text.count("housing order") == 3
    # Whoever looks after shut-in birds is told what they need; a sheet without such a day does not say it.
    other = sheet_of(data, "2027-05-30", "2027-05-31")
    for form in (handover.text, handover.html):
        assert ENGLISH.kept_days in " ".join(form(sheet).split())
        assert ENGLISH.kept_days not in " ".join(form(other).split())


def test_look_is_after_the_last_minute_at_which_the_cell_may_close() -> None:
    data = {**SOUTH_KEPT, "evening": {"depression_deg": 4.0, "cell_from_min": -5, "cell_until_min": 20}}
    sheet = sheet_of(data, "2027-02-01", "2027-02-02")
    day = sheet.days[0]
    first, last = day.closes.split("–")
    early, close, late, look = (dt.datetime.strptime(t, "%H:%M") for t in (first, day.planned[1], last, day.look))
    assert (close - early, late - close, look - close) == tuple(dt.timedelta(minutes=n) for n in (5, 20, 30))
    assert "past a time" not in handover.text(sheet)
    limited = {**data, "evening": {**data["evening"], "not_after": "21:00"}}
    words = " ".join(handover.text(sheet_of(limited, "2027-02-01", "2027-02-02")).split())
    assert "up to 5 min before its planned minute and up to 20 min after it, also past a time" in words


@pytest.mark.parametrize(
    ("first", "last", "plain", "twelve"),
    [
        (391, 391, "06:31", "6:31 am"),
        (380, 405, "06:20–06:45", "6:20–6:45 am"),
        (710, 735, "11:50–12:15", "11:50 am–12:15 pm"),
        (1430, 1450, "23:50–00:10 next day", "11:50 pm–12:10 am next day"),
    ],
)
def test_between_words(first: int, last: int, plain: str, twelve: str) -> None:
    assert between_words(first, last, ENGLISH, False) == plain
    assert between_words(first, last, ENGLISH, True) == twelve


def test_no_flock_is_invented() -> None:
    assert "there should be ______." in handover.text(sheet_of(SOUTH_KEPT, "2027-02-01", "2027-02-02"))
    told = {**SOUTH_KEPT, "flock": {"birds": 6}}
    assert "there should be 6." in handover.text(sheet_of(told, "2027-02-01", "2027-02-02"))


def test_every_alarm_of_the_chip_is_explained() -> None:
    names = {alarm.name.lower() for alarm in Alarm if alarm.name} - {"none", "no_table"}
    # words of the log that are no bit of their own: LOG.md
    assert set(ENGLISH.alarms) == names | {"no_witness", "expired", "not_begun"}
    # A sitter sees a lamp and no log: what it is and what to do are said, and the log's own name is not.
    shown = " ".join(handover.text(sheet_of(SOUTH_KEPT, "2027-02-01", "2027-02-02")).split())
    for name, (what, to_do) in ENGLISH.alarms.items():
        assert f"- {what}. {to_do}" in shown
        assert f"{name.replace('_', ' ')}:" not in shown


def test_the_first_week_names_what_was_configured() -> None:
    data = {**SOUTH_KEPT, "motor": {"cutoff_up_s": 11, "cutoff_down_s": 17}, "spool": {"turns_left_when_down": 6.5}}
    text = " ".join(handover.text(sheet_of(data, "2027-03-01", "2027-03-07", commission=True)).split())
    for words in ("Cut-off up 11 s, cut-off down 17 s", "door down: 6.5", "Clock set to standard time, UTC+12 h"):
        assert words in text
    # By hand: 5 lux on a 50 kohm, gamma 0.7 cell is 81.2 kohm; with 100 kohm fixed, 1024 x 100/181.2 = 565.
    assert "dark 565" in text
    blank = " ".join(handover.text(sheet_of(SOUTH_KEPT, "2027-03-01", "2027-03-07", commission=True)).split())
    assert "Cut-off up ______, cut-off down ______" in blank


def test_spans_are_refused_outside_a_year() -> None:
    for first, last in (("2027-03-02", "2027-03-01"), ("2027-01-01", "2028-01-02")):
        with pytest.raises(UsageError, match="wanted 1 to 366"):
            sheet_of(SOUTH_KEPT, first, last)


def translated() -> SheetWords:
    """The words in a made-up language: every letter outside {...} becomes a Greek one."""

    def turn(value: Any) -> Any:
        if isinstance(value, str):
            parts = re.split(r"(\{[a-z_]+\})", value)
            return "".join(p if p.startswith("{") else re.sub("[A-Za-z]", "λ", p) for p in parts)
        if isinstance(value, tuple):
            return tuple(turn(part) for part in value)
        return {key: turn(part) for key, part in value.items()}

    return SheetWords(**{f.name: turn(getattr(ENGLISH, f.name)) for f in dataclasses.fields(SheetWords)})


def test_every_word_of_a_sheet_comes_from_the_words_file() -> None:
    data = {**SOUTH_KEPT, "site": {**SOUTH_KEPT["site"], "name": "1234"}}
    for commission in (False, True):
        sheet = sheet_of(data, "2027-09-20", "2027-10-02", commission=commission, twelve_hour=True)
        sheet = dataclasses.replace(sheet, words=translated())
        shown = re.sub("<style>.*?</style>|<title>|<[^>]+>", " ", handover.html(sheet), flags=re.DOTALL)
        for text in (html_module.unescape(shown), re.sub("sunsched-text:[0-9a-f]+", "", handover.text(sheet))):
            # What is left in English: the zone's own name and the origin.
            known = {"Pacific/Auckland", "GENERATED", "by", "sunsched", "tzdata", "UTC"}
            words = {w for w in re.findall(r"[A-Za-z/]{2,}", text) if not w.startswith("λ")}
            assert {w for w in words if w not in known and not re.fullmatch("[a-z]", w)} <= {"h"}
