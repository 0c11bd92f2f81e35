"""The report: one page that opens offline, loads nothing else, prints, and is complete without its script.

It begins with what a keeper needs at the hut: tonight, the warnings, every day. What was asked and the pictures follow;
what a builder needs is folded away. On paper the folded parts are left out, unless they were opened.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from sunsched.base import cautions
from sunsched.base.civil_time import date_of, day_number
from sunsched.base.warned import Warned, count_words
from sunsched.emit.stamp import Stamp
from sunsched.hardware.parts import ClockSource, LightCell
from sunsched.plan.rules import Rules
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.report.page import tonight
from sunsched.report.page.day_tables import month_links, month_tables
from sunsched.report.page.html import (
    Markup,
    Section,
    apart,
    bullets,
    document,
    element,
    facts,
    folded,
    joined,
    one_line,
)
from sunsched.report.page.sections import asked, chip_section
from sunsched.report.page.style import page_style
from sunsched.report.pictures.evening import drawn, evenings_of
from sunsched.report.pictures.svg import Drawing
from sunsched.report.pictures.year_map import YearMap
from sunsched.report.text.year_words import extreme


@dataclass(frozen=True, slots=True)
class Subject:
    """What a page is about.

    warnings   every one of plan, drive, battery and cell, in the order shown; none for the plan's alone
    table   names and values about the table's size and proof, in the order shown
    more   further sections (comparison, faults, drive, battery), already made; they stand before the cautions
    """

    plan: YearPlan
    rules: Rules
    light_cell: LightCell
    clock: ClockSource
    stamp: Stamp
    warnings: Sequence[Warned] | None = None
    table: Sequence[tuple[str, str]] = ()
    more: Sequence[Section] = field(default_factory=tuple)

    @property
    def warned(self) -> Sequence[Warned]:
        """The warnings that the page shows and counts."""
        return self.plan.warnings if self.warnings is None else self.warnings


def text(subject: Subject) -> str:
    """The page as HTML. The same subject gives the same bytes."""
    plan = subject.plan
    year = YearMap(plan, subject.rules, marked=True)
    sections = [
        Section("warnings", "Warnings, and what to do", _warnings(subject.warned)),
        Section("months", "Every day, month by month", month_tables(plan)),
        Section("asked", "What was asked", asked(plan, subject.rules, subject.light_cell)),
        Section("cautions", "Cautions", bullets(cautions.DOOR)),
        Section("year-section", "The year", _year(year)),
        Section("evenings", "Light on three evenings", _evenings(subject)),
        *_for_the_builder(subject),
    ]
    date = date_of(plan.first_day)
    title = f"{one_line(plan.site.name, 60)}: door times {date.year}"
    body = [
        element(
            "header", element("h1", Markup(apart(plan.site.name, 120)), f": door times {date.year}"), _lead(subject)
        ),
        element("nav", bullets(element("a", s.title, href=f"#{s.anchor}") for s in sections), aria_label="Contents"),
        element(
            "main", tonight.card(plan), month_links(plan), *(section.html() for section in sections), class_="report"
        ),
        _footer(subject.stamp),
        tonight.data(year),
    ]
    return document(title, page_style(), body, tonight.script())


def _for_the_builder(subject: Subject) -> list[Section]:
    chip = chip_section(subject.plan, subject.light_cell, subject.clock, subject.rules)
    proof = Section("table", "The table: size and proof", _proof(subject), folded="always")
    return [*subject.more, Section("chip", "For the chip", chip, folded="always"), proof]


def _lead(subject: Subject) -> Markup:
    plan = subject.plan
    words = f"{date_of(plan.first_day)} to {date_of(plan.first_day + plan.n_days - 1)}, times in {plan.site.zone}."
    link = element("a", f"{count_words(subject.warned)}", href="#part-warnings")
    return element("p", f"{words} ", link, ".", class_="lead")


def figure(drawing: Drawing, caption: object, class_: str | None = None) -> Markup:
    """A picture with its caption."""
    return element("figure", Markup(drawing.inline()), element("figcaption", caption), class_=class_)


def _year(year: YearMap) -> Markup:
    plan = year.plan
    pairs: list[tuple[object, object]] = []
    for side, word in (("open", "opening"), ("close", "closing")):
        for late, when in ((False, "Earliest"), (True, "Latest")):
            found = extreme(plan, side, late)
            if found:
                pairs.append((f"{when} {word}", f"{found[0]} on {found[1]}"))
    pairs.append(("Days the door stays down", str(int((plan.open_min == NO_MINUTE).sum()))))
    caption = (
        "Between the two lines the door is down. The sky's bands are for a level horizon. At the edges, strips show "
        "the days on which something else than the Sun decided: closings on the left, openings on the right. "
        f"{_planned_words(year)}"
    )
    aside = element("div", tonight.panel(), class_="aside")
    return joined((facts(pairs), element("div", aside, figure(year.drawing, caption, "map"), class_="year")))


def _planned_words(year: YearMap) -> str:
    """What the lines are: planned minutes, which a limit binds, and around which the light may move the door."""
    windows = [
        f"{verb} from {rule.cell_from_min:+d} to {rule.cell_until_min:+d} min around it"
        for verb, rule in (("close", year.rules.evening), ("open", year.rules.morning))
        if rule.cell_from_min or rule.cell_until_min
    ]
    if not windows:
        return "The lines are the door's minutes: it goes by the clock alone."
    return f"The lines are the planned minutes, which your limits bind; by light the door may {' and '.join(windows)}."


def _warnings(found: Sequence[Warned]) -> Markup:
    """The first one whole, the others behind one line."""
    if not found:
        return element("p", "None for this year.")
    first, *others = (_warning(warned) for warned in found)
    if not others:
        return first
    return joined((first, folded(f"{len(others)} more", joined(others), class_="wide")))


def _warning(warned: Warned) -> Markup:
    return element(
        "div",
        element("p", element("b", "Warning: "), f"{warned.text}."),
        element("p", f"What to do: {warned.to_do}"),
        class_="warning",
    )


def _evenings(subject: Subject) -> Markup:
    plan = subject.plan
    charts = []
    for k, evening in enumerate(evenings_of(plan, subject.rules, subject.light_cell, evening_rows(plan))):
        if evening:
            drawing = drawn(evening, subject.light_cell, f"evening{k}")
            charts.append(figure(drawing, drawing.description))
    if not charts:
        return element("p", "The door stays down all year.")
    intro = (
        f"The cell is taken to see {subject.light_cell.sky_view:g} of the sky. Real evenings lie between the two "
        "lines and below: cloud, trees, snow and dirt dim them."
    )
    return joined((element("p", intro), element("div", *charts, class_="charts")))


def evening_rows(plan: YearPlan) -> list[int]:
    """Rows near the March equinox and both solstices, moved to the nearest day on which the door moves."""
    up = np.flatnonzero(plan.open_min != NO_MINUTE)
    year = date_of(plan.first_day + plan.n_days // 2).year
    wanted = [day_number(date_of(plan.first_day).replace(year=year, month=m, day=21)) for m in (3, 6, 12)]
    rows = [int(up[np.argmin(np.abs(up - (day - plan.first_day)))]) for day in wanted] if up.size else []
    return list(dict.fromkeys(rows))


def _proof(subject: Subject) -> Markup:
    stamp = subject.stamp
    pairs: list[tuple[object, object]] = list(subject.table)
    pairs += [("Digest of the plan (SHA-256)", element("code", stamp.plan_sha256))]
    words = (
        "Two tables with this digest move a door alike; the C header and the JSON table carry it. Reading the table "
        "back out of the chip and comparing it with this year proves what the chip holds."
    )
    return joined((facts(pairs), element("p", words)))


def _footer(stamp: Stamp) -> Markup:
    made = f"Made by sunsched {stamp.version} with tzdata {stamp.tzdata} from: "
    return element("footer", element("p", made, element("code", stamp.command.replace("table", "report", 1))))
