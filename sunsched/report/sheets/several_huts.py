"""One sheet for several huts: each date's huts in the order in which whoever makes the round looks at them."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from sunsched.base.text_digest import EMPTY, with_digest
from sunsched.report.page.html import Markup, apart, cell, element, joined, one_line, stacked
from sunsched.report.sheets.days import SheetDay
from sunsched.report.sheets.handover import (
    CSV_HEAD,
    Handover,
    birds_words,
    csv_values,
    day_rows,
    folded_lines,
    html_page,
    lists_of,
    look_words,
    made_by,
    span_words,
    text_page,
    text_table,
    warned_lines,
)
from sunsched.report.sheets.words import SheetWords

_LONGEST_NAME = 24


@dataclass(frozen=True, slots=True)
class Round:
    """The sheets of several huts over the same dates; the words and the version are those of the first."""

    sheets: tuple[Handover, ...]

    @property
    def words(self) -> SheetWords:
        """The words of the sheet."""
        return self.sheets[0].words

    @property
    def title(self) -> str:
        """The sheet's title."""
        return self.words.round_title.format(count=len(self.sheets))

    def evenings(self) -> Iterator[list[tuple[Handover, SheetDay]]]:
        """The huts of each date, by the minute of the evening's look; those that stay down come last."""
        looks = [sheet.looks_utc_min for sheet in self.sheets]
        days = [sheet.days for sheet in self.sheets]
        for row in range(len(days[0])):
            order = sorted(range(len(self.sheets)), key=lambda k: (looks[k][row], k))
            yield [(self.sheets[k], days[k][row]) for k in order]

    @property
    def explained(self) -> list[str]:
        """What the times mean: the dates, the order, and for each hut whether its door goes by light or clock."""
        looks = [look_words(sheet) for sheet in self.sheets]
        common = dict.fromkeys(look[0] for look in looks)
        own = [
            f"{_name(sheet)}: {sentence}"
            for sheet, look in zip(self.sheets, looks, strict=True)
            for sentence in (look if len(common) > 1 else look[1:])
        ]
        found = [self.words.round_order, *(common if len(common) == 1 else ()), *own]
        return [*found, self.words.round_zones] if len(self.zones) > 1 else found

    @property
    def zones(self) -> list[str]:
        """The zones of the huts."""
        return list(dict.fromkeys(sheet.plan.site.zone for sheet in self.sheets))

    @property
    def warned(self) -> list[str]:
        """What the keepers have been warned of, hut by hut."""
        return [f"{_name(sheet)}: {line}" for sheet in self.sheets for line in warned_lines(sheet)]


def _name(sheet: Handover) -> str:
    return one_line(sheet.plan.site.name, 60)


def _birds(sheet: Handover) -> str:
    """The birds of a hut, in brackets after its name; nothing where the keeper gave no number."""
    return "" if sheet.flock is None else f" ({sheet.words.round_birds.format(birds=birds_words(sheet))})"


def html(several: Round) -> str:
    """The sheet as a page for a screen or for paper; it has no script."""
    words = several.words
    head = [
        element("h1", several.title),
        element("p", span_words(several.sheets[0], several.zones), class_="lead"),
        element("h2", words.days_heading),
        *(element("p", text) for text in several.explained),
        _table(several),
    ]
    first = several.sheets[0]
    return html_page(first, several.title, head, lists_of(first, words.round_count, several.sheets[1:]), several.warned)


def _table(several: Round) -> Markup:
    words, columns = several.words, several.words.round_columns
    rows: list[Markup] = []
    for huts in several.evenings():
        date = element("th", huts[0][1].date, colspan=str(len(columns)), scope="rowgroup", role="rowheader")
        rows.append(element("tr", date, role="row", class_="date"))
        for sheet, day in huts:
            name = joined((Markup(apart(sheet.plan.site.name, 60)), _birds(sheet)))
            rows += day_rows(day, name, columns)
    return stacked(element("caption", words.days_heading, class_="apart"), columns, rows, class_="days")


def text(several: Round) -> str:
    """The sheet as plain text of 78 columns."""
    first, words = several.sheets[0], several.words
    lines = [
        *folded_lines(several.title),
        *folded_lines(span_words(first, several.zones)),
        *folded_lines(made_by(first)),
        "",
    ]
    lines.append(words.days_heading.upper())
    lines += [line for entry in several.explained for line in folded_lines(entry)]
    for huts in several.evenings():
        lines += ["", huts[0][1].date]
        lines += text_table(words.round_columns, [(_short(sheet), day) for sheet, day in huts])
    return text_page(first, [*lines, ""], lists_of(first, words.round_count, several.sheets[1:]), several.warned)


def _short(sheet: Handover) -> str:
    birds = _birds(sheet)
    return one_line(sheet.plan.site.name, _LONGEST_NAME - len(birds)) + birds


def csv_text(several: Round) -> str:
    """The days of all huts as CSV (RFC 4180), each row headed by its hut."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow((several.words.round_columns[0], *CSV_HEAD))
    rows: list[Sequence[str]] = [
        (sheet.plan.site.name, *csv_values(day), sheet.stamp.version)
        for huts in several.evenings()
        for sheet, day in huts
    ]
    # RFC 4180 has no remarks: the digest of the text follows the last row's version.
    rows[-1] = (*rows[-1][:-1], f"{rows[-1][-1]} {EMPTY}")
    for row in rows:
        writer.writerow([cell(value) for value in row])
    return with_digest(out.getvalue())
