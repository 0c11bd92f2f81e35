"""The page on which the door's own program plays an evening: one file that opens offline and loads nothing.

`play_html` is the whole page; `fragment` gives its parts to a page that has a head and a style of its own. All words
stand in words_<language>.json: a translation is such a file with other strings and the same keys.
"""

from __future__ import annotations

import base64
import datetime as dt
import json
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched import __version__
from sunsched.base import cautions
from sunsched.base.errors import RangeError
from sunsched.base.package_data import package_bytes
from sunsched.config.configuration import Configuration
from sunsched.controller.words import Alarm, Drive, TimeBy, Why
from sunsched.controller.words import Door as DoorState
from sunsched.emit.stamp import command_line
from sunsched.hardware.light_cell import top_count
from sunsched.job.play import (
    LEAD_DAYS,
    LIGHT_FROM_DEG,
    LIGHT_STEP_DEG,
    NIGHTS_BEFORE,
    NO_CLOCK_CHIP,
    Play,
    Program,
    play_of,
)
from sunsched.plan.year import NO_MINUTE
from sunsched.report.bench.alarms import ALARMS
from sunsched.report.page.html import Markup, bullets, document, element, folded, grid, joined, one_line
from sunsched.report.page.style import page_style
from sunsched.report.play.layout import body
from sunsched.report.play.rules import rules, rules_that_give
from sunsched.report.play.style import PLAY_STYLE
from sunsched.study.evening_program import MOST_LUX

HERE = "sunsched.report.play"
SCRIPTS = ("door.js", "sky.js", "world.js", "chart.js", "play.js")
LANGUAGES = ("en", "de")
Words = dict[str, Any]


class Fragment(NamedTuple):
    """A play without a page around it: the body's markup with its data, the script, the style beside the common one."""

    body: Markup
    script: str
    style: str


@lru_cache(maxsize=4)
def words(language: str = "en") -> Words:
    """Every word of the page in a language."""
    found: Words = json.loads(package_bytes(HERE, f"words_{language}.json"))
    if not found["alarm_words"]:
        found["alarm_words"] = {word: meaning for word, (meaning, _) in ALARMS.items()}
    if not found["cautions"].get("said"):
        found["cautions"]["said"] = list(cautions.PLAY)
    return found


@lru_cache(maxsize=1)
def script() -> str:
    """The page's script: the files in their order."""
    return "\n".join(package_bytes(HERE, name).decode("utf-8") for name in SCRIPTS)


def play_html(configuration: Configuration, year: int, date: dt.date, name: str = "", language: str = "en") -> str:
    """The whole page for a date of a year. The same configuration gives the same bytes.

    name   the configuration's file, for errors and for the page's last line
    Raises ConfigError where the program cannot follow the configuration, RangeError for a date outside the year.
    """
    made = fragment(configuration, year, date, name, language)
    title = words(language)["title"].format(site=one_line(configuration.site.name, 60))
    return document(title, page_style() + made.style, [made.body], made.script, language, wasm=True)


def fragment(configuration: Configuration, year: int, date: dt.date, name: str = "", language: str = "en") -> Fragment:
    """The parts of the page, for another page to hold. Its policy has to allow 'wasm-unsafe-eval'."""
    if date.year != year:
        raise RangeError(f"the date is {date}; wanted one of {year}")
    play, said = play_of(configuration, year, name), words(language)
    command = command_line("play", name, "--date", f"{date}", *(() if language == "en" else ("--language", language)))
    footer = said["footer"].format(version=__version__, tzdata=play.plan.tzdata)
    parts = [
        body(play, said, date),
        folded(said["rules"]["title"], _rules(said["rules"]), id="play-rules"),
        element("section", element("h2", said["cautions"]["title"]), bullets(said["cautions"]["said"]), id="cautions"),
    ]
    return Fragment(
        joined(
            (
                element("main", *parts, id="play"),
                element("footer", element("p", footer, element("code", command))),
                _data(play, said, date),
            )
        ),
        script(),
        PLAY_STYLE,
    )


