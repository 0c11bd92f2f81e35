"""Pictures of the comparison: how far dull evenings move a light-led closing, and last birds against the plan."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from sunsched.report.axes import Frame, Scale, round_steps
from sunsched.report.svg import Drawing
from sunsched.report.year_words import MONTHS

_WIDTH, _HEIGHT, _LEFT, _TOP = 620.0, 340.0, 62.0, 66.0
# First day of each month in a year of 365 days, for an axis of dates without a year.
_MONTH_STARTS = (0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334)


class MonthShift(NamedTuple):
    """One month's evenings: minutes by which weather moves the light's closing; None where there is none."""

    mean_min: float | None
    dullest_tenth_min: float | None
    brightest_tenth_min: float | None


class LastBird(NamedTuple):
    """One noted night: day of the year from 0, and minutes of the last bird after the planned closing."""

    day_of_year: int
    after_closing_min: float


def signed(value: float) -> str:
    """Minutes with their sign; nothing before zero."""
    return f"{value:+g}" if value else "0"


def dull_shift_chart(months: Sequence[MonthShift], ident: str = "dull") -> Drawing:
    """A bar a month from the dullest to the brightest tenth of evenings, with the mean as a dot."""
    known = [m for m in months if m.mean_min is not None]
    lows = [m.dullest_tenth_min for m in known if m.dullest_tenth_min is not None]
    highs = [m.brightest_tenth_min for m in known if m.brightest_tenth_min is not None]
    low, high = min([-5.0, *lows]) - 2, max([5.0, *highs]) + 2
    title = "Dull evenings: how far weather moves a closing that the light decides"
    drawing = Drawing(_WIDTH, _HEIGHT, title, _shift_words(months), ident)
    drawing.text(14, 24, title, font_size=15, font_weight="600", class_="tick")
    frame = Frame(drawing, Scale(0, 12, _LEFT, _WIDTH - 14), Scale(low, high, _HEIGHT - 62, _TOP))
    ticks = [(value, signed(value)) for value in round_steps(low, high, 6)]
    frame.axes([(k + 0.5, name) for k, name in enumerate(MONTHS)], ticks, "month", "minutes against a clear sky")
    frame.level(0, stroke="ink", stroke_width=1.2)
    for k, month in enumerate(months):
        if month.mean_min is None or month.dullest_tenth_min is None or month.brightest_tenth_min is None:
            drawing.text(frame.x.at(k + 0.5), frame.y.at(0) - 6, "none", text_anchor="middle", font_size=12)
            continue
        top, foot = frame.y.at(month.brightest_tenth_min), frame.y.at(month.dullest_tenth_min)
        drawing.rect(frame.x.at(k + 0.32), top, frame.x.at(0.36) - _LEFT, max(foot - top, 1), fill="close")
        look = {"cx": frame.x.at(k + 0.5), "cy": frame.y.at(month.mean_min), "r": 4.5}
        drawing.add("circle", fill="halo", stroke="ink", stroke_width=1.6, **look)
    foot_words = "bar: dullest to brightest tenth of the evenings; dot: mean; negative: earlier"
    drawing.text(14, _HEIGHT - 8, foot_words, font_size=12, fill="quiet", class_="small")
    return drawing


def _shift_words(months: Sequence[MonthShift]) -> str:
    parts = [
        f"{MONTHS[k]}: mean {m.mean_min:+.0f}, dullest tenth {m.dullest_tenth_min:+.0f}"
        for k, m in enumerate(months)
        if m.mean_min is not None and m.dullest_tenth_min is not None
    ]
    return f"Minutes by which weather moves a light-led closing against a clear sky. {'; '.join(parts)}."


def last_bird_chart(nights: Sequence[LastBird], ident: str = "last-bird") -> Drawing:
    """Each noted night as a dot: minutes of the last bird after the planned closing; above zero it was shut out."""
    after = [night.after_closing_min for night in nights]
    low, high = min([-10.0, *after]) - 3, max([10.0, *after]) + 3
    late = sum(minutes > 0 for minutes in after)
    title = "Last bird in, against the planned closing"
    words = (
        f"{len(nights)} noted nights. On {late} of them the last bird came after the planned closing and would have "
        f"been shut out. Earliest {min(after):+.0f} min, latest {max(after):+.0f} min."
    )
    drawing = Drawing(_WIDTH, _HEIGHT, title, words, ident)
    drawing.text(14, 24, title, font_size=15, font_weight="600", class_="tick")
    frame = Frame(drawing, Scale(0, 365, _LEFT, _WIDTH - 14), Scale(low, high, _HEIGHT - 62, _TOP))
    hatch = drawing.hatch("shut-out", "alarm", 7, 45, 0.8)
    drawing.rect(_LEFT, _TOP, _WIDTH - 14 - _LEFT, frame.y.at(0) - _TOP, fill=hatch)
    months = [(day + 15.0, name) for day, name in zip(_MONTH_STARTS, MONTHS, strict=True)]
    ticks = [(value, signed(value)) for value in round_steps(low, high, 6)]
    frame.axes(months, ticks, "date", "minutes after the planned closing")
    frame.level(0, stroke="ink", stroke_width=1.6)
    for night in nights:
        at = {"cx": frame.x.at(night.day_of_year), "cy": frame.y.at(night.after_closing_min), "r": 4}
        role = "alarm" if night.after_closing_min > 0 else "close"
        drawing.add("circle", fill=role, stroke="halo", stroke_width=1.2, **at)
    drawing.text(14, _HEIGHT - 8, "hatched: shut out", font_size=12, fill="quiet", class_="small")
    return drawing
