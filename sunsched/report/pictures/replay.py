"""The picture of a light log replayed: what each way of deciding would have done, evening by evening."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from functools import partial
from typing import Any

from sunsched.base.civil_time import day_number
from sunsched.job.logs.replay import Replay, Twilight
from sunsched.report.page.html import one_line
from sunsched.report.pictures.lettering import text_width
from sunsched.report.pictures.picture_file import origin_of, picture
from sunsched.report.pictures.strategies import LOOKS
from sunsched.report.pictures.svg import (
    MARGIN,
    TEXT,
    WIDTH,
    Attribute,
    Drawing,
    Entry,
    Frame,
    Scale,
    number,
    round_steps,
)
from sunsched.report.text.year_words import date_words
from sunsched.study.settings import IN_WORDS, Strategy

LEFT, PLOT_HEIGHT = 52.0, 280.0
MOST_MARKED = 60  # evenings; with more of them the marks would touch, and the lines stand alone
_NAN = float("nan")
_SIZES: dict[Strategy, float] = {"light": 7.0, "clock": 5.0, "both": 3.2}


def replay_findings(replay: Replay) -> list[str]:
    """What light alone, and clock and light, did against the planned closing; nothing of one that never closed."""
    summary = replay.summary()["evening"]
    did = {name: words for name in ("light", "both") if (words := _did_words(summary[name]))}
    if len(did) == 2 and did["light"] == did["both"]:
        return [f"With the clock or without, the light closes {did['light']}"]
    return [f"{IN_WORDS[name].capitalize()}: closes {words}" for name, words in did.items()]


def _did_words(found: dict[str, Any]) -> str:
    middle = found["after_planned_min"]["median"]
    if middle is None:
        return ""
    return f"{_off(middle)} on the middle evening ({found['earliest_min']:+d} to {found['latest_min']:+d} min)"


def _off(minutes: float) -> str:
    whole = round(minutes)
    return "at the planned minute" if whole == 0 else f"{abs(whole)} min {'after' if whole > 0 else 'before'} the plan"


def replay_drawing(replay: Replay, site_name: str) -> Drawing:
    """The evenings: minutes after the planned closing of each strategy, date by date."""
    evenings = [one for one in replay.twilights if one.side == "evening" and one.did]
    days = [day_number(dt.date.fromisoformat(one.date)) for one in evenings]
    found = replay_findings(replay)
    name = f"{one_line(site_name, 40)}: a light log replayed{_span_words(days)}"
    drawing = Drawing(WIDTH, 0.0, ". ".join((name, *found)), _spoken(replay, evenings), "replay")
    top = drawing.heading(name, found) + 44.0
    after = {strategy: [_after(one, strategy) for one in evenings] for strategy in LOOKS}
    known = [value for values in after.values() for value in values if math.isfinite(value)]
    low, high = min([*known, -10.0]), max([*known, 10.0])
    x = Scale(min(days, default=0) - 1.0, max(days, default=1) + 1.0, LEFT, WIDTH - MARGIN)
    frame = Frame(drawing, x, Scale(low - 5.0, high + 5.0, top + PLOT_HEIGHT, top))
    ticks = [(value, f"{value:+.0f}" if value else "0") for value in round_steps(low, high, 6)]
    frame.axes(
        [(day, date_words(day)) for day in round_days(days)], ticks, "evening", "minutes after the planned closing"
    )
    frame.level(0.0, stroke="quiet", stroke_width=1.2)
    for strategy in LOOKS:
        _evenings(frame, strategy, days, after[strategy])
    drawing.height = _foot(drawing, after, top + PLOT_HEIGHT + 68.0)
    return drawing


def _evenings(frame: Frame, strategy: Strategy, days: Sequence[int], after: Sequence[float]) -> None:
    """One strategy's evenings: lines with marks, or dots alone where there are many.

    The first drawn is the largest, so that each is seen where two or all three do the same.
    """
    drawing, look, size = frame.drawing, LOOKS[strategy], _SIZES[strategy]
    known = [(frame.x.at(d), frame.y.at(v)) for d, v in zip(days, after, strict=True) if math.isfinite(v)]
    if len(days) > MOST_MARKED:
        path = "".join(f"M{number(x)} {number(y)}h0" for x, y in known)
        round_dots: dict[str, Attribute] = {"stroke_width": size * 1.1, "stroke_linecap": "round"}
        drawing.path(path, stroke=look.role, id=f"replay-{strategy}", **round_dots)
        return
    frame.line(days, after, look.role, stroke_dasharray=look.dash, stroke_width=size * 0.5, id=f"replay-{strategy}")
    with drawing.group(class_=f"points-{strategy}"):
        for x, y in known:
            look.mark(drawing, x, y, size)


def replay_chart(replay: Replay, site_name: str, ending: str = ".svg") -> bytes:
    """The picture as `.svg` or `.png`."""
    return picture(replay_drawing(replay, site_name), ending, origin_of("replay --chart"))


def _foot(drawing: Drawing, after: dict[Strategy, list[float]], y: float) -> float:
    entries: list[Entry] = [
        (partial(look.sample, drawing), IN_WORDS[strategy])
        for strategy, look in LOOKS.items()
        if any(map(math.isfinite, after[strategy]))
    ]
    y = drawing.key(entries, y)
    for strategy, values in after.items():
        never = sum(not math.isfinite(value) for value in values)
        if never:
            y = drawing.lines(
                y, f"{IN_WORDS[strategy].capitalize()} never closed on {never} of {len(values)} evenings."
            )
    return y


def _after(one: Twilight, name: str) -> float:
    did = one.did.get(name)
    return _NAN if did is None or did.after_planned_min is None else float(did.after_planned_min)


def _span_words(days: Sequence[int]) -> str:
    return f", {date_words(min(days))} to {date_words(max(days))}" if days else ""


def round_days(days: Sequence[int]) -> list[int]:
    """A few of the days, evenly spaced, as many as an axis has room for."""
    if not days:
        return []
    most = int((WIDTH - MARGIN - LEFT) / (text_width("28 May", TEXT) + 16.0))
    step = max(1, math.ceil((max(days) - min(days) + 1) / most))
    return list(range(min(days), max(days) + 1, step))


def _spoken(replay: Replay, evenings: Sequence[Twilight]) -> str:
    parts = []
    for name, found in replay.summary()["evening"].items():
        middle = found["after_planned_min"]["median"]
        if middle is not None:
            parts.append(
                f"{IN_WORDS[name]}: {middle:+.0f} min in the middle, {found['earliest_min']:+d} at the earliest"
            )
    return f"{len(evenings)} evenings. " + "; ".join(parts)