def _rules(said: Words) -> Markup:
    head = [said[key] for key in ("rule", "condition", "decision", "reason")]
    rows = [
        (element("span", rule.name, id=f"rule-{rule.name}", tabindex="-1"), rule.condition, rule.decision, rule.gives)
        for rule in rules()
    ]
    return joined((element("p", said["intro"]), grid(said["rule"], head, rows, "words")))


def site_values(program: Program) -> dict[str, Any]:
    """A site's own part of the program, as door.js takes it."""
    return {
        "settings": _base64(program.settings),
        "tables": _base64(program.tables),
        "offset": program.utc_offset_min,
        "low": program.low_counts,
        "spent": program.spent_counts,
        "clock": program.clock,
        "name": program.said.site,
        "program": program.said.program,
        "plan": program.said.plan,
    }


def values(play: Play, date: dt.date) -> dict[str, Any]:
    """All that the script is given but for words: plain data."""
    plan, cell, machine = play.plan, play.cell, play.machine
    return {
        "wasm": _base64(package_bytes(HERE, "door.wasm")),
        "site": site_values(play.program),
        "machine": {
            "travel": machine.travel_mm,
            "speed": machine.raise_mm_s,
            "cord": machine.cord_mm,
            "current": int(machine.ends_by_current),
            "counts": machine.full_counts,
        },
        "hasClock": play.program.clock != NO_CLOCK_CHIP,
        "offset": plan.chip_offset_min,
        "firstDay": plan.first_day,
        "lead": LEAD_DAYS,
        "nights": NIGHTS_BEFORE,
        "date": date.isoformat(),
        "civil": plan.civil_offset_min.tolist(),
        "noon": plan.noon_min.tolist(),
        "close": _minutes(plan.close_min),
        "open": _minutes(plan.open_min),
        **{
            name: _minutes(column)
            for name, column in zip(("openFirst", "openLast", "closeFirst", "closeLast"), play.windows, strict=True)
        },
        "sky": {
            "latitude": plan.site.latitude_deg,
            "longitude": plan.site.longitude_deg,
            "firstDay": play.sky.first_day,
            "hourAngle": np.round(play.sky.hour_angle_deg, 5).tolist(),
            "declination": np.round(play.sky.declination_deg, 5).tolist(),
            "lightFrom": LIGHT_FROM_DEG,
            "lightStep": LIGHT_STEP_DEG,
            "light": np.round(play.sky.light_log, 4).tolist(),
        },
        "cell": {
            "kind": cell.kind,
            "r10": cell.r10_ohm,
            "gamma": cell.gamma,
            "fixed": cell.fixed_ohm,
            "steps": cell.adc_steps,
            "top": top_count(cell.adc_steps),
            "view": cell.sky_view,
            "dark": cell.dark_lux,
            "bright": cell.light_lux,
            "mostLux": MOST_LUX,
        },
        "names": {
            "reasons": [why.name.lower() for why in Why],
            "wants": ["lower", "raise", "stay"],
            "doors": [state.name.lower() for state in DoorState],
            "drives": [drive.name.lower() for drive in Drive],
            "times": [time.name.lower() for time in TimeBy],
        },
        "alarms": [alarm.name.lower() for alarm in Alarm if alarm.name],
        "rules": rules_that_give(),
    }


def _minutes(column: NDArray[Any]) -> list[int | None]:
    return [None if minute == NO_MINUTE else int(minute) for minute in column]


def _base64(content: bytes) -> str:
    return base64.b64encode(content).decode("ascii")


def _data(play: Play, said: Words, date: dt.date) -> Markup:
    """As JSON that no text can break out of."""
    text = json.dumps({**values(play, date), "words": said}, separators=(",", ":")).replace("<", "\\u003c")
    return Markup(f'<script type="application/json" id="play-data">{text}</script>')


def default_date(year: int, today: dt.date) -> dt.date:
    """Today in the year asked for; else the evening of its spring equinox."""
    return today if today.year == year else dt.date(year, 3, 20)
