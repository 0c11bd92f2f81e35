"""The sheet for whoever looks after the flock, and the sheet for the door's first week: HTML, plain text, CSV."""

from __future__ import annotations

import csv
import io
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from sunsched.base.civil_time import date_of
from sunsched.base.text_digest import EMPTY, with_digest, with_digest_line
from sunsched.base.warned import Warned
from sunsched.emit.stamp import Stamp
from sunsched.hardware.light_cell import threshold_counts
from sunsched.hardware.parts import Flock, LightCell, Motor, Spool
from sunsched.plan.rules import Rules
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.report.page.html import (
    Markup,
    apart,
    bullets,
    cell,
    document,
    element,
    grid,
    joined,
    labelled,
    one_line,
    row_head,
    stacked,
)
from sunsched.report.page.style import page_style
from sunsched.report.sheets.days import SheetDay, cell_window_min, look_utc_min, sheet_days
from sunsched.report.sheets.words import ENGLISH, SheetWords

CSV_HEAD = ("date", "weekday", "opens", "closes", "look", "opens_between", "closes_between", "note", "sunsched")
_TEXT_WIDTH = 78


@dataclass(frozen=True, slots=True)
class Handover:
    """What a sheet is about; `commission` makes it the sheet of the first week.

    flock   None where the keeper gave no number of birds
    warnings   every one of plan, drive, battery and cell for these days, the most harmful first
    """

    plan: YearPlan
    rules: Rules
    light_cell: LightCell
    flock: Flock | None
    stamp: Stamp
    motor: Motor | None = None
    spool: Spool | None = None
    twelve_hour: bool = False
    commission: bool = False
    words: SheetWords = ENGLISH
    warnings: tuple[Warned, ...] = ()

    @property
    def days(self) -> list[SheetDay]:
        """The days as lines."""
        return sheet_days(self.plan, self.rules, self.words, self.twelve_hour)

    @property
    def looks_utc_min(self) -> list[float]:
        """When to look on each evening [utc_min]; infinity on a day when the door stays down."""
        known = look_utc_min(self.plan, self.rules)
        return [float(minute) for minute in np.where(np.isnan(known), np.inf, known)]

    @property
    def title(self) -> str:
        """The sheet's title with {site} left in."""
        return self.words.commission_title if self.commission else self.words.title


def _date(day: int, words: SheetWords) -> str:
    date = date_of(day)
    return words.date.format(day=date.day, month=words.months[date.month - 1], year=date.year)


def span_words(sheet: Handover, zones: Sequence[str] = ()) -> str:
    """The sheet's dates and the zone of its times; `zones` instead of its own."""
    plan, words = sheet.plan, sheet.words
    first, last = _date(plan.first_day, words), _date(plan.first_day + plan.n_days - 1, words)
    return words.span.format(first=first, last=last, zone=", ".join(zones) or plan.site.zone)


def look_words(sheet: Handover) -> list[str]:
    """What the times of the sheet mean; what a limit binds where there is one and the light may pass it."""
    words, (early, late) = sheet.words, cell_window_min(sheet.plan, sheet.rules)
    if early == late == 0:
        return [words.by_clock]
    if not any(rule.has_limits for variant in sheet.rules.variants() for rule in variant[2:]):
        return [words.look_explained]
    return [words.look_explained, words.limit_explained.format(early=early, late=late)]


Lists = Sequence[tuple[str, tuple[str, ...]]]


def lists_of(sheet: Handover, birds: str = "", beside: Sequence[Handover] = ()) -> list[tuple[str, tuple[str, ...]]]:
    """Headings with their entries, in the order of the sheet; `birds` instead of the sheet's own number of them.

    beside   the other huts of a round
    """
    words = sheet.words
    evening = tuple(entry.format(birds=birds or birds_words(sheet)) for entry in words.evening)
    kept = (words.kept_days,) if any((hut.plan.open_min == NO_MINUTE).any() for hut in (sheet, *beside)) else ()
    found = [(words.evening_heading, evening), (words.morning_heading, (*kept, *words.morning))]
    if sheet.commission:
        found.insert(0, (words.first_week_heading, _first_week(sheet)))
    return [*found, (words.not_moved_heading, words.not_moved)]


