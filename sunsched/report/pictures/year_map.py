"""The year as a map of date against hour: a night is one thin row from noon to noon, midnight in the middle.

Rows run down the page from January to December. A night reads from left to right like a line of
text: dusk, the door going down, midnight, the door coming up, dawn.

Above the map stands what the year shows. The two lines bear their times where they run; weekdays that have minutes of
their own are dots beside the line of the other days. The legend holds what occurs in this year and nothing else.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import DAY_MIN, MONTHS, WEEKDAY_NAMES, clock_text, date_of, weekday
from sunsched.plan.reasons import Kind
from sunsched.plan.rules import Rules
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.report.page.html import one_line
from sunsched.report.pictures.findings import weekdays_apart, year_findings
from sunsched.report.pictures.lettering import Box, Labels, Place, text_width
from sunsched.report.pictures.nights import Nights, kinds, limit_lines, nights_of, runs_of
from sunsched.report.pictures.svg import HALO, TEXT, WIDTH, Attribute, Drawing, Entry, Scale, number, polyline, stairs
from sunsched.report.text.year_words import year_description

LEFT, RIGHT = 58.0, 408.0
STRIP = 9.0
ROW = 2.0
_SKY = ("civil", "nautical", "astronomical", "night")
_SKY_WORDS = ("Sun 0° to 6° down", "6° to 12°", "12° to 18°", "more: night")
_STRIP_WORDS = {
    Kind.LIMIT: "edge: your limit decides",
    Kind.LIGHT: "edge: no twilight, a clear sky's light decides",
    Kind.STAND_IN: "edge: no twilight, your limit stands in",
}


class YearMap:
    """The chart and the scales under it, so that a page's script can find a day on it."""

    def __init__(
        self, plan: YearPlan, rules: Rules, title: str = "", ident: str = "year", marked: bool = False
    ) -> None:
        self.plan, self.rules = plan, rules
        self.nights: Nights = nights_of(plan)
        self.row_height = ROW if plan.n_days > 180 else min(24.0, 366 * ROW / (plan.n_days + 1))
        self.x = Scale(self.nights.from_min, self.nights.until_min, LEFT, RIGHT)
        name = title or f"{one_line(plan.site.name, 40)}, {date_of(plan.first_day).year}"
        found = year_findings(plan)
        self.drawing = Drawing(WIDTH, 0.0, ". ".join((name, *found)), year_description(plan), ident)
        below = self.drawing.heading(name, found)
        below = self.drawing.lines(below + 8.0, "A row is a night, noon to noon. Civil time, hours.", fill="quiet")
        self.top = below + 10.0
        self.bottom = self.top + self.row_height * (plan.n_days + 1)
        self.labels = Labels(Box(LEFT, self.top, RIGHT, self.bottom))
        self.apart = {side: weekdays_apart(plan, side) for side in ("close", "open")}
        self._draw(marked)

    def y(self, night: float) -> float:
        """Where the row of a night begins."""
        return self.top + self.row_height * night

    def _draw(self, marked: bool) -> None:
        self._sky()
        self._kept_in()
        self._grid()
        self._limits()
        self._strips()
        self._door()
        if marked:
            self._mark()
        self._changes()
        unnamed = self._names()
        lettered = self._seasons()
        self.drawing.height = self.drawing.key([*self._lines(unnamed), *self._legend(lettered)], self.bottom + 46.0)

    def _sky(self) -> None:
        d, nights = self.drawing, self.nights
        d.rect(LEFT, self.top, RIGHT - LEFT, self.bottom - self.top, fill="day")
        fills = {"astronomical": d.hatch("astronomical", "night", 5, 45, 0.9)}
        middles = [self.y(j + 0.5) for j in range(self.plan.n_days + 1)]
        middles[0], middles[-1] = self.top, self.bottom
        for k, role in enumerate(_SKY):
            left, right = nights.dark_edges(k)
            edge = [(self.x.at(m), y) for m, y in zip(left, middles, strict=True)]
            edge += [(self.x.at(m), y) for m, y in zip(right[::-1], middles[::-1], strict=True)]
            path = polyline(edge, closed=True)
            d.path(path, fill=role)
            if role in fills:
                d.path(path, fill=fills[role])

    def _grid(self) -> None:
        d, plan = self.drawing, self.plan
        with d.group(stroke="ink", stroke_width=0.6, stroke_opacity=0.35):
            for hour in self._hours():
                d.line(self.x.at(hour * 60), self.top, self.x.at(hour * 60), self.bottom, stroke=None)
        with d.group(font_size=TEXT, text_anchor="middle", fill="quiet"):
            for hour in self._hours():
                for y in (self.top - 7, self.bottom + 17):
                    d.text(self.x.at(hour * 60), y, str(hour % 24), fill=None)
        firsts = [row for row in range(plan.n_days) if date_of(plan.first_day + row).day == 1] or [0]
        with d.group(stroke="ink", stroke_width=0.6, stroke_opacity=0.35):
            for row in firsts:
                d.line(LEFT - STRIP - 6, self.y(row + 1), RIGHT, self.y(row + 1), stroke=None)
        with d.group(font_size=TEXT, text_anchor="end", fill="quiet"):
            for row in firsts:
                date = date_of(plan.first_day + row)
                d.text(LEFT - STRIP - 8, self.y(row + 1) + 14, MONTHS[date.month - 1], fill=None)

    def _hours(self) -> range:
        first = -(-self.nights.from_min // 180) * 3
        return range(first, self.nights.until_min // 60 + 1, 3)

    def _kept_in(self) -> None:
        """Days on which the door stays down: a hatch over the whole row."""
        d = self.drawing
        hatch = d.hatch("down", "ink", 7, -45, 1.1)
        for value, a, b in runs_of((self.plan.open_min == NO_MINUTE).astype(np.int64)):
            if value:
                d.rect(LEFT, self.y(a + 0.5), RIGHT - LEFT, self.y(b + 0.5) - self.y(a + 0.5), fill=hatch)

    def _shown_limits(self) -> list[tuple[str, float, int, int]]:
        lines = limit_lines(self.plan, self.rules)
        return [line for line in lines if self.nights.from_min <= line[1] <= self.nights.until_min]

    def _limits(self) -> None:
        d = self.drawing
        with d.group(stroke="ink", stroke_width=1.1, stroke_dasharray="1.5 3.5"):
            for _, minute, a, b in self._shown_limits():
                d.line(self.x.at(minute), self.y(a), self.x.at(minute), self.y(b), stroke=None)

    def _changes(self) -> None:
        """The nights in which civil clocks change, named in the middle of the night, where neither line runs."""
        d = self.drawing
        for night, _, change in self.nights.clock_changes:
            y = self.y(night + 0.5)
            d.line(LEFT, y, RIGHT, y, stroke="third", stroke_width=1.2, stroke_dasharray="5 3")
            words = f"clocks {change / 60:+g} h"
            middle = self.x.at(self.nights.from_min + DAY_MIN / 2)
            places = [
                Place(middle + aside, y + down, "middle")
                for aside in (0.0, -50.0, 50.0, -100.0, 100.0)
                for down in (-5.0, 5.0 + TEXT)
            ]
            place = self.labels.place(words, TEXT, places)
            if place:
                d.text(place.x, place.y, words, text_anchor=place.anchor, font_size=TEXT, fill="third", **HALO)

    def _strips(self) -> None:
        """At either edge, what decided: nothing where the Sun did."""
        d = self.drawing
        fills: dict[int, str] = {
            Kind.LIMIT: d.hatch("limit", "ink", 4, 45, 1.2),
            Kind.LIGHT: d.dots("light", "ink", 4, 1.3),
            Kind.STAND_IN: d.hatch("stand-in", "ink", 3, 90, 1.6),
            Kind.DOWN: "quiet",
        }
        for side, x, night in (("close", LEFT - STRIP - 2, 1), ("open", RIGHT + 2, 0)):
            top, height = self.y(night), self.row_height * self.plan.n_days
            d.rect(x, top, STRIP, height, fill="paper", stroke="faint", stroke_width=0.7)
            for kind, a, b in runs_of(kinds(self.plan, side)):
                if kind in fills:
                    d.rect(x, self.y(a + night), STRIP, self.row_height * (b - a), fill=fills[kind])

    def _door(self) -> None:
        """The two lines of the door, a step a day: each stands at its minute for the height of its night's row.

        A day that lies apart is a dot at its minute, and the line stands on at the minute of the day before it.
        """
        d = self.drawing
        for side, minutes, night in (("close", self.nights.close, 1), ("open", self.nights.open, 0)):
            apart = np.concatenate([np.zeros(night, np.bool_), self.apart[side], np.zeros(1 - night, np.bool_)])
            path = "".join(stairs(self._steps(run)) for run in _line_runs(minutes, apart))
            look = {"stroke_linejoin": "round"}
            d.path(path, stroke="halo", stroke_width=4.6, **look)
            d.path(path, stroke=side, stroke_width=2.3, id=f"{d.ident}-{side}", **look)
            dots = [(self.x.at(float(minutes[n])), self.y(n + 0.5)) for n in np.flatnonzero(apart)]
            if dots:
                path = "".join(f"M{number(x)} {number(y)}h0" for x, y in dots)
                d.path(path, stroke="halo", stroke_width=5.4, stroke_linecap="round")
                d.path(path, stroke=side, stroke_width=3.6, stroke_linecap="round", id=f"{d.ident}-{side}-apart")
            for n in np.flatnonzero(~np.isnan(minutes)):
                x = self.x.at(float(minutes[n]))
                self.labels.keep(Box(x - 4, self.y(float(n)), x + 4, self.y(float(n) + 1)))

    def _mark(self) -> None:
        """The line and the two dots of one day, which a page's script moves; hidden until it does.

        It lies below the labels: a line through a time reads as a time that is struck out.
        """
        d = self.drawing
        with d.group(id=f"{d.ident}-mark", visibility="hidden"):
            d.line(LEFT - 6, self.top, RIGHT + 6, self.top, stroke="ink", stroke_width=1.2)
            for side in ("close", "open"):
                look: dict[str, Attribute] = {"fill": side, "stroke": "halo", "stroke_width": 1.6}
                d.add("circle", id=f"{d.ident}-mark-{side}", cx=LEFT, cy=self.top, r=5, **look)

    def _steps(self, run: Sequence[tuple[int, float]]) -> list[tuple[float, float, float]]:
        return [(self.x.at(minute), self.y(night), self.y(night + 1)) for night, minute in run]

    def _names(self) -> list[str]:
        """Each line's name and times, where it runs at its earliest and its latest; returns the lines left unnamed.

        The name stands with the first time that has room for it; what is apart from the line counts for neither end.
        """
        unnamed = []
        for side, word in (("close", "closes"), ("open", "opens")):
            minutes = np.array(
                [np.nan if self._is_apart(side, n) else m for n, m in enumerate(getattr(self.nights, side).tolist())]
            )
            known = np.flatnonzero(~np.isnan(minutes))
            if not known.size:
                continue
            ends = sorted({_middle_of(minutes, np.nanmin(minutes)), _middle_of(minutes, np.nanmax(minutes))})
            named = False
            for night in ends:
                if not named and self._label(side, minutes, night, f"{word} "):
                    named = True
                else:
                    self._label(side, minutes, night, "")
            elsewhere = known[:: max(1, len(known) // 12)].tolist()
            if not named and not any(self._label(side, minutes, night, f"{word} ") for night in elsewhere):
                unnamed.append(side)
        return unnamed

    def _label(self, side: str, minutes: NDArray[np.float64], night: int, word: str) -> bool:
        """A time beside its line, as near to a night as there is room; the time is that of the night it stands at."""
        inwards = 1 if side == "close" else -1
        reach = max(int(70 / self.row_height), 1)
        for away in sorted(range(-reach, reach + 1, max(reach // 14, 1)), key=abs):
            at = night + away
            if not 0 <= at < len(minutes) or np.isnan(minutes[at]):
                continue
            words = f"{word}{clock_text(round(float(minutes[at])) % DAY_MIN)}"
            x, y = self.x.at(float(minutes[at])), self.y(at + 0.5) + 0.36 * TEXT
            ways = ((9.0, inwards), (9.0, -inwards), (20.0, -inwards))
            places = [Place(x + far * way, y, "start" if way > 0 else "end") for far, way in ways]
            place = self.labels.place(words, TEXT, places, bold=True)
            if place:
                look: dict[str, Attribute] = {"text_anchor": place.anchor, "font_size": TEXT, "font_weight": "700"}
                self.drawing.text(place.x, place.y, words, fill=side, class_=f"at-{side}", **HALO, **look)
                return True
        return False

    def _is_apart(self, side: str, night: int) -> bool:
        row = night - (1 if side == "close" else 0)
        return 0 <= row < self.plan.n_days and bool(self.apart[side][row])

    def _seasons(self) -> list[str]:
        """Brackets at the right for the dates on which a season replaces rules; returns those named by a letter.

        A name stands along its bracket where it fits whole, and beside a letter in the legend where it does not.
        """
        d, plan = self.drawing, self.plan
        lettered: list[str] = []
        date = [date_of(int(day)) for day in plan.days]
        for season in self.rules.season:
            inside = [any(a <= t.month * 100 + t.day <= b for a, b in season.spans()) for t in date]
            spans = [(a, b) for value, a, b in runs_of(np.array(inside, np.int64)) if value]
            if not spans:
                continue
            name = one_line(season.name, 200)
            sizes = [self.row_height * (b - a) for a, b in spans]
            fits = max(sizes) >= text_width(name, TEXT)
            letter = name if fits else _letter(len(lettered))
            if not fits:
                lettered.append(f"{letter}: {name}")
            x = RIGHT + STRIP + 9
            for (a, b), size in zip(spans, sizes, strict=True):
                y, y2 = self.y(a + 1), self.y(b + 1)
                d.path(f"M{x - 4:g} {number(y)}H{x:g}V{number(y2)}H{x - 4:g}", stroke="quiet", stroke_width=1.2)
                if not fits:
                    d.text(x + 6, (y + y2) / 2 + 5, letter, fill="quiet", font_size=TEXT)
                elif size == max(sizes):
                    turn = f"rotate(90 {x + 6:g} {number((y + y2) / 2)})"
                    look: dict[str, Attribute] = {"transform": turn, "text_anchor": "middle", "font_size": TEXT}
                    d.text(x + 6, (y + y2) / 2, name, fill="quiet", **look)
        return lettered

    def _lines(self, unnamed: Iterable[str]) -> list[Entry]:
        """Lines that had no room for their name where they run."""
        words = {"close": "the door closes", "open": "the door opens"}
        return [(self.drawing.stroke_sample(stroke=side, stroke_width=2.3), words[side]) for side in unnamed]

    def _legend(self, lettered: Iterable[str]) -> list[Entry]:
        """What occurs in this year, as samples with their words."""
        d, decided = self.drawing, np.concatenate([kinds(self.plan, side) for side in ("close", "open")])
        entries: list[Entry] = []

        def dots(x: float, y: float) -> None:
            with d.group(stroke="ink", stroke_width=3.6, stroke_linecap="round"):
                for k in range(3):
                    d.path(f"M{number(x + 4 + 8 * k)} {number(y - 4.5)}h0")

        for k, role in enumerate(_SKY):
            left, right = self.nights.dark_edges(k)
            if (right > left).any():
                over = f"url(#{d.ident}-astronomical)" if role == "astronomical" else ""
                entries.append((d.patch_sample(role, over), _SKY_WORDS[k]))
        for kind, words in _STRIP_WORDS.items():
            if (decided == kind).any():
                entries.append((d.patch_sample(f"url(#{d.ident}-{kind.name.lower().replace('_', '-')})"), words))
        if (decided == Kind.DOWN).any():
            entries.append((d.patch_sample(f"url(#{d.ident}-down)"), "the door stays down"))
        if self._shown_limits():
            entries.append((d.stroke_sample(stroke_dasharray="1.5 3.5", stroke_width=1.4), "your limits"))
        apart = self.apart["close"] | self.apart["open"]
        if apart.any():
            days = sorted(set(weekday(self.plan.days[apart]).tolist()))
            entries.append((dots, f"{', '.join(WEEKDAY_NAMES[day] for day in days)}: minutes of their own"))
        for words in lettered:
            entries.append((lambda x, y: d.path(f"M{x + 8:g} {y - 11:g}h4v12h-4", stroke="quiet"), words))
        return entries


def _letter(number_of: int) -> str:
    """A, B and so on to Z, then AA."""
    more, last = divmod(number_of, 26)
    return (_letter(more - 1) if more else "") + chr(ord("A") + last)


def _middle_of(minutes: NDArray[np.float64], value: float) -> int:
    """The night in the middle of those that have a value."""
    nights = np.flatnonzero(minutes == value)
    return int(nights[len(nights) // 2])


def _line_runs(minutes: NDArray[np.float64], apart: NDArray[np.bool_]) -> list[list[tuple[int, float]]]:
    """Nights and minutes of a line without a gap; one that lies apart has the minute of a neighbour on the line."""
    runs: list[list[tuple[int, float]]] = []
    known = ~np.isnan(minutes)
    for value, a, b in runs_of(known.astype(np.int64)):
        base = [n for n in range(a, b) if not apart[n]]
        if value and base:
            nearest = np.maximum(np.searchsorted(base, np.arange(a, b), side="right") - 1, 0)
            runs.append([(n, float(minutes[base[k]])) for n, k in zip(range(a, b), nearest.tolist(), strict=True)])
    return runs
