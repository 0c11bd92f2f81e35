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

from sunsched.base.errors import UsageError
from sunsched.config import toml_file
from sunsched.plan.year import NO_MINUTE
from sunsched.report.sheets import calendar, sheet_file
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
    plan = sheet.plan
    times = {}
    for event in events_by_vobject(sheet_file.calendar_bytes(sheet)):
        assert event.dtstart.value.utcoffset() == dt.timedelta(0)
        times[event.uid.value] = event.dtstart.value
    wanted = []
    zone = ZoneInfo(plan.site.zone)
    for row in np.flatnonzero(plan.open_min != NO_MINUTE):
        midnight = EPOCH + dt.timedelta(days=plan.first_day + int(row), minutes=-plan.chip_offset_min)
        for column in (plan.open_min, plan.close_min):
            wanted.append(midnight + dt.timedelta(minutes=int(column[row])))
        # The sheet's civil time is the event's in the site's own zone, by Python's zone data.
        day = sheet.days[int(row)]
        assert [f"{t.astimezone(zone):%H:%M}" for t in wanted[-2:]] == [day.opens[:5], day.closes[:5]]
    assert sorted(times.values()) == sorted(wanted)
    assert len(times) == len(wanted)


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
    up = int((plan.open_min != NO_MINUTE).sum())
    assert len(events) == 2 * up == len({str(event["UID"]) for event in events})
    stamps = {event.decoded("DTSTAMP") for event in events}
    assert stamps == {dt.datetime(2028, 1, 1, tzinfo=dt.UTC)}
    assert all(event.errors == [] and event.decoded("DTSTART").tzinfo is not None for event in events)


def test_only_closings_have_an_alarm_and_it_rings_after_the_last_minute_to_close() -> None:
    data = {**SOUTH_KEPT, "evening": {"depression_deg": 4.0, "cell_from_min": -5, "cell_until_min": 20}}
    plan, configuration = planned(data)
    events = icalendar.Calendar.from_ical(calendar.text(plan, configuration.rules)).walk("VEVENT")
    closing = [event for event in events if "closes" in str(event["SUMMARY"])]
    assert len(closing) == len(events) / 2
    for event in events:
        alarms = event.walk("VALARM")
        assert len(alarms) == (1 if event in closing else 0)
        for alarm in alarms:
            # By hand: the cell may close up to 20 min late, then travel and three tries a minute apart within 10 min.
            assert alarm.decoded("TRIGGER") == dt.timedelta(minutes=30)


def test_uids_stay_when_the_span_or_the_minutes_change() -> None:
    def uids(later_min: int, first: dt.date) -> set[str]:
        _, configuration = planned({**AFTER_MIDNIGHT, "evening": {"depression_deg": 3.0, "later_min": later_min}})
        sheet = sheet_file.sheet_of(configuration, first, dt.date(2027, 3, 9))
        read = icalendar.Calendar.from_ical(sheet_file.calendar_bytes(sheet))
        return {str(event["UID"]) for event in read.walk("VEVENT")}

    assert uids(0, dt.date(2027, 3, 1)) == uids(9, dt.date(2027, 3, 1))
    assert uids(0, dt.date(2027, 3, 5)) < uids(0, dt.date(2027, 3, 1))


# RFC 5545, 3.6: a calendar holds at least one component.
def test_a_calendar_of_days_that_are_all_shut_is_refused() -> None:
    _, configuration = planned({**SOUTH_KEPT, "kept_in": [{"from": "06-01", "to": "06-21"}]})
    sheet = sheet_file.sheet_of(configuration, dt.date(2027, 6, 3), dt.date(2027, 6, 9))
    with pytest.raises(UsageError, match="stays down on every one"):
        sheet_file.calendar_bytes(sheet)
