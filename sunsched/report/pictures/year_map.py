"""The year as a map of date against hour: a night is one thin row from noon to noon, midnight in the middle.

Rows run down the page from January to December. A night reads from left to right like a line of
text: dusk, the door going down, midnight, the door coming up, dawn.

A plan seen as nights: each from the noon before it to the noon after it, in civil minutes of its evening's date.

Night j lies between the plan's row j - 1 and row j, so n days have n + 1 nights; the first has no
evening in the plan and the last no morning.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import DAY_MIN, MONTHS, WEEKDAYS, date_of, month_day, zone_of
from sunsched.plan.reasons import Kind, kinds_of
from sunsched.plan.rules import MomentRule, Rules, evening_minute
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.report.page.html import one_line
from sunsched.report.pictures.svg import Attribute, Drawing, Scale, polyline, stairs
from sunsched.report.text.year_words import year_description
from sunsched.sky.crossings import State, altitude_crossings
from sunsched.sky.horizon import SUNRISE_ALTITUDE_DEG

Floats = NDArray[np.float64]
NOON_MIN = DAY_MIN // 2
# Sunset, and the ends of civil, nautical and astronomical twilight.
BAND_ALTITUDES_DEG = (SUNRISE_ALTITUDE_DEG, -6.0, -12.0, -18.0)


@dataclass(frozen=True, slots=True)
class Nights:
    """Civil minutes after midnight of each night's evening date; a morning is beyond 1440.

    close, open   (n + 1,) when the door goes down and when it comes up, NaN where it does not
    dark_from, dark_until   (4, n + 1) when the Sun is below sunset's altitude, -6, -12, -18 degrees;
      equal where it never is, noon to noon where it always is
    evening_day   (n + 1,) [day number] date of the evening
    from_min, until_min   what a chart must span: noon to noon, or whole hours more where something lies beyond
    clock_changes   (night, minute, change) of each change of civil time in the span [minutes]
    """

    evening_day: NDArray[np.int64]
    close: Floats
    open: Floats
    dark_from: Floats
    dark_until: Floats
    from_min: int
    until_min: int
    clock_changes: tuple[tuple[int, float, int], ...]

    def dark_edges(self, band: int) -> tuple[Floats, Floats]:
        """`dark_from` and `dark_until` of a band as a chart paints them, within its span (n + 1,) each.

        Darkness that lasts past the Sun's noon reaches the chart's edge on both nights, although that noon
        seldom falls on the clock's twelve.
        """
        left = np.clip(self.dark_from[band], self.from_min, self.until_min)
        right = np.clip(self.dark_until[band], self.from_min, self.until_min)
        lasts = self.dark_until[band, :-1] == self.dark_from[band, 1:] + DAY_MIN
        right[:-1][lasts] = self.until_min
        left[1:][lasts] = self.from_min
        return left, right


def nights_of(plan: YearPlan) -> Nights:
    """The nights of a plan, with the sky's bands worked out for the same place and dates."""
    n = plan.n_days
    close, opens = np.full(n + 1, np.nan), np.full(n + 1, np.nan)
    close[1:] = plan.civil_min(plan.close_min)
    opens[:-1] = plan.civil_min(plan.open_min) + DAY_MIN
    evening_day = plan.first_day - 1 + np.arange(n + 1, dtype=np.int64)
    dark_from, dark_until = _bands(plan, evening_day)
    known = np.concatenate([close, opens])
    known = known[~np.isnan(known)]
    earliest, latest = (known.min(), known.max()) if known.size else (NOON_MIN, NOON_MIN)
    from_min = min(NOON_MIN, int(np.floor(earliest / 60)) * 60)
    until_min = max(NOON_MIN + DAY_MIN, int(np.ceil(latest / 60)) * 60)
    return Nights(evening_day, close, opens, dark_from, dark_until, from_min, until_min, _changes(plan))


def _bands(plan: YearPlan, evening_day: NDArray[np.int64]) -> tuple[Floats, Floats]:
    site, n = plan.site, plan.n_days
    first_noon = float(plan.utc_min(plan.noon_min)[0])
    first_sun_day = round((first_noon + 4 * site.longitude_deg) / DAY_MIN - 0.5)
    place = (site.latitude_deg, site.longitude_deg)
    found = altitude_crossings(first_sun_day - 1, n + 2, *place, BAND_ALTITUDES_DEG)
    noon, midnight = found.noon_utc_min, found.midnight_utc_min
    starts = _moments(found.set_utc_min[:, :-1], found.evening_state[:, :-1], midnight[1:-1], noon[:-1])
    ends = _moments(found.rise_utc_min[:, 1:], found.morning_state[:, 1:], midnight[1:-1], noon[1:])
    return _civil(plan, starts, evening_day), _civil(plan, ends, evening_day)


