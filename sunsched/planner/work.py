"""What the page shows of a text, worked out in this process by the functions that the commands call.

`quick` is what redraws at once: plan, map, day, warnings. The rest is slower and comes by itself: `birds`, `table`,
`battery`. None of them keeps anything but the last few machines' sums, so that a change of a rule does not work a
battery's winters out again.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import json
import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from sunsched.base import cautions
from sunsched.base.errors import ConfigError, Problem, SunschedError
from sunsched.base.warned import Warned
from sunsched.base.years import FIRST_YEAR, LAST_YEAR
from sunsched.config.configuration import Configuration
from sunsched.config.toml_file import table_in, toml_of, validated
from sunsched.job import one_day, pipeline, short_comparison
from sunsched.job.tables import Ask, tables
from sunsched.job.today import hut_now
from sunsched.job.warnings import Parts, cell_counts, parts_of, warnings_of
from sunsched.planner import edit, fields
from sunsched.report.page import tonight
from sunsched.report.page.html import one_line
from sunsched.report.pictures.year_map import YearMap
from sunsched.report.text.today import today_line
from sunsched.report.text.year_words import extreme

Answer = dict[str, Any]
FIRST_LOOK_YEARS, LONGER_LOOK_YEARS = 16, 96
_KEPT_MACHINES = 8
# What drive, battery and cell are worked out from; the door's rules are not among it.
_MACHINE = ("site", "light_cell", "door", "spool", "motor", "battery", "model", "chip", "pins", "clock", "flock")


@dataclass(frozen=True, slots=True)
class Asked:
    """A text with what was typed into fields since, and the year and day that are looked at."""

    text: str
    name: str
    year: int
    day: dt.date
    typed: Mapping[str, str] = field(default_factory=dict)


@dataclass
class Machines:
    """Drive, battery and cell of the last few machines, by what they were worked out from."""

    _found: OrderedDict[str, Parts] = field(default_factory=OrderedDict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def known(self, key: str) -> Parts | None:
        """The sums of a machine, None where they are not known."""
        with self._lock:
            return self._found.get(key)

    def keep(self, key: str, parts: Parts) -> None:
        """Keep a machine's sums, and forget the oldest."""
        with self._lock:
            self._found[key] = parts
            while len(self._found) > _KEPT_MACHINES:
                self._found.popitem(last=False)


def changed_text(asked: Asked) -> str:
    """The text with what was typed. Raises ConfigError where the text cannot be changed so."""
    values = {key: fields.typed(key, raw) for key, raw in asked.typed.items()}
    return edit.changed(asked.text, fields.with_rivals(values), asked.name) if values else asked.text


def quick(asked: Asked, now: dt.datetime, machines: Machines, ident: str = "year") -> Answer:
    """The year of a text: its fields, map, days, the steps of one day, and the warnings; or its mistakes.

    ident   begins the ids of the map, so that two maps can stand on a page
    """
    try:
        text = changed_text(asked)
        table = table_in(text.encode(), asked.name)
        configuration = validated(table, asked.name)
        plan, day = one_day.planned_day(configuration, asked.day, asked.name)
        if asked.day.year != asked.year:
            plan = pipeline.plan_of(configuration, asked.year, asked.name)
    except SunschedError as error:
        return {"ok": False, **_mistakes(error, asked)}
    c = configuration
    year = YearMap(plan, c.rules, ident=ident, marked=True)
    parts, whole = _parts(c, asked, table, machines)
    warnings = warnings_of((plan,), parts)
    return {
        "ok": True,
        "text": text,
        "fields": fields.shown(table, c),
        "title": f"{one_line(c.site.name, 60)}, {asked.year}",
        "map": year.drawing.inline(),
        "days": tonight.values(year),
        "day": day,
        "ends": _ends(plan),
        "warnings": [_plain(warned) for warned in warnings],
        "battery_to_come": not whole,
        "now": _now(c, now, asked.name),
        "machine": {part: getattr(c, part) is not None for part in ("door", "spool", "motor", "battery")},
        "tzdata": plan.tzdata,
    }


def birds(
    asked: Asked, n_years: int, tick: Callable[[], None], before: str = "", before_name: str = "before"
) -> Answer:
    """Birds shut out and minutes open of a text over weather years, and what differs from the text `before`."""
    c = validated(_sections(asked), asked.name)
    if not c.flock.birds:
        return {"birds": 0}
    other = validated(table_in(before.encode(), before_name), before_name) if before else None
    beside = other is not None and other != c and short_comparison.can_stand_beside(c, other)
    found = short_comparison.short_comparison(c, asked.year, n_years, other if beside else None, tick=tick)
    return {"birds": c.flock.birds, "apart": other is not None and other != c and not beside} | short_comparison.plain(
        found
    )


