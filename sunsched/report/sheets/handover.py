"""The sheet for whoever looks after the flock, and the sheet for the door's first week: HTML, plain text, CSV.

The days of a sheet: times in civil time as people say them, when to look, and what is unusual.
"""

from __future__ import annotations

import csv
import io
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sunsched.base.civil_time import DAY_MIN, date_of, zone_of
from sunsched.base.text_digest import EMPTY, with_digest, with_digest_line
from sunsched.emit.stamp import Stamp
from sunsched.hardware.light_cell import threshold_counts
from sunsched.hardware.parts import Flock, LightCell, Motor, Spool
from sunsched.plan.on_a_day import kept_in_on, look_delay_min, rule_on
from sunsched.plan.reasons import Reason
from sunsched.plan.rules import Rules
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.report.page.html import Markup, apart, bullets, cell, document, element, grid, joined, one_line, scrolled
from sunsched.report.page.style import page_style
from sunsched.report.sheets.words import ENGLISH, SheetWords


@dataclass(frozen=True, slots=True)
class SheetDay:
    """One day of a sheet, ready to be set; times are empty on a day when the door stays down."""

    iso_date: str
    weekday: str
    date: str
    opens: str
    closes: str
    look: str
    note: str


def cell_window_min(rules: Rules, days: Sequence[int]) -> tuple[int, int]:
    """The most minutes before and after the planned minute at which the cell may close the door on these days."""
    found = [rule_on(rules, day, True) for day in days]
    return max(0, *(-rule.cell_from_min for rule in found)), max(0, *(rule.cell_until_min for rule in found))


def clock_words(minute: int, words: SheetWords, twelve_hour: bool) -> str:
    """A civil minute after midnight as people say it; a minute of the next or the former day says so."""
    days, of_day = divmod(minute, DAY_MIN)
    hour, minutes = divmod(of_day, 60)
    if twelve_hour:
        text = f"{(hour - 1) % 12 + 1}:{minutes:02d} {words.am if hour < 12 else words.pm}"
    else:
        text = f"{hour:02d}:{minutes:02d}"
    if days == 0:
        return text
    return (words.next_day if days > 0 else words.day_before).format(time=text)


def sheet_days(plan: YearPlan, rules: Rules, words: SheetWords, twelve_hour: bool = False) -> list[SheetDay]:
    """Every day of a plan as a line of a sheet."""
    opens, closes = plan.civil_min(plan.open_min), plan.civil_min(plan.close_min)
    changes = _clock_changes(plan)
    found = []
    for row, day in enumerate(plan.days.tolist()):
        date = date_of(day)
        times, notes = ("", "", ""), []
        if plan.open_min[row] == NO_MINUTE:
            why = _why(plan, rules, row)
            notes.append(f"{words.stays_down}{f' ({why})' if why else ''}")
        else:
            close = round(float(closes[row]))
            minutes = (round(float(opens[row])), close, close + look_delay_min(rules, day))
            opened, closed, look = (clock_words(m, words, twelve_hour) for m in minutes)
            times = (opened, closed, look)
        if row in changes:
            text = words.clocks_forward if changes[row] > 0 else words.clocks_back
            notes.append(text.format(minutes=abs(changes[row])))
        short = words.short_date.format(
            weekday=words.weekdays[date.weekday()], day=date.day, month=words.months[date.month - 1]
        )
        found.append(SheetDay(date.isoformat(), words.weekdays[date.weekday()], short, *times, "; ".join(notes)))
    return found


def _why(plan: YearPlan, rules: Rules, row: int) -> str:
    """What the keeper wrote beside the kept-in dates that cover a row."""
    if plan.open_reason[row] != Reason.KEPT_IN:
        return ""
    kept = kept_in_on(rules, plan.first_day + row)
    return "" if kept is None else one_line(kept.why, 80)


def _clock_changes(plan: YearPlan) -> dict[int, int]:
    """Rows in whose first twelve hours, or in the evening before, civil clocks change, with the change [minutes]."""
    zone = zone_of(plan.site.zone)
    noons = plan.utc_min(plan.noon_min)
    first = float(noons[0]) - DAY_MIN
    found = {}
    for start, offset in zone.changes(first, float(noons[-1])):
        row = int(np.searchsorted(noons, start))
        before = int(zone.utc_offset_min(np.array([start - 1.0]))[0])
        found[row] = offset - before
    return found


CSV_HEAD = ("date", "weekday", "opens", "closes", "look", "note", "sunsched")
_TEXT_WIDTH = 78


@dataclass(frozen=True, slots=True)
class Handover:
    """What a sheet is about; `commission` makes it the sheet of the first week."""

    plan: YearPlan
    rules: Rules
    light_cell: LightCell
    flock: Flock
    stamp: Stamp
    motor: Motor | None = None
    spool: Spool | None = None
    twelve_hour: bool = False
    commission: bool = False
    words: SheetWords = ENGLISH

    @property
    def days(self) -> list[SheetDay]:
        """The days as lines."""
        return sheet_days(self.plan, self.rules, self.words, self.twelve_hour)

    @property
    def title(self) -> str:
        """The sheet's title with {site} left in."""
        return self.words.commission_title if self.commission else self.words.title


def _date(day: int, words: SheetWords) -> str:
    date = date_of(day)
    return words.date.format(day=date.day, month=words.months[date.month - 1], year=date.year)


def _span(sheet: Handover) -> str:
    plan, words = sheet.plan, sheet.words
    first, last = _date(plan.first_day, words), _date(plan.first_day + plan.n_days - 1, words)
    return words.span.format(first=first, last=last, zone=plan.site.zone)


def _look(sheet: Handover) -> str:
    early, late = cell_window_min(sheet.rules, sheet.plan.days.tolist())
    if early == late == 0:
        return sheet.words.by_clock
    return sheet.words.look_explained.format(early=early, late=late)


