"""One evening's light at the cell against time, with thresholds, the cell's window, and when the door closes.

The closings of a clear and of a dull evening are those that the door's program takes at the light drawn here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import DAY_MIN, clock_text, zone_of
from sunsched.controller.door_window import evening_windows
from sunsched.hardware.parts import LightCell
from sunsched.plan.rules import Rules
from sunsched.plan.year import YearPlan
from sunsched.report.pictures.lettering import Labels, Place
from sunsched.report.pictures.svg import HALO, Attribute, Drawing, Frame, Scale
from sunsched.report.text.year_words import date_words
from sunsched.sky.daylight import clear_sky_lux_at
from sunsched.study.evening_program import Closing, Sky, closings
from sunsched.study.trial import Why

OVERCAST = 0.1  # a dull sky gives about a tenth of a clear one's light: common practice
_BEFORE_MIN, _AFTER_MIN = 75, 60
_WIDTH, _HEIGHT = 460.0, 400.0
_TICK = 15.0  # the size of a small text on a phone, where it is largest
Floats = NDArray[np.float64]


class Evening(NamedTuple):
    """The clear sky's light at the cell around one planned closing; minutes are civil, after the date's midnight.

    window_min   the first and the last minute in which the light may close the door
    clear, dull   when the program closes under a clear and an overcast sky, and what moves the door then
    """

    date: str
    closing_min: float
    window_min: tuple[float, float]
    civil_min: Floats
    clear_lux: Floats
    clear: tuple[float, Why]
    dull: tuple[float, Why]

    @property
    def cell_acts(self) -> bool:
        """True when the light cell has a window in which it may act."""
        return self.window_min[0] != self.window_min[1]


def evening_of(plan: YearPlan, rules: Rules, cell: LightCell, row: int) -> Evening | None:
    """The evening of a plan's row, a value a minute; None on a day when the door stays down."""
    return evenings_of(plan, rules, cell, [row])[0]


def evenings_of(plan: YearPlan, rules: Rules, cell: LightCell, rows: Sequence[int]) -> list[Evening | None]:
    """The evenings of some rows, as `evening_of` gives each."""
    skies = [Sky(row, share) for row in rows for share in (1.0, OVERCAST)]
    decided = closings(plan, rules, cell, skies)
    return [
        None if clear is None or dull is None else _evening(plan, rules, cell, row, clear, dull)
        for row, clear, dull in zip(rows, decided[::2], decided[1::2], strict=True)
    ]


def _evening(plan: YearPlan, rules: Rules, cell: LightCell, row: int, *decided: Closing) -> Evening:
    day, site = plan.first_day + row, plan.site
    planned = float(plan.utc_min(plan.close_min)[row])
    offset = float(zone_of(site.zone).utc_offset_min(np.array([planned]))[0]) - day * DAY_MIN
    to_civil = planned + offset - float(plan.close_min[row])
    windows = evening_windows(plan, rules)
    window = (float(windows.first_min[row]) + to_civil, float(windows.last_min[row]) + to_civil)
    first, last = (min(0.0, window[0] - planned - offset), max(0.0, window[1] - planned - offset))
    minutes = np.arange(first - _BEFORE_MIN, last + _AFTER_MIN + 1.0)
    lux = clear_sky_lux_at(planned + minutes, site.latitude_deg, site.longitude_deg) * cell.sky_view
    clear, dull = ((found.minute + to_civil, found.why) for found in decided)
    return Evening(date_words(day), planned + offset, window, planned + offset + minutes, lux, clear, dull)


def evening_chart(plan: YearPlan, rules: Rules, cell: LightCell, row: int, ident: str) -> Drawing | None:
    """The picture of one evening; None on a day when the door stays down."""
    evening = evening_of(plan, rules, cell, row)
    return None if evening is None else drawn(evening, cell, ident)


def drawn(evening: Evening, cell: LightCell, ident: str) -> Drawing:
    """The picture of an evening."""
    title = f"{evening.date}: {_finding(evening)}"
    drawing = Drawing(_WIDTH, _HEIGHT, title, _words(evening, cell), ident)
    drawing.text(14, 24, title, font_size=16, font_weight="600")
    acts = drawing.hatch("acts", "faint", 6, 45, 2)
    frame = _frame(drawing, evening, cell)
    if evening.cell_acts:
        frame.band(*evening.window_min, acts)
    _scales(frame)
    for level in (cell.light_lux, cell.dark_lux):
        frame.level(level, stroke="third", stroke_width=1.4, stroke_dasharray="2 3")
    labels = Labels(frame.inside)
    for lux, role in ((evening.clear_lux, "close"), (evening.clear_lux * OVERCAST, "open")):
        shown = np.where(lux < frame.y.low, np.nan, lux)
        frame.line(evening.civil_min.tolist(), shown.tolist(), role)
        frame.keep_line(labels, evening.civil_min.tolist(), shown.tolist())
    frame.upright(evening.closing_min, stroke="ink", stroke_width=2)
    _levels(frame, cell, labels)
    _closings(frame, evening)
    _legend(frame, evening, acts)
    return drawing