def birds_words(sheet: Handover) -> str:
    """How many birds there should be, or a blank to fill in."""
    return sheet.words.birds_blank if sheet.flock is None else str(sheet.flock.birds)


def warned_lines(sheet: Handover) -> tuple[str, ...]:
    """What the keeper has been warned of, the most harmful first."""
    return tuple(f"{warned.text}. {warned.to_do}" for warned in sheet.warnings)


def _first_week(sheet: Handover) -> tuple[str, ...]:
    words, plan, motor, spool = sheet.words, sheet.plan, sheet.motor, sheet.spool
    cutoffs = (None, None) if motor is None else (motor.cutoff_up_s, motor.cutoff_down_s)
    up, down = (words.not_given if value is None else words.seconds.format(n=value) for value in cutoffs)
    turns = words.not_given if spool is None else f"{spool.turns_left_when_down:g}"
    offset = f"{plan.chip_offset_min / 60:+g}"
    clock = words.chip_civil if plan.chip.keeps == "civil" else words.chip_standard.format(offset=offset)
    dark, light = (_counts(sheet.light_cell, lux) for lux in (sheet.light_cell.dark_lux, sheet.light_cell.light_lux))
    filled = {"cutoff_up": up, "cutoff_down": down, "turns": turns, "clock": clock, "dark": dark, "light": light}
    return tuple(entry.format(**filled) for entry in words.first_week)


def _counts(light_cell: LightCell, lux: float) -> str:
    if light_cell.kind == "lux":
        return f"{lux:g} lux"
    c = light_cell
    return str(threshold_counts(lux, c.r10_ohm, c.gamma, c.fixed_ohm, c.adc_steps, c.spread).counts)


def html(sheet: Handover) -> str:
    """The sheet as a page for a screen or for paper; it has no script."""
    words, name = sheet.words, sheet.plan.site.name
    head = [
        element("h1", *_with_site(sheet.title, Markup(apart(name, 120)))),
        element("p", span_words(sheet), class_="lead"),
        element("h2", words.days_heading),
        element("p", " ".join(look_words(sheet))),
        _table(sheet),
    ]
    title = sheet.title.format(site=one_line(name, 60))
    return html_page(sheet, title, head, lists_of(sheet), warned_lines(sheet))


def html_page(sheet: Handover, title: str, head: Sequence[Markup], lists: Lists, warned: Sequence[str]) -> str:
    """A sheet's page: its head with the days, then what every sheet has. The list of a first week is ticked off."""
    words, parts = sheet.words, list(head)
    box = Markup('<span class="box" role="img" aria-label="□"></span>')
    for heading, entries in lists:
        ticked = heading == words.first_week_heading
        lines = (joined((box, " ", entry)) for entry in entries) if ticked else entries
        parts.append(_kept(heading, bullets(lines, class_="ticks" if ticked else None)))
    blanks = (joined((f"{entry}:", Markup("<i></i>"))) for entry in words.names)
    parts += [
        element("h2", words.alarms_heading),
        element("p", words.alarms_intro),
        grid(words.alarms_heading, words.alarm_columns, words.alarms.values(), "words", caption_class="apart"),
        _kept(words.names_heading, bullets(blanks, class_="lines")),
        _kept(words.cautions_heading, bullets(words.cautions)),
    ]
    if warned:
        parts += [element("h2", words.warnings_heading.format(n=len(warned))), bullets(warned)]
    footer = element("footer", element("p", made_by(sheet)))
    return document(title, page_style(), [element("main", *parts, class_="sheet"), footer], language=words.language)


def _kept(heading: str, inside: Markup) -> Markup:
    """A short part that is not divided between two pages of paper."""
    return element("div", element("h2", heading), inside, class_="keep")


def _with_site(title: str, site: Markup) -> list[object]:
    before, _, after = title.partition("{site}")
    return [before, site, after]


def _table(sheet: Handover) -> Markup:
    words = sheet.words
    caption = element("caption", words.days_heading, class_="apart")
    rows = (row for day in sheet.days for row in day_rows(day, day.date, words.columns))
    return stacked(caption, words.columns, rows, class_="days dated")