def _moments(times: Floats, states: NDArray[np.int8], midnight: Floats, noon: Floats) -> Floats:
    """Crossings, with the lowest Sun where it never gets so low and noon where it never gets so high."""
    settled = np.where(states == State.ALWAYS_ABOVE, midnight, times)
    return np.where(states == State.ALWAYS_BELOW, noon, settled)


def _civil(plan: YearPlan, utc_min: Floats, evening_day: NDArray[np.int64]) -> Floats:
    offset = zone_of(plan.site.zone).utc_offset_min(utc_min)
    return np.asarray(utc_min + offset - evening_day * float(DAY_MIN))


def _changes(plan: YearPlan) -> tuple[tuple[int, float, int], ...]:
    zone = zone_of(plan.site.zone)
    first_min = (plan.first_day - 1) * DAY_MIN + NOON_MIN - int(plan.civil_offset_min[0])
    found = []
    for start, offset in zone.changes(first_min, first_min + (plan.n_days + 1) * DAY_MIN):
        before = int(zone.utc_offset_min(np.array([start - 1]))[0])
        local = start + before - first_min - int(plan.civil_offset_min[0])
        night = int(local // DAY_MIN)
        found.append((night, start + before - (plan.first_day - 1 + night) * DAY_MIN, offset - before))
    return tuple(found)


def limit_lines(plan: YearPlan, rules: Rules) -> list[tuple[str, float, int, int]]:
    """Civil limits as (side, civil minute of the night, first night, last night + 1) for each stretch of dates.

    An evening's limit lies on the nights that follow its dates, a morning's on the nights before.
    """
    found: list[tuple[str, float, int, int]] = []
    date = month_day(plan.days)
    for side in ("close", "open"):
        for key in ("not_before", "not_after"):
            # A line for each weekday, each through the weeks, not in dots of a day; equal ones are one.
            drawn: dict[tuple[str, float, int, int], None] = {}
            night = 1 if side == "close" else 0
            for day in range(len(WEEKDAYS)):
                minutes = np.full(plan.n_days, -1, np.int64)
                for variant in rules.variants():
                    rule = variant.evening if side == "close" else variant.morning
                    rows = np.zeros(plan.n_days, np.bool_)
                    for first, last in variant.spans:
                        rows |= (first <= date) & (date <= last)
                    minutes[rows] = _limit(rule, key, side, day)
                drawn |= dict.fromkeys((side, float(m), a + night, b + night) for m, a, b in runs_of(minutes) if m >= 0)
            found += drawn
    return found


def _limit(rule: MomentRule, key: str, side: str, day: int) -> int:
    limit: int | None = getattr(rule, f"{key}_by_weekday")[day]
    if limit is None:
        return -1
    return evening_minute(limit) if side == "close" else limit + DAY_MIN


def runs_of(values: NDArray[np.int64]) -> list[tuple[int, int, int]]:
    """Runs of equal values as (value, first index, last index + 1)."""
    if not len(values):
        return []
    edges = np.flatnonzero(np.diff(values)) + 1
    starts, ends = [0, *edges.tolist()], [*edges.tolist(), len(values)]
    return [(int(values[a]), a, b) for a, b in zip(starts, ends, strict=True)]


def kinds(plan: YearPlan, side: str) -> NDArray[np.int64]:
    """For each day (n,), what decided its closing or opening: one of the kinds.

    A day whose moment never comes keeps its stand-in even where a step after it moved the minute.
    """
    reasons = plan.close_reason if side == "close" else plan.open_reason
    asked = plan.dusk_utc_min if side == "close" else plan.dawn_utc_min
    by_reason = kinds_of(reasons)
    stand_in = np.isnan(asked) & (by_reason == Kind.SUN)
    down = plan.open_min == NO_MINUTE
    return np.where(down, Kind.DOWN, np.where(stand_in, Kind.LIGHT, by_reason)).astype(np.int64)


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