def _levels(frame: Frame, cell: LightCell, labels: Labels) -> None:
    """The two thresholds' names at the end of their lines where no line of light runs through them.

    With no such place they stand at the right, on a halo.
    """
    ways = ((cell.light_lux, "light above", -5.0), (cell.dark_lux, "dark below", _TICK + 2.0))
    for level, word, down in ways:
        words, y = f"{word} {level:g} lux", frame.y.at(level) + down
        right, left = Place(frame.x.end - 4, y, "end"), Place(frame.x.start + 4, y, "start")
        place = labels.place(words, _TICK, (right, left)) or right
        look: dict[str, Attribute] = {"text_anchor": place.anchor, "font_size": 13, "class_": "tick"}
        frame.drawing.text(place.x, place.y, words, fill="third", **HALO, **look)


def _frame(drawing: Drawing, evening: Evening, cell: LightCell) -> Frame:
    low = max(min(float(evening.clear_lux[-1]) * OVERCAST, cell.dark_lux / 3), cell.dark_lux / 40, 1e-3)
    high = max(float(evening.clear_lux[0]), cell.light_lux * 3)
    decades = 10.0 ** math.floor(math.log10(low)), 10.0 ** math.ceil(math.log10(high))
    y = Scale(*decades, _HEIGHT - 96, 66, True)
    return Frame(drawing, Scale(float(evening.civil_min[0]), float(evening.civil_min[-1]), 62, _WIDTH - 16), y)


def _scales(frame: Frame) -> None:
    step = 30 if frame.x.high - frame.x.low < 200 else 60 if frame.x.high - frame.x.low < 500 else 180
    first = math.ceil(frame.x.low / step) * step
    times = [(float(m), clock_text(m)) for m in range(first, int(frame.x.high) + 1, step)]
    powers = range(round(math.log10(frame.y.low)), round(math.log10(frame.y.high)) + 1)
    frame.axes(times, [(10.0**k, f"{10.0**k:g}") for k in powers], "civil time", "light at the cell, lux")


def _legend(frame: Frame, evening: Evening, acts: str) -> None:
    d, low = frame.drawing, _HEIGHT - 13
    frame.legend([("close", "clear sky"), ("open", "overcast: a tenth")], 62, low - 19)
    d.line(250, low - 23.5, 272, low - 23.5, stroke_width=2)
    d.text(280, low - 19, "planned minute", font_size=13, class_="tick")
    if evening.cell_acts:
        d.rect(250, low - 11, 22, 13, fill=acts, stroke="quiet", stroke_width=0.7)
        d.text(280, low, "the cell may act", font_size=13, class_="tick")
    else:
        d.text(250, low, "the cell may not act", font_size=13, class_="tick")


def _finding(evening: Evening) -> str:
    """When the door closes, clear and dull, in one line."""
    (clear, clear_why), (dull, dull_why) = evening.clear, evening.dull
    if Why.CLOCK == clear_why == dull_why:
        return f"closes {_clock(clear)}, by the clock"
    if clear == dull:
        return f"closes {_clock(clear)}, clear or dull"
    return f"closes {_clock(clear)} if clear, {_clock(dull)} if dull"


def _clock(minute: float) -> str:
    return clock_text(round(minute))


_BY = {
    Why.LIGHT: "by the light",
    Why.CLOCK: "by the clock, for the cell has not seen the dark within a day",
    Why.LIMIT: "at the end of the window, for it is not dark by then",
}


def _closings(frame: Frame, evening: Evening) -> None:
    """A mark on the time axis for each closing that the clock alone does not take."""
    for (minute, why), role in ((evening.clear, "close"), (evening.dull, "open")):
        if why != Why.CLOCK:
            x, y = frame.x.at(minute), frame.y.start
            frame.drawing.path(f"M{x:.2f} {y:.2f}l-6 -13h12Z", fill=role)


def _words(evening: Evening, cell: LightCell) -> str:
    clear, dull = (
        "outside the span shown" if at is None else f"at {_clock(at)}"
        for at in (passes(evening, cell.dark_lux), passes(evening, cell.dark_lux / OVERCAST))
    )
    falls = (
        f"Light at the cell on a logarithmic scale. A clear sky falls below {cell.dark_lux:g} lux {clear}, "
        f"an overcast one {dull}."
    )
    planned = f"Planned for {_clock(evening.closing_min)}"
    if not evening.cell_acts:
        return f"{falls} {planned}: the door closes then, by the clock; the light may not act."
    first, last = (_clock(minute) for minute in evening.window_min)
    closes = (
        f"{sky} {_clock(minute)} {_BY[why]}"
        for sky, (minute, why) in (("a clear evening closes at", evening.clear), ("a dull one at", evening.dull))
    )
    return f"{falls} {planned}; the light may close the door from {first} to {last}: {', '.join(closes)}."


def passes(evening: Evening, level_lux: float) -> float | None:
    """When the falling light of a clear sky passes a level [civil minutes]; None where it does not in the span."""
    lux = evening.clear_lux
    below = np.flatnonzero(lux < level_lux)
    if not below.size or below[0] == 0:
        return None
    k = int(below[0])
    share = math.log(lux[k - 1] / level_lux) / math.log(lux[k - 1] / lux[k])
    return float(evening.civil_min[k - 1] + share * (evening.civil_min[k] - evening.civil_min[k - 1]))