def table_size(asked: Asked) -> Answer:
    """The size of the smallest table that holds every minute of the year as planned, for the board's memory."""
    c = validated(_sections(asked), asked.name)
    summary = tables(c, Ask((asked.year,), ("eeprom",)), asked.name).summary
    keys = ("layout", "image_bytes", "data_bytes", "decoder_bytes")
    board = c.chip.on
    return {key: summary[key] for key in keys} | {"room_bytes": board.table_bytes, "board": board.title}


def battery(asked: Asked, machines: Machines) -> Answer:
    """The battery's winters, and every warning of the text now that they are known."""
    from sunsched.job.drive_and_battery import battery_of, winters_of

    table = _sections(asked)
    c = validated(table, asked.name)
    key = _machine_key(c, table, asked.year)
    parts = machines.known(key)
    if parts is None or (c.battery is not None and parts.battery is None):
        without = parts_of(c.model_copy(update={"battery": None}), asked.year, asked.name)
        year = None if c.battery is None else battery_of(c, asked.year, asked.name)
        parts = Parts(without.drive, year, without.found)
        machines.keep(key, parts)
    warnings = warnings_of((pipeline.plan_of(c, asked.year, asked.name),), parts)
    told: Answer = {"warnings": [_plain(warned) for warned in warnings], "described": parts.battery is not None}
    if parts.battery is None:
        return told
    sums, winters = parts.battery.sums, winters_of(parts.battery)
    return told | {
        "winters": winters["weather_years"],
        "flat": sums.stated.n_flat,
        "flat_drawn": sums.drawn.n_flat,
        "over_limit": sums.stated.n_over_limit,
        "chance_flat": winters["chance_flat"],
        "days_without_sun": sums.figure("autonomy_days").value,
        "worst_month": sums.worst_month,
        "cautions": list(cautions.BATTERY),
    }


def year_of(value: Any) -> int:
    """A year that the page asks for. Raises ValueError for one whose Sun is not known."""
    if isinstance(value, int) and not isinstance(value, bool) and FIRST_YEAR <= value <= LAST_YEAR:
        return value
    raise ValueError(f"a year from {FIRST_YEAR} to {LAST_YEAR}")


def problems_of(error: SunschedError, typed: Mapping[str, str]) -> list[dict[str, str]]:
    """An error's mistakes, each with the field it belongs to, '' where it belongs to none."""
    if not isinstance(error, ConfigError):
        return [{"field": "", "text": str(error)}]
    told = [{"field": _field_of(one, typed), "text": _words(one)} for one in error.problems]
    return [*told, {"field": "", "text": f"and {error.others} more mistakes"}] if error.others else told


def _field_of(problem: Problem, typed: Mapping[str, str]) -> str:
    """The field of a mistake: its own key, else the one field of that section that was typed into last."""
    key = problem.key.partition(" ")[0]
    if key == "chip.keeps" and key not in typed and "site.zone" in typed:
        # A new zone comes before its place: the mistake is then that of the longitude, which still is the old place's.
        return "site.longitude_deg"
    if key in fields.fields():
        return key
    inside = [one for one in typed if one.startswith(f"{key}.")] if key else []
    return inside[-1] if inside else ""


def _words(problem: Problem) -> str:
    """A mistake without the file's name, which the page shows above."""
    return str(problem).removeprefix(f"{problem.file}: ")


def _mistakes(error: SunschedError, asked: Asked) -> Answer:
    found: Answer = {"problems": problems_of(error, asked.typed)}
    with contextlib.suppress(ValueError, RecursionError):
        found["fields"] = fields.shown(toml_of(asked.text), None)
    return found


def _sections(asked: Asked) -> dict[str, Any]:
    return table_in(changed_text(asked).encode(), asked.name)


def _machine_key(c: Configuration, table: Mapping[str, Any], year: int) -> str:
    parts = {section: table.get(section) for section in _MACHINE}
    return json.dumps([parts, cell_counts(c), year], sort_keys=True, default=str)


def _parts(c: Configuration, asked: Asked, table: Mapping[str, Any], machines: Machines) -> tuple[Parts, bool]:
    """Drive, battery and cell as far as they are known at once, and whether that is all of them."""
    key = _machine_key(c, table, asked.year)
    known = machines.known(key)
    if known is None:
        known = parts_of(c.model_copy(update={"battery": None}), asked.year, asked.name)
        machines.keep(key, known)
    return known, c.battery is None or known.battery is not None


def _plain(warned: Warned) -> dict[str, Any]:
    return {"text": warned.text, "to_do": warned.to_do, "certain": warned.certain}


def _ends(plan: Any) -> dict[str, str]:
    found = {}
    for side in ("open", "close"):
        for late, word in ((False, "earliest"), (True, "latest")):
            end = extreme(plan, side, late)
            found[f"{word}_{side}"] = "" if end is None else f"{end[0]}, {end[1]}"
    return found


def _now(c: Configuration, now: dt.datetime, name: str) -> str:
    try:
        return today_line(hut_now(c, now, name))
    except SunschedError as error:
        return str(error)
