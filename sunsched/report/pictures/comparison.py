"""Pictures of the comparison.

Birds shut out against minutes open after the last bird, one panel for each share of birds that follow the light; how
far dull evenings move a light-led closing; last birds against the plan.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from sunsched import __version__
from sunsched.base.civil_time import MONTHS
from sunsched.base.errors import UsageError
from sunsched.config.configuration import Configuration
from sunsched.job.comparison import Comparison
from sunsched.report.page.html import one_line
from sunsched.report.pictures.picture_file import picture
from sunsched.report.pictures.svg import DASHES, Attribute, Drawing, Frame, Scale, polyline, round_steps

PANEL_WIDTH, HEIGHT, LEFT, FOOT, HEAD = 430.0, 620.0, 66.0, 128.0, 74.0
LEAST_BIRDS, MOST_LABELS = 0.5, 10  # below half a bird a year the axis ends
ROLES = {"light": "open", "clock": "close", "both": "third"}
# A point's label: the curves of light and both lie close, so their labels go above and below, the clock's before.
LABELS = {"light": (6.0, -6.0, "start"), "clock": (-6.0, 10.0, "end"), "both": (7.0, 11.0, "start")}
Points = Sequence["TradeOffPoint"]


@dataclass(frozen=True)
class TradeOffPoint:
    """One setting for one share of followers: figures a year, and what a tenth of the years lie below and above."""

    strategy: str
    label: str
    open_min: float
    birds: float
    birds_low: float
    birds_high: float
    yours: bool
    on_curve: bool


@dataclass(frozen=True)
class TradeOff:
    """All points for one share of followers."""

    follow_light: float
    points: tuple[TradeOffPoint, ...]


def trade_off_chart(panels: Sequence[TradeOff], site_name: str, words: str, ident: str = "tradeoff") -> Drawing:
    """The picture; `words` says under it what it rests on. Points at or below half a bird stand on the lower edge."""
    title = f"{one_line(site_name, 40)}: birds shut out against minutes open"
    width = PANEL_WIDTH * len(panels) + 20
    drawing = Drawing(width, HEIGHT, title, _described(panels), ident)
    # One panel alone has no room for the site's name beside the words.
    heading = title if len(panels) > 1 else "Birds shut out against minutes open"
    drawing.text(14, 26, heading, font_size=16, font_weight="600")
    every = [point for panel in panels for point in panel.points]
    lows = [p.open_min for p in every if p.open_min > 0]
    least_min, most_min = min(lows, default=1.0) / 1.5, max(lows, default=10.0) * 1.4
    most_birds = max(max((p.birds_high for p in every), default=1.0) * 1.3, 10 * LEAST_BIRDS)
    for number, panel in enumerate(panels):
        left = number * PANEL_WIDTH
        x = Scale(least_min, most_min, left + LEFT, left + PANEL_WIDTH - 10, logarithmic=True)
        frame = Frame(drawing, x, Scale(LEAST_BIRDS, most_birds, HEIGHT - FOOT, HEAD, logarithmic=True))
        _axes(frame, panel.follow_light)
        for strategy in ROLES:
            _curve(frame, [p for p in panel.points if p.strategy == strategy])
    _legend(drawing, words)
    return drawing


def _axes(frame: Frame, follow: float) -> None:
    steps = [10.0**power * digit for power in range(-2, 4) for digit in (1, 2, 5)]
    ticks = [(value, f"{value:g}") for value in steps if frame.x.low <= value <= frame.x.high]
    decades = [10.0**power * digit for power in range(-1, 6) for digit in (1, 3)]
    levels = [(value, f"{value:g}") for value in decades if LEAST_BIRDS <= value <= frame.y.high]
    frame.axes(ticks, levels, "minutes open after the last bird", "birds out a year")
    words = f"{100 * follow:.0f} % follow the light"
    frame.drawing.text(frame.x.end, HEAD - 14, words, text_anchor="end", font_size=13, font_weight="600")


def _curve(frame: Frame, points: Points) -> None:
    if not points:
        return
    role = ROLES[points[0].strategy]
    ordered = sorted((p for p in points if p.on_curve), key=lambda p: p.open_min)

    def up(birds: float) -> float:
        return max(birds, LEAST_BIRDS)

    ordered = [p for p in ordered if p.open_min > 0]
    upper = [(frame.x.at(p.open_min), frame.y.at(up(p.birds_high))) for p in ordered]
    lower = [(frame.x.at(p.open_min), frame.y.at(up(p.birds_low))) for p in reversed(ordered)]
    frame.drawing.path(polyline([*upper, *lower], closed=True), fill=role, fill_opacity=0.12)
    frame.line([p.open_min for p in ordered], [up(p.birds) for p in ordered], role)
    step = max(1, -(-len(ordered) // MOST_LABELS))
    for number, point in enumerate(ordered):
        at = frame.x.at(point.open_min), frame.y.at(up(point.birds))
        frame.drawing.add("circle", cx=at[0], cy=at[1], r=2.6, fill=role)
        if number % step == 0 or point.yours:
            short, (right, down, anchor) = point.label.split(",")[0], LABELS[point.strategy]
            frame.drawing.text(at[0] + right, at[1] + down, short, font_size=10.5, fill=role, text_anchor=anchor)
    for point in points:
        if point.yours and point.open_min > 0:
            at = frame.x.at(point.open_min), frame.y.at(up(point.birds))
            frame.drawing.add("circle", cx=at[0], cy=at[1], r=7, fill="none", stroke="ink", stroke_width=2)


def _legend(drawing: Drawing, words: str) -> None:
    low = HEIGHT - 66
    named = (("light", "light alone"), ("clock", "clock alone"), ("both", "clock and light"))
    for number, (strategy, text) in enumerate(named):
        x = 20 + 135 * number
        role = ROLES[strategy]
        look: dict[str, Attribute] = {"stroke": role, "stroke_width": 2.2, "stroke_dasharray": DASHES.get(role)}
        drawing.line(x, low - 4.5, x + 30, low - 4.5, **look)
        drawing.text(x + 37, low, text, font_size=13, class_="tick")
    for number, line in enumerate(("Ringed: yours. Shaded: the middle 80 % of the years.", *words.split("\n"))):
        drawing.text(20, low + 20 + 17 * number, line, font_size=12, fill="quiet", class_="tick")


def _described(panels: Sequence[TradeOff]) -> str:
    parts = []
    for panel in panels:
        for point in panel.points:
            if point.yours:
                parts.append(
                    f"With {100 * panel.follow_light:.0f} % of the habit following the light, yours ({point.label}) "
                    f"shuts out {point.birds:.1f} birds a year at {point.open_min:.1f} minutes."
                )
    return " ".join(parts)


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


NOTE = "Simulated; birds compare settings and are no forecast. Validated on one June and one late-summer week only."


def trade_offs(work: Comparison) -> list[TradeOff]:
    """The points of every setting, a panel for each share of followers."""
    panels = []
    for number, follow in enumerate(work.follow_light):
        points = []
        for row, setting in enumerate(work.settings):
            if setting.role == "device":
                continue
            birds = work.estimate(number, row, "birds_out")
            minutes = work.estimate(number, row, "open_after_dark_min").mean
            mine = row == work.chosen.own_row
            points.append(
                TradeOffPoint(
                    setting.strategy, setting.label, minutes, birds.mean, birds.low, birds.high, mine, setting.on_curve
                )
            )
        panels.append(TradeOff(follow, tuple(points)))
    return panels


def check_birds(configuration: Configuration) -> None:
    """Raise UsageError unless the flock has birds to draw."""
    if not configuration.flock.birds:
        raise UsageError("--chart: [flock] has no birds to draw; wanted birds = 1 or more")


def chart_of(work: Comparison, ending: str) -> bytes:
    """The picture as `.svg` or `.png`; raises UsageError for a flock of none."""
    check_birds(work.configuration)
    words = f"{work.year}, {work.sums.n_years} weather years, seed {work.seed}.\n{NOTE}"
    drawing = trade_off_chart(trade_offs(work), work.configuration.site.name, words)
    origin = f"GENERATED by sunsched {__version__} with tzdata {work.plan.tzdata}: sunsched compare --chart"
    return picture(drawing, ending, origin)