def day_rows(day: SheetDay, name: object, columns: Sequence[str]) -> Iterator[Markup]:
    """A day's row under `columns`, headed by `name`, and below it what is unusual."""
    blanks = joined(labelled(label, "", class_="blank") for label in columns[4:])
    if not day.opens:
        stays = element("td", day.note, colspan="3", class_="down", role="cell")
        yield element("tr", row_head(name), stays, blanks, role="row")
        return
    times = zip(columns[1:4], (day.opens, day.closes, day.look), strict=True)
    yield element("tr", row_head(name), *(labelled(*time) for time in times), blanks, role="row")
    if day.note:
        note = element("td", day.note, colspan=str(len(columns)), class_="down", role="cell")
        yield element("tr", note, role="row", class_="note")


def made_by(sheet: Handover) -> str:
    return f"GENERATED by sunsched {sheet.stamp.version}, tzdata {sheet.stamp.tzdata}"


def text(sheet: Handover) -> str:
    """The sheet as plain text of 78 columns."""
    title = sheet.title.format(site=one_line(sheet.plan.site.name, 200))
    lines = [*folded_lines(title), *folded_lines(span_words(sheet)), *folded_lines(made_by(sheet)), ""]
    lines += [sheet.words.days_heading.upper(), *folded_lines(" ".join(look_words(sheet))), "", *_day_lines(sheet), ""]
    return text_page(sheet, lines, lists_of(sheet), warned_lines(sheet))


def text_page(sheet: Handover, head: Sequence[str], lists: Lists, warned: Sequence[str]) -> str:
    """A sheet as text: its head with the days, then what every sheet has."""
    words, lines = sheet.words, list(head)
    for heading, entries in lists:
        mark = "[ ] " if heading == words.first_week_heading else "- "
        lines += [heading.upper(), *(line for entry in entries for line in folded_lines(entry, mark)), ""]
    lines += [words.alarms_heading.upper(), *folded_lines(words.alarms_intro)]
    for meaning, what_to_do in words.alarms.values():
        lines += folded_lines(f"{meaning}. {what_to_do}", "- ")
    lines += ["", words.names_heading.upper(), *(f"  {name}: {'_' * 40}"[:_TEXT_WIDTH] for name in words.names), ""]
    lines += [words.cautions_heading.upper(), *(line for entry in words.cautions for line in folded_lines(entry, "- "))]
    if warned:
        heading = words.warnings_heading.format(n=len(warned)).upper()
        lines += ["", heading, *(line for entry in warned for line in folded_lines(entry, "- "))]
    return with_digest_line("\n".join([*lines, "", ""]), "({})")


def _day_lines(sheet: Handover) -> list[str]:
    return text_table(sheet.words.columns, [(day.date, day) for day in sheet.days])


def text_table(columns: Sequence[str], named: Sequence[tuple[str, SheetDay]]) -> list[str]:
    """Days as lines under `columns`, each headed by its name."""
    rows = [columns, *((name, d.opens, d.closes, d.look, "____", "____") for name, d in named)]
    widths = [max(len(row[k]) for row in rows) for k in range(len(columns))]
    lines = []
    for row, day in zip(rows, [None, *(day for _, day in named)], strict=True):
        if day is not None and not day.opens:
            lines.append(f"{row[0].ljust(widths[0])}  {day.note}")
            continue
        lines.append("  ".join(part.ljust(width) for part, width in zip(row, widths, strict=True)).rstrip())
        if day is not None and day.note:
            lines += folded_lines(day.note, "    ")
    return lines


def folded_lines(entry: str, mark: str = "") -> list[str]:
    return textwrap.wrap(entry, _TEXT_WIDTH, initial_indent=mark, subsequent_indent=" " * len(mark)) or [mark]


def csv_text(sheet: Handover) -> str:
    """The days as CSV (RFC 4180); text that a spreadsheet could take for a formula is kept behind an apostrophe."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(CSV_HEAD)
    days = sheet.days
    for day in days:
        # RFC 4180 has no remarks: the digest of the text follows the last row's version.
        origin = f"{sheet.stamp.version} {EMPTY}" if day is days[-1] else sheet.stamp.version
        writer.writerow([cell(value) for value in (*csv_values(day), origin)])
    return with_digest(out.getvalue())


def csv_values(day: SheetDay) -> tuple[str, ...]:
    """A day's cells, but for the last one."""
    return day.iso_date, day.weekday, *day.planned, day.look, day.opens, day.closes, day.note
