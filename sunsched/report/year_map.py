"""The year as a map of date against hour: a night is one thin row from noon to noon, midnight in the middle.

Rows run down the page from January to December. A night reads from left to right like a line of
text: dusk, the door going down, midnight, the door coming up, dawn.
"""

from __future__ import annotations

import numpy as np

from sunsched.base.civil_time import date_of
from sunsched.plan.rules import Rules
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.report.axes import Scale
from sunsched.report.nights import (
    KIND_DOWN,
    KIND_LIGHT,
    KIND_LIMIT,
    KIND_STAND_IN,
    Nights,
    kinds,
    limit_lines,
    nights_of,
    runs_of,
)
from sunsched.report.plain import one_line
from sunsched.report.svg import Attribute, Drawing, polyline, stairs
from sunsched.report.year_words import MONTHS, year_description

WIDTH, LEFT, RIGHT, TOP = 640.0, 62.0, 566.0, 76.0
STRIP = 9.0
ROW, LEGEND_HEIGHT = 2.0, 150.0
_SKY = ("civil", "nautical", "astronomical", "night")


class YearMap:
    """The chart and the scales under it, so that a page's script can find a day on it."""

    def __init__(self, plan: YearPlan, rules: Rules, title: str = "", ident: str = "year") -> None:
        self.plan, self.rules = plan, rules
        self.nights: Nights = nights_of(plan)
        self.row_height = ROW if plan.n_days > 180 else min(24.0, 366 * ROW / (plan.n_days + 1))
        self.bottom = TOP + self.row_height * (plan.n_days + 1)
        self.x = Scale(self.nights.from_min, self.nights.until_min, LEFT, RIGHT)
        name = title or f"{one_line(plan.site.name, 40)}, {date_of(plan.first_day).year}"
        self.drawing = Drawing(WIDTH, self.bottom + LEGEND_HEIGHT, name, year_description(plan), ident)
        self._draw()

    def y(self, night: float) -> float:
        """Where the row of a night begins."""
        return TOP + self.row_height * night

    def _draw(self) -> None:
        d = self.drawing
        d.text(LEFT, 24, d.title, font_size=19, font_weight="600", class_="head")
        d.text(LEFT, 44, "each row a night, noon to noon; civil time, hours", font_size=13, fill="quiet", class_="tick")
        self._sky()
        self._kept_in()
        self._grid()
        self._limits()
        self._changes()
        self._strips()
        self._door()
        self._seasons()
        self._legend()

    def _sky(self) -> None:
        d, nights = self.drawing, self.nights
        d.rect(LEFT, TOP, RIGHT - LEFT, self.bottom - TOP, fill="day")
        fills = {"astronomical": d.hatch("astronomical", "night", 5, 45, 0.9)}
        middles = [self.y(j + 0.5) for j in range(self.plan.n_days + 1)]
        middles[0], middles[-1] = TOP, self.bottom
        for k, role in enumerate(_SKY):
            left, right = nights.dark_edges(k)
            edge = [(self.x.at(m), y) for m, y in zip(left, middles, strict=True)]
            edge += [(self.x.at(m), y) for m, y in zip(right[::-1], middles[::-1], strict=True)]
            d.path(polyline(edge, closed=True), fill=role)
            if role in fills:
                d.path(polyline(edge, closed=True), fill=fills[role])

    def _grid(self) -> None:
        d, plan = self.drawing, self.plan
        with d.group(stroke="ink", stroke_width=0.6, stroke_opacity=0.35):
            for hour in self._hours():
                d.line(self.x.at(hour * 60), TOP, self.x.at(hour * 60), self.bottom, stroke=None)
        with d.group(font_size=13, class_="tick", text_anchor="middle", fill="quiet"):
            for hour in self._hours():
                for y in (TOP - 7, self.bottom + 17):
                    d.text(self.x.at(hour * 60), y, str(hour % 24), fill=None)
        firsts = [row for row in range(plan.n_days) if date_of(plan.first_day + row).day == 1] or [0]
        with d.group(stroke="ink", stroke_width=0.6, stroke_opacity=0.35):
            for row in firsts:
                d.line(LEFT - STRIP - 6, self.y(row + 1), RIGHT, self.y(row + 1), stroke=None)
        with d.group(font_size=13, class_="tick", text_anchor="end", fill="quiet"):
            for row in firsts:
                date = date_of(plan.first_day + row)
                d.text(LEFT - STRIP - 8, self.y(row + 15), MONTHS[date.month - 1], fill=None)

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

    def _limits(self) -> None:
        d = self.drawing
        with d.group(stroke="ink", stroke_width=1.1, stroke_dasharray="1.5 3.5"):
            for _, minute, a, b in limit_lines(self.plan, self.rules):
                if self.nights.from_min <= minute <= self.nights.until_min:
                    d.line(self.x.at(minute), self.y(a), self.x.at(minute), self.y(b), stroke=None)

    def _changes(self) -> None:
        d = self.drawing
        for night, _, change in self.nights.clock_changes:
            y = self.y(night + 0.5)
            d.line(LEFT, y, RIGHT + STRIP + 5, y, stroke="third", stroke_width=1.2, stroke_dasharray="5 3")
            words = f"{change / 60:+g} h"
            d.text(WIDTH - 4, y + 4.5, words, text_anchor="end", font_size=13, class_="tick", fill="third")

    def _strips(self) -> None:
        """At either edge, what decided: nothing where the Sun did."""
        d = self.drawing
        fills = {
            KIND_LIMIT: d.hatch("limit", "ink", 4, 45, 1.2),
            KIND_LIGHT: d.dots("light", "ink", 4, 1.3),
            KIND_STAND_IN: d.hatch("stand-in", "ink", 3, 90, 1.6),
            KIND_DOWN: "quiet",
        }
        for side, x, night in (("close", LEFT - STRIP - 2, 1), ("open", RIGHT + 2, 0)):
            top, height = self.y(night), self.row_height * self.plan.n_days
            d.rect(x, top, STRIP, height, fill="paper", stroke="faint", stroke_width=0.7)
            for kind, a, b in runs_of(kinds(self.plan, side)):
                if kind in fills:
                    d.rect(x, self.y(a + night), STRIP, self.row_height * (b - a), fill=fills[kind])

    def _door(self) -> None:
        """The two lines of the door, a step a day: each stands at its minute for the height of its night's row."""
        d = self.drawing
        for side, minutes in (("close", self.nights.close), ("open", self.nights.open)):
            runs: list[list[tuple[float, float, float]]] = [[]]
            for night, minute in enumerate(minutes):
                if np.isnan(minute):
                    runs.append([])
                else:
                    runs[-1].append((self.x.at(float(minute)), self.y(night), self.y(night + 1)))
            path = "".join(stairs(run) for run in runs)
            look = {"stroke_linejoin": "round"}
            d.path(path, stroke="halo", stroke_width=4.6, **look)
            d.path(path, stroke=side, stroke_width=2.3, id=f"{d.ident}-{side}", **look)
        self._names()

    def _names(self) -> None:
        """The words at the lines themselves, near the top, on the night's side of each."""
        for side, word, anchor, aside in (("close", "closes", "start", 9), ("open", "opens", "end", -9)):
            minutes = getattr(self.nights, side)
            known = np.flatnonzero(~np.isnan(minutes))
            if not known.size:
                continue
            night = int(known[min(24, known.size - 1)])
            x, y = self.x.at(float(minutes[night])) + aside, self.y(night) + 5
            look: dict[str, Attribute] = {"stroke": "halo", "stroke_width": 4, "paint_order": "stroke"}
            look |= {"text_anchor": anchor, "font_size": 14, "font_weight": "700", "stroke_linejoin": "round"}
            self.drawing.text(x, y, word, fill=side, class_="tick", **look)

    def _seasons(self) -> None:
        """Brackets at the right for the dates on which a season replaces rules."""
        d, plan = self.drawing, self.plan
        date = [date_of(int(day)) for day in plan.days]
        for season in self.rules.season:
            inside = [any(a <= t.month * 100 + t.day <= b for a, b in season.spans()) for t in date]
            for value, a, b in runs_of(np.array(inside, np.int64)):
                if value:
                    x, y, y2 = RIGHT + STRIP + 9, self.y(a + 1), self.y(b + 1)
                    d.path(f"M{x - 4} {y:g}H{x}V{y2:g}H{x - 4}", stroke="quiet", stroke_width=1.2)
                    fits = int((y2 - y) / 8)
                    if fits > 4:
                        turn = f"rotate(90 {x + 6:g} {(y + y2) / 2:g})"
                        look: dict[str, Attribute] = {"transform": turn, "text_anchor": "middle", "font_size": 13}
                        d.text(x + 6, (y + y2) / 2, one_line(season.name, fits), fill="quiet", **look)

    def _legend(self) -> None:
        d, y = self.drawing, self.bottom + 36
        words = ("Sun up", "to 6° below", "to 12°", "to 18°", "night")
        x = LEFT - STRIP
        for role, word in zip(("day", *_SKY), words, strict=True):
            d.rect(x, y, 22, 13, fill=role, stroke="quiet", stroke_width=0.7)
            if role == "astronomical":
                d.rect(x, y, 22, 13, fill=f"url(#{d.ident}-astronomical)")
            d.text(x + 28, y + 11, word, font_size=13, class_="tick small")
            x += 46 + 7.3 * len(word) + 8
        entries = (
            ("limit", "edges: a civil limit decided"),
            ("light", "no twilight: light decided"),
            ("stand-in", "no twilight: a limit stands in"),
            ("down", "the door stays down"),
        )
        for k, (name, word) in enumerate(entries):
            ex, ey = LEFT - STRIP + (k % 2) * 285, y + 24 + 24 * (k // 2)
            d.rect(ex, ey, 22, 13, fill=f"url(#{d.ident}-{name})", stroke="quiet", stroke_width=0.7)
            d.text(ex + 28, ey + 11, word, font_size=13, class_="tick small")
        last = y + 24 + 48
        d.line(LEFT - STRIP, last + 6, LEFT - STRIP + 22, last + 6, stroke_dasharray="1.5 3.5", stroke_width=1.4)
        d.text(LEFT - STRIP + 28, last + 11, "limits in civil time", font_size=13, class_="tick small")
        ex = LEFT - STRIP + 285
        d.line(ex, last + 6, ex + 22, last + 6, stroke="third", stroke_width=1.4, stroke_dasharray="5 3")
        d.text(ex + 28, last + 11, "civil clocks change", font_size=13, class_="tick small")
