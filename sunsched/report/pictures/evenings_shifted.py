"""How far dull evenings move a closing that the light decides, month by month; and last birds against the plan."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from sunsched.base.civil_time import MONTH_NAMES, MONTHS
from sunsched.report.pictures.svg import MARGIN, WIDTH, Drawing, Entry, Frame, Scale, round_steps

LEFT, PLOT_HEIGHT = 52.0, 220.0
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


def dull_finding(months: Sequence[MonthShift]) -> str:
    """The month whose dull evenings move a closing furthest; empty where no month is known."""
    known = [(m.dullest_tenth_min, k) for k, m in enumerate(months) if m.dullest_tenth_min is not None]
    if not known:
        return ""
    minutes, month = min(known)
    if minutes >= 0:
        return "Nine evenings in ten close no earlier than a clear one"
    return f"In {MONTH_NAMES[month]} one evening in ten closes {abs(minutes):g} min early or more"


def dull_shift_chart(months: Sequence[MonthShift], ident: str = "dull") -> Drawing:
    """A bar a month from the dullest to the brightest tenth of evenings, with the mean as a dot."""
    known = [m for m in months if m.mean_min is not None]
    lows = [m.dullest_tenth_min for m in known if m.dullest_tenth_min is not None]
    highs = [m.brightest_tenth_min for m in known if m.brightest_tenth_min is not None]
    low, high = min([-5.0, *lows]) - 2, max([5.0, *highs]) + 2
    name, found = "Where the light alone decides the closing", dull_finding(months)
    drawing = Drawing(WIDTH, 0.0, ". ".join(part for part in (found, name) if part), _shift_words(months), ident)
    top = drawing.heading(name, [found] if found else []) + 44.0
    frame = Frame(drawing, Scale(0, 12, LEFT, WIDTH - MARGIN), Scale(low, high, top + PLOT_HEIGHT, top))
    ticks = [(value, signed(value)) for value in round_steps(low, high, 6)]
    letters = [(k + 0.5, name[0]) for k, name in enumerate(MONTHS)]
    frame.axes(letters, ticks, "month", "minutes against a clear sky")
    frame.level(0, stroke="ink", stroke_width=1.2)
    for k, month in enumerate(months):
        if month.mean_min is None or month.dullest_tenth_min is None or month.brightest_tenth_min is None:
            continue
        upper, foot = frame.y.at(month.brightest_tenth_min), frame.y.at(month.dullest_tenth_min)
        drawing.rect(frame.x.at(k + 0.32), upper, frame.x.at(0.36) - LEFT, max(foot - upper, 1), fill="close")
        look = {"cx": frame.x.at(k + 0.5), "cy": frame.y.at(month.mean_min), "r": 4.5}
        drawing.add("circle", fill="halo", stroke="ink", stroke_width=1.6, **look)

    def dot(x: float, y: float) -> None:
        drawing.add("ellipse", cx=x + 12, cy=y - 4.5, rx=4.5, ry=4.5, fill="halo", stroke="ink", stroke_width=1.6)

    entries: list[Entry] = [
        (drawing.patch_sample("close", stroke=None), "from the dullest to the brightest tenth of the evenings"),
        (dot, "mean"),
    ]
    y = drawing.key(entries, top + PLOT_HEIGHT + 66.0)
    if len(known) < len(months):
        without = ", ".join(MONTHS[k] for k, month in enumerate(months) if month.mean_min is None)
        y = drawing.lines(y, f"No such evening: {without}.", fill="quiet")
    drawing.height = drawing.lines(y, "Negative: earlier.", fill="quiet") - 6.0
    return drawing


def _shift_words(months: Sequence[MonthShift]) -> str:
    parts = [
        f"{MONTHS[k]}: mean {m.mean_min:+.0f}, dullest tenth {m.dullest_tenth_min:+.0f}"
        for k, m in enumerate(months)
        if m.mean_min is not None and m.dullest_tenth_min is not None
    ]
    return f"Minutes by which weather moves a light-led closing against a clear sky. {'; '.join(parts)}."


def last_bird_finding(nights: Sequence[LastBird]) -> str:
    """On how many of the noted nights the last bird came after the planned closing."""
    late = [night.after_closing_min for night in nights if night.after_closing_min > 0]
    of = f"{len(nights)} noted night{'' if len(nights) == 1 else 's'}"
    if not late:
        least = -max(night.after_closing_min for night in nights)
        return f"The last bird was in before the planned closing on all of {of}, by {least:.0f} min or more"
    return f"The last bird came after the planned closing on {len(late)} of {of}, by up to {max(late):.0f} min"


def last_bird_chart(nights: Sequence[LastBird], ident: str = "last-bird") -> Drawing:
    """Each noted night as a mark: minutes of the last bird after the planned closing; above zero it was shut out."""
    after = [night.after_closing_min for night in nights]
    low, high = min([-10.0, *after]) - 3, max([10.0, *after]) + 3
    late, found = sum(minutes > 0 for minutes in after), last_bird_finding(nights)
    words = (
        f"{len(nights)} noted nights. On {late} of them the last bird came after the planned closing and would have "
        f"been shut out. Earliest {min(after):+.0f} min, latest {max(after):+.0f} min."
    )
    drawing = Drawing(WIDTH, 0.0, f"{found}.", words, ident)
    top = drawing.heading("Your own nights", [found]) + 44.0
    frame = Frame(drawing, Scale(0, 365, LEFT, WIDTH - MARGIN), Scale(low, high, top + PLOT_HEIGHT, top))
    hatch = drawing.hatch("shut-out", "alarm", 7, 45, 0.8)
    drawing.rect(LEFT, top, WIDTH - MARGIN - LEFT, frame.y.at(0) - top, fill=hatch)
    months = [(day + 15.0, name[0]) for day, name in zip(_MONTH_STARTS, MONTHS, strict=True)]
    ticks = [(value, signed(value)) for value in round_steps(low, high, 6)]
    frame.axes(months, ticks, "month", "minutes after the planned closing")
    frame.level(0, stroke="ink", stroke_width=1.6)
    with drawing.group(class_="nights"):
        for night in nights:
            shut_out = night.after_closing_min > 0
            look = {"fill": "alarm" if shut_out else "close", "stroke": "halo", "stroke_width": 1.2}
            x, y = frame.x.at(night.day_of_year), frame.y.at(night.after_closing_min)
            drawing.mark("square" if shut_out else "circle", x, y, 4.4, **look)

    def sample(shape: str, role: str, fill: str = "none") -> Entry:
        def draw(x: float, y: float) -> None:
            drawing.rect(x, y - 11, 24, 13, fill=fill)
            drawing.mark(shape, x + 12, y - 4.5, 4.4, fill=role, stroke="halo", stroke_width=1.2)

        return draw, "shut out" if shape == "square" else "in before the closing"

    entries = [sample("square", "alarm", hatch)] if late else []
    entries += [sample("circle", "close")] if late < len(nights) else []
    drawing.height = drawing.key(entries, top + PLOT_HEIGHT + 66.0) - 6.0
    return drawing
