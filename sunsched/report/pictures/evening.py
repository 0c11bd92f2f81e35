"""One evening's light at the cell against time, with thresholds, the cell's window and the planned minute."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import DAY_MIN, clock_text, zone_of
from sunsched.hardware.parts import LightCell
from sunsched.plan.on_a_day import rule_on
from sunsched.plan.rules import MomentRule, Rules
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.report.pictures.svg import Attribute, Drawing, Frame, Scale
from sunsched.report.text.year_words import date_words
from sunsched.sky.daylight import clear_sky_lux_at

OVERCAST = 0.1  # a dull sky gives about a tenth of a clear one's light: common practice
_BEFORE_MIN, _AFTER_MIN = 75, 60
_WIDTH, _HEIGHT = 460.0, 400.0
Floats = NDArray[np.float64]


class Evening(NamedTuple):
    """The clear sky's light at the cell around one planned closing; minutes are civil, after the date's midnight."""

    date: str
    rule: MomentRule
    closing_min: float
    civil_min: Floats
    clear_lux: Floats

    @property
    def cell_acts(self) -> bool:
        """True when the light cell has a window in which it may act."""
        return bool(self.rule.cell_from_min or self.rule.cell_until_min)


def evening_of(plan: YearPlan, rules: Rules, cell: LightCell, row: int) -> Evening | None:
    """The evening of a plan's row, a value a minute; None on a day when the door stays down."""
    if plan.close_min[row] == NO_MINUTE:
        return None
    day, site = plan.first_day + row, plan.site
    closing = float(plan.utc_min(plan.close_min)[row])
    rule = rule_on(rules, day, True)
    first = -_BEFORE_MIN + min(0, rule.cell_from_min)
    minutes = np.arange(first, _AFTER_MIN + max(0, rule.cell_until_min) + 1.0)
    lux = clear_sky_lux_at(closing + minutes, site.latitude_deg, site.longitude_deg) * cell.sky_view
    offset = float(zone_of(site.zone).utc_offset_min(np.array([closing]))[0]) - day * DAY_MIN
    return Evening(date_words(day), rule, closing + offset, closing + offset + minutes, lux)


def evening_chart(plan: YearPlan, rules: Rules, cell: LightCell, row: int, ident: str) -> Drawing | None:
    """The picture of one evening; None on a day when the door stays down."""
    evening = evening_of(plan, rules, cell, row)
    if evening is None:
        return None
    closes = clock_text(round(evening.closing_min))
    title = f"Evening of {evening.date}: closes {closes}"
    drawing = Drawing(_WIDTH, _HEIGHT, title, _words(evening, cell, closes), ident)
    drawing.text(14, 24, title, font_size=16, font_weight="600")
    acts = drawing.hatch("acts", "faint", 6, 45, 2)
    frame = _frame(drawing, evening, cell)
    if evening.cell_acts:
        rule, at = evening.rule, evening.closing_min
        frame.band(at + rule.cell_from_min, at + rule.cell_until_min, acts)
    _scales(frame)
    for level, word, below in ((cell.light_lux, "light above", -5.0), (cell.dark_lux, "dark below", 15.0)):
        frame.level(level, stroke="third", stroke_width=1.4, stroke_dasharray="2 3")
        words = f"{word} {level:g} lux"
        look: dict[str, Attribute] = {"text_anchor": "end", "font_size": 13, "class_": "tick"}
        drawing.text(_WIDTH - 20, frame.y.at(level) + below, words, fill="third", **look)
    for lux, role in ((evening.clear_lux, "close"), (evening.clear_lux * OVERCAST, "open")):
        shown = np.where(lux < frame.y.low, np.nan, lux)
        frame.line(evening.civil_min.tolist(), shown.tolist(), role)
    frame.upright(evening.closing_min, stroke="ink", stroke_width=2)
    _legend(frame, evening, acts)
    return drawing


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


def _words(evening: Evening, cell: LightCell, closes: str) -> str:
    clear, dull = (
        "outside the span shown" if at is None else f"at {clock_text(round(at))}"
        for at in (passes(evening, cell.dark_lux), passes(evening, cell.dark_lux / OVERCAST))
    )
    return (
        f"Light at the cell on a logarithmic scale. A clear sky falls below {cell.dark_lux:g} lux {clear}, "
        f"an overcast one {dull}. The door goes down at {closes} by the clock."
    )


def passes(evening: Evening, level_lux: float) -> float | None:
    """When the falling light of a clear sky passes a level [civil minutes]; None where it does not in the span."""
    lux = evening.clear_lux
    below = np.flatnonzero(lux < level_lux)
    if not below.size or below[0] == 0:
        return None
    k = int(below[0])
    share = math.log(lux[k - 1] / level_lux) / math.log(lux[k - 1] / lux[k])
    return float(evening.civil_min[k - 1] + share * (evening.civil_min[k] - evening.civil_min[k - 1]))
