"""The play's controls, picture and lists as markup; the script fills and works them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from sunsched.base.civil_time import date_of
from sunsched.job.play import LEAD_DAYS, NIGHTS_BEFORE, NO_CLOCK_CHIP, Play
from sunsched.report.page.html import Markup, apart, element, folded, joined
from sunsched.report.play.scene import scene

Words = dict[str, Any]
SPEEDS = ("60", "600", "3600", "86400")
SPANS = ("4", "24")
READOUTS = ("local", "door", "wanted", "light", "clock", "light_time", "goes_by", "motor", "alarms")


def body(play: Play, said: Words, date: dt.date) -> Markup:
    """Everything above the rules."""
    title, _, rest = said["title"].partition("{site}")
    lead = element("p", said["lead"].format(year=play.year), " ", element("a", said["caution_link"], href="#cautions"))
    return joined(
        (
            element("h1", title, Markup(apart(play.plan.site.name, 60)), rest),
            element("div", lead, class_="lead"),
            Markup(f"<noscript>{element('p', said['script_needed'], class_='warning')}</noscript>"),
            element(
                "div",
                element("div", _evening(play, said, date), _time(said), class_="card asked"),
                element(
                    "div", scene(), element("p", "", id="play-status", role="status", class_="said"), class_="front"
                ),
                _now(said),
                _chart(said),
                _happen(play, said),
                _log(said),
                class_="play",
            ),
        )
    )


def _titled(title: str, ident: str, *inside: object, class_: str | None = None) -> Markup:
    head = element("h2", title, id=ident)
    return element("section", head, *inside, aria_labelledby=ident, class_=class_)


def _now(said: Words) -> Markup:
    words = said["now"]
    rows = (element("div", element("dt", words[key]), element("dd", "", id=f"now-{key}")) for key in READOUTS)
    why = element("p", element("b", f"{words['why']}: "), element("span", "", id="now-why"), class_="why")
    return _titled(words["title"], "play-now-h", why, element("dl", *rows, class_="facts"), class_="now-words")


def _button(ident: str, words: str, toggles: bool = False) -> Markup:
    return element("button", words, id=ident, type="button", aria_pressed="false" if toggles else None)


def _choice(ident: str, label: str, options: Iterable[tuple[str, str]], chosen: str) -> Markup:
    inside = (
        element("option", words, value=value, selected="selected" if value == chosen else None)
        for value, words in options
    )
    return element("div", element("label", label, for_=ident), element("select", *inside, id=ident), class_="field")


def _time(said: Words) -> Markup:
    words = said["run"]
    speeds = [(speed, words[f"speed_{speed}"]) for speed in SPEEDS]
    steps = [_button(f"step-{step}", words[f"step_{step}"]) for step in ("second", "minute", "event")]
    return _titled(
        words["title"],
        "play-time-h",
        element(
            "div",
            _button("run", words["play"]),
            *steps,
            _choice("speed", words["speed"], speeds, "600"),
            class_="buttons",
        ),
    )


def _evening(play: Play, said: Words, date: dt.date) -> Markup:
    words = said["evening"]
    first = date_of(play.plan.first_day + LEAD_DAYS)
    last = date_of(play.plan.first_day + play.plan.n_days - 1 - LEAD_DAYS)
    asked = element(
        "div",
        element("label", words["date"], for_="date"),
        element("input", type="date", id="date", min=f"{first}", max=f"{last}", value=f"{date}", required=""),
        class_="field",
    )
    begins = [(key, words[f"begin_{key}"]) for key in ("evening", "morning", "noon")]
    skies = [(key, words[f"sky_{key}"]) for key in ("clear", "dull", "storm")]
    return _titled(
        words["title"],
        "play-evening-h",
        element(
            "div",
            asked,
            _choice("begin", words["begin"], begins, "evening"),
            _choice("sky", words["sky"], skies, "clear"),
            _button("again", words["again"]),
            class_="fields",
        ),
        element("p", words["lived"].format(nights=NIGHTS_BEFORE), class_="quiet"),
    )


def _group(title: str, *inside: object) -> Markup:
    return element("fieldset", element("legend", title), *inside)


def _happen(play: Play, said: Words) -> Markup:
    words = said["happen"]
    has_clock, watched = play.program.clock != NO_CLOCK_CHIP, play.program.low_counts > 0

    def buttons(*idents: str, toggles: bool = False) -> Markup:
        return element("div", *(_button(ident, words[ident], toggles) for ident in idents), class_="buttons")

    lamps = [(lux, words[f"lamp_{lux}"]) for lux in ("0", "30", "200")]
    switches = [(state, words[f"switch_{state}"]) for state in ("0", "1", "2")]
    by = element(
        "div",
        element("label", words["clock_by"], for_="clock_by"),
        element("input", type="number", id="clock_by", min="-720", max="720", step="1", value="60", required=""),
        element("span", "", id="clock_by-error", class_="error"),
        class_="field",
    )
    jumps = ("clock_jump",) if has_clock else ()
    toggles = (*(("clock_absent", "clock_halted") if has_clock else ()), *(("battery_spent",) if watched else ()))
    return _titled(
        words["title"],
        "play-happen-h",
        _group(
            words["light"],
            buttons("cloud", "headlights"),
            buttons("snow", toggles=True),
            _choice("lamp", words["lamp"], lamps, "0"),
        ),
        _group(
            words["time"],
            by,
            buttons("clock_once", "clock_twice", *jumps, "clock_right"),
            buttons(*toggles, toggles=True) if toggles else "",
            buttons("power_cut"),
        ),
        _group(
            words["machine"],
            element(
                "div",
                _choice("top_switch", words["top_switch"], switches, "0"),
                _choice("bottom_switch", words["bottom_switch"], switches, "0"),
                class_="fields",
            ),
            buttons("jam", "frozen", "cord_backwards", "wires_swapped", toggles=True),
        ),
        _group(words["hands"], buttons("hand_up", "hand_down"), buttons("keep_shut", toggles=True), buttons("mend")),
        class_="happen",
    )


def _chart(said: Words) -> Markup:
    words = said["chart"]
    picture = Markup('<svg id="chart" viewBox="0 0 460 300" role="img" aria-labelledby="chart-name"></svg>')
    spans = [(span, words[f"span_{span}"]) for span in SPANS]
    return _titled(
        words["title"],
        "play-chart-h",
        element("p", words["name"], id="chart-name", class_="apart"),
        element("figure", picture, element("figcaption", words["caption"])),
        _choice("span", words["span"], spans, "4"),
        class_="drawn",
    )


def _log(said: Words) -> Markup:
    words = said["log"]
    head = (element("th", words[key], scope="col", role="columnheader") for key in ("time", "what", "rule", "counts"))
    table = element(
        "table",
        element("caption", words["newest"]),
        element("thead", element("tr", *head, role="row"), role="rowgroup"),
        element("tbody", "", id="events", role="rowgroup"),
        class_="stack words",
        role="table",
    )
    quarters = element(
        "p",
        element("input", type="checkbox", id="quarters"),
        " ",
        element("label", words["quarters"], for_="quarters"),
    )
    raw = joined(
        (
            element(
                "p", words["raw_note"], " ", element("a", words["save"], id="save", download="door_log.csv", hidden="")
            ),
            element("pre", "", id="raw", tabindex="0"),
        )
    )
    return _titled(
        words["title"],
        "play-log-h",
        quarters,
        element("p", words["empty"], id="empty", class_="quiet"),
        table,
        folded(words["raw"], raw, id="raw-log"),
        class_="told",
    )