def _lists(sheet: Handover) -> list[tuple[str, tuple[str, ...]]]:
    """Headings with their entries, in the order of the sheet."""
    words = sheet.words
    evening = tuple(entry.format(birds=sheet.flock.birds) for entry in words.evening)
    found = [(words.evening_heading, evening), (words.morning_heading, words.morning)]
    if sheet.commission:
        found.insert(0, (words.first_week_heading, _first_week(sheet)))
    return [*found, (words.not_moved_heading, words.not_moved)]


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
    box = Markup('<span class="box" role="img" aria-label="□"></span>')
    ticked = sheet.commission
    parts: list[Markup] = [
        element("h1", *_with_site(sheet.title, Markup(apart(name, 120)))),
        element("p", _span(sheet), class_="lead"),
        element("h2", words.days_heading),
        element("p", _look(sheet)),
        scrolled(words.days_heading, _table(sheet)),
    ]
    for number, (heading, entries) in enumerate(_lists(sheet)):
        lines = (joined((box, " ", entry)) for entry in entries) if ticked and number == 0 else entries
        parts += [element("h2", heading), bullets(lines, class_="ticks" if ticked and number == 0 else None)]
    rows = [(name.replace("_", " "), meaning) for name, meaning in words.alarms.items()]
    parts += [
        element("h2", words.alarms_heading),
        scrolled(words.alarms_heading, grid(words.alarms_intro, words.alarm_columns, rows, class_="words")),
        element("h2", words.names_heading),
        bullets((joined((f"{entry}:", Markup("<i></i>"))) for entry in words.names), class_="lines"),
        element("h2", words.cautions_heading),
        bullets(words.cautions),
    ]
    footer = element("footer", element("p", _made_by(sheet)))
    title = sheet.title.format(site=one_line(name, 60))
    return document(title, page_style(), [element("main", *parts, class_="sheet"), footer], language=words.language)


def _with_site(title: str, site: Markup) -> list[object]:
    before, _, after = title.partition("{site}")
    return [before, site, after]


def _table(sheet: Handover) -> Markup:
    words = sheet.words
    head = element("tr", *(element("th", column, scope="col") for column in words.columns))
    rows = []
    for day in sheet.days:
        first = element("th", day.date, scope="row")
        blanks = Markup('<td class="blank"></td><td class="blank"></td>')
        if day.opens:
            cells = joined(element("td", time) for time in (day.opens, day.closes, day.look))
            rows.append(element("tr", first, cells, blanks))
            if day.note:
                rows.append(element("tr", element("td", day.note, colspan=str(len(words.columns)), class_="down")))
        else:
            rows.append(element("tr", first, element("td", day.note, colspan="3", class_="down"), blanks))
    return element("table", element("thead", head), element("tbody", *rows))


def _made_by(sheet: Handover) -> str:
    return f"GENERATED by sunsched {sheet.stamp.version}, tzdata {sheet.stamp.tzdata}"


def text(sheet: Handover) -> str:
    """The sheet as plain text of 78 columns."""
    words = sheet.words
    title = sheet.title.format(site=one_line(sheet.plan.site.name, 200))
    lines = [*_folded(title), *_folded(_span(sheet)), *_folded(_made_by(sheet)), ""]
    lines += [words.days_heading.upper(), *_folded(_look(sheet)), ""]
    lines += [*_day_lines(sheet), ""]
    for heading, entries in _lists(sheet):
        mark = "[ ] " if sheet.commission and heading == words.first_week_heading else "- "
        lines += [heading.upper(), *(line for entry in entries for line in _folded(entry, mark)), ""]
    lines += [words.alarms_heading.upper(), *_folded(words.alarms_intro)]
    for name, meaning in words.alarms.items():
        lines += _folded(f"{name.replace('_', ' ')}: {meaning}", "  ")
    lines += ["", words.names_heading.upper(), *(f"  {name}: {'_' * 40}"[:_TEXT_WIDTH] for name in words.names), ""]
    lines += [words.cautions_heading.upper(), *(line for entry in words.cautions for line in _folded(entry, "- "))]
    return with_digest_line("\n".join([*lines, "", ""]), "({})")


def _day_lines(sheet: Handover) -> list[str]:
    columns = sheet.words.columns
    rows = [columns, *((d.date, d.opens, d.closes, d.look, "____", "____") for d in sheet.days)]
    widths = [max(len(row[k]) for row in rows) for k in range(len(columns))]
    lines = []
    for row, day in zip(rows, [None, *sheet.days], strict=True):
        if day is not None and not day.opens:
            lines.append(f"{day.date.ljust(widths[0])}  {day.note}")
            continue
        lines.append("  ".join(part.ljust(width) for part, width in zip(row, widths, strict=True)).rstrip())
        if day is not None and day.note:
            lines += _folded(day.note, "    ")
    return lines


def _folded(entry: str, mark: str = "") -> list[str]:
    return textwrap.wrap(entry, _TEXT_WIDTH, initial_indent=mark, subsequent_indent=" " * len(mark)) or [mark]


def csv_text(sheet: Handover) -> str:
    """The days as CSV (RFC 4180); text that a spreadsheet could take for a formula is kept behind an apostrophe."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(CSV_HEAD)
    days = sheet.days
    for day in days:
        # RFC 4180 has no remarks: the digest of the text follows the last row's version.
        made_by = f"{sheet.stamp.version} {EMPTY}" if day is days[-1] else sheet.stamp.version
        values = (day.iso_date, day.weekday, day.opens, day.closes, day.look, day.note, made_by)
        writer.writerow([cell(value) for value in values])
    return with_digest(out.getvalue())
