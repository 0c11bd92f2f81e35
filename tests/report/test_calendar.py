"""The calendar by two readers other than its writer, against the plan, on both sides of a change of the clocks."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import icalendar
import numpy as np
import pytest
import vobject

from sunsched.base.text_digest import proven
from sunsched.config import toml_file
from sunsched.controller.door_window import evening_windows, morning_windows
from sunsched.plan.year import NO_MINUTE
from sunsched.report.sheets import calendar, sheet_file
from sunsched.report.sheets.days import clock_changes
from tests.report.drawn import planned
from tests.report.test_year_map import AFTER_MIDNIGHT, SOUTH_KEPT

EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


def events_by_vobject(content: bytes) -> list[Any]:
    """The events as vobject reads them, validated by its own rules."""
    read = vobject.readOne(content.decode(), validate=True, allowQP=False)
    return list(read.vevent_list)


# Directive 2000/84/EC: summer time begins on 28 March 2027 and ends on 31 October 2027.
@pytest.mark.parametrize("first", [dt.date(2027, 3, 25), dt.date(2027, 10, 28)])
def test_events_are_the_plans_around_a_change_of_the_clocks(config_path: Path, first: dt.date) -> None:
    configuration = toml_file.read(str(config_path))
    sheet = sheet_file.sheet_of(configuration, first, first + dt.timedelta(days=6))
    plan, zone = sheet.plan, ZoneInfo(sheet.plan.site.zone)
    moves = [e for e in events_by_vobject(sheet_file.calendar_bytes(sheet)) if "Door" in e.summary.value]
    moves = [e for e in moves if "stays" not in e.summary.value]
    windows = (morning_windows(plan, configuration.rules), evening_windows(plan, configuration.rules))
    found = {}
    for event in moves:
        assert event.dtstart.value.utcoffset() == dt.timedelta(0)
        found[event.dtstart.value] = event
    for row in np.flatnonzero(plan.open_min != NO_MINUTE):
        midnight = EPOCH + dt.timedelta(days=plan.first_day + int(row), minutes=-plan.chip_offset_min)
        day = sheet.days[int(row)]
        for side, shown, planned_at in zip(windows, (day.opens, day.closes), day.planned, strict=True):
            starts, ends = (midnight + dt.timedelta(minutes=int(column[row])) for column in side)
            event = found.pop(starts)
            assert event.duration.value == max(ends - starts, dt.timedelta(minutes=1))
            # The sheet's civil time is the event's in the site's own zone, by Python's zone data.
            ends_of_event = dict.fromkeys(f"{t.astimezone(zone):%H:%M}" for t in (starts, ends))
            assert "–".join(ends_of_event) == shown
            assert planned_at in event.description.value
    assert not found


@pytest.mark.parametrize("data", [AFTER_MIDNIGHT, SOUTH_KEPT])
def test_a_year_passes_a_strict_reader(data: dict[str, Any]) -> None:
    plan, configuration = planned(data, 2028)
    content = calendar.text(plan, configuration.rules)
    assert content == calendar.text(plan, configuration.rules)
    # RFC 5545, 3.1: lines end in CRLF and are at most 75 octets long without it.
    assert content.endswith(b"\r\n") and content.count(b"\n") == content.count(b"\r\n")
    assert max(len(line) for line in content.split(b"\r\n")) <= 75
    read = icalendar.Calendar.from_ical(content)
    assert read.errors == []
    # RFC 5545, 3.6 and 3.6.1: VERSION and PRODID once; UID, DTSTAMP and (without METHOD) DTSTART in each event.
    assert read["VERSION"] == "2.0" and read["PRODID"]
    events = read.walk("VEVENT")
    up, changes = int((plan.open_min != NO_MINUTE).sum()), len(clock_changes(plan))
    assert changes == 2
    assert len(events) == plan.n_days + up + changes == len({str(event["UID"]) for event in events})
    stamps = {event.decoded("DTSTAMP") for event in events}
    assert stamps == {dt.datetime(2028, 1, 1, tzinfo=dt.UTC)}
    assert all(event.errors == [] for event in events)
    # A move has a time in UTC; a day kept in and a change of the clocks are dates.
    timed = [event for event in events if isinstance(event.decoded("DTSTART"), dt.datetime)]
    assert len(timed) == 2 * up and all(event.decoded("DTSTART").tzinfo is not None for event in timed)
    # RFC 7986, 5.1: the calendar's own name.
    assert read["NAME"] == read["X-WR-CALNAME"] == f"Door times: {plan.site.name}"


def test_days_kept_in_and_changes_of_the_clocks_are_whole_days() -> None:
    data = {**SOUTH_KEPT, "kept_in": [{"from": "2027-09-24", "to": "2027-09-25", "why": "housing order"}]}
    _, configuration = planned(data)
    sheet = sheet_file.sheet_of(configuration, dt.date(2027, 9, 23), dt.date(2027, 9, 27))
    read = icalendar.Calendar.from_ical(sheet_file.calendar_bytes(sheet)).walk("VEVENT")
    whole = {
        event.decoded("DTSTART"): (str(event["SUMMARY"]), str(event["DESCRIPTION"]))
        for event in read
        if not isinstance(event.decoded("DTSTART"), dt.datetime)
    }
    # New Zealand: daylight time begins on the last Sunday of September (Time Act 1974 order of 2007).
    assert list(whole) == [dt.date(2027, 9, day) for day in (24, 25, 26)]
    assert whole[dt.date(2027, 9, 24)][0] == "Door stays down: S" and "housing order" in whole[dt.date(2027, 9, 24)][1]
    assert whole[dt.date(2027, 9, 26)][0] == "Clocks go forward 60 min: S"


def test_only_closings_have_an_alarm_and_it_rings_after_the_last_minute_to_close() -> None:
    data = {**SOUTH_KEPT, "evening": {"depression_deg": 4.0, "cell_from_min": -5, "cell_until_min": 20}}
    plan, configuration = planned(data)
    events = icalendar.Calendar.from_ical(calendar.text(plan, configuration.rules)).walk("VEVENT")
    closing = [event for event in events if "closes" in str(event["SUMMARY"])]
    assert len(closing) == int((plan.open_min != NO_MINUTE).sum())
    for event in events:
        alarms = event.walk("VALARM")
        assert len(alarms) == (1 if event in closing else 0)
        for alarm in alarms:
            # By hand: the event begins 5 min before the planned minute; the cell may close up to 20 min after it, then
            # travel and three tries a minute apart within 10 min.
            assert alarm.decoded("TRIGGER") == dt.timedelta(minutes=35)


def test_uids_stay_when_the_span_or_the_minutes_change() -> None:
    def uids(later_min: int, first: dt.date) -> set[str]:
        _, configuration = planned({**AFTER_MIDNIGHT, "evening": {"depression_deg": 3.0, "later_min": later_min}})
        sheet = sheet_file.sheet_of(configuration, first, dt.date(2027, 3, 9))
        read = icalendar.Calendar.from_ical(sheet_file.calendar_bytes(sheet))
        return {str(event["UID"]) for event in read.walk("VEVENT")}

    assert uids(0, dt.date(2027, 3, 1)) == uids(9, dt.date(2027, 3, 1))
    assert uids(0, dt.date(2027, 3, 5)) < uids(0, dt.date(2027, 3, 1))


# RFC 5545, 3.6: a calendar holds at least one component; days that are all shut are events too.
def test_a_calendar_of_days_that_are_all_shut_holds_them() -> None:
    _, configuration = planned({**SOUTH_KEPT, "kept_in": [{"from": "06-01", "to": "06-21"}]})
    sheet = sheet_file.sheet_of(configuration, dt.date(2027, 6, 3), dt.date(2027, 6, 9))
    content = sheet_file.calendar_bytes(sheet)
    assert len(icalendar.Calendar.from_ical(content).walk("VEVENT")) == 7
    assert proven(content) is True
