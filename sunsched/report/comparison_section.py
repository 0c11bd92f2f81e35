"""The comparison, the fault nights and the noted nights as sections of the page."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sunsched.hardware.figures import number
from sunsched.report.comparison_charts import LastBird, MonthShift, dull_shift_chart, last_bird_chart
from sunsched.report.html import Markup, Section, bullets, element, grid, joined, scrolled
from sunsched.report.svg import Drawing
from sunsched.report.trade_off_chart import TradeOff, trade_off_chart
from sunsched.study.settings import IN_WORDS
from sunsched.study.verdict import TELLING_ERRORS

DULL_CAPTION = "A cell that decides alone closes early on dull evenings; the minutes in which it may act bound this."


def comparison_section(found: Mapping[str, Any], panels: Sequence[TradeOff]) -> Section:
    """Light alone, clock alone and both on the same weather years.

    found   the comparison as plain values, those that `compare --json` prints
    """
    n = found["weather_years"]
    intro = (
        f"{n} simulated weather years, seed {found['seed']}, {found['birds']} birds. Climate: "
        f"{found['climate']['source']}. Figures compare settings; they are no forecast. How much birds follow the "
        "evening's light is not known, so three cases are shown and no winner is named: your own last-bird times "
        "settle which is yours."
    )
    parts: list[object] = [element("p", intro)]
    if found["birds"] and panels:
        words = f"{n} weather years, seed {found['seed']}. Simulated."
        drawings = [
            trade_off_chart([one], _share(one.follow_light), words, f"tradeoff{k}") for k, one in enumerate(panels)
        ]
        parts += [element("h3", "The trade-off"), element("div", *map(_figure, drawings), class_="charts")]
        parts += [
            element("h3", "At your own minutes"),
            _matched(found),
            element("h3", "Every setting"),
            _settings(found),
        ]
    shifts = [
        MonthShift(m["mean_min"], m["dullest_tenth_min"], m["brightest_tenth_min"]) for m in found["dull_evening_shift"]
    ]
    if any(shift.mean_min is not None for shift in shifts):
        parts += [element("h3", "Dull evenings"), _figure(dull_shift_chart(shifts), DULL_CAPTION)]
    parts += [element("h3", "What these figures cannot say"), bullets(found["limits"])]
    return Section("comparison", "Light alone, clock alone, and both", joined(parts))


def _share(follow_light: float) -> str:
    return f"{100 * follow_light:.0f} % follow the light"


def _figure(drawing: Drawing, caption: str = "") -> Markup:
    return element("figure", Markup(drawing.inline()), element("figcaption", caption or drawing.description))


def _shown(figure: Mapping[str, float]) -> str:
    return f"{number(figure['mean'])} ± {number(TELLING_ERRORS * figure['error'])}"


def _matched(found: Mapping[str, Any]) -> Markup:
    rows = []
    for entry in found["at_equal_minutes"]:
        cells = (entry["birds_out"][s] for s in ("light", "clock", "both"))
        shown = ("not reached" if cell is None else _shown(cell) for cell in cells)
        rows.append((_share(entry["follow_light"]), number(entry["open_after_dark_min"]), *shown))
    caption = "Birds shut out a year, each strategy set to the minutes that yours stands open after the last bird"
    head = ("birds", "minutes", *(IN_WORDS[s] for s in ("light", "clock", "both")))
    return scrolled("At your own minutes", grid(caption, head, rows))


def _settings(found: Mapping[str, Any]) -> Markup:
    shares = [entry["follow_light"] for entry in found["settings"][0]["by_follow_light"]]
    rows = []
    for row in found["settings"]:
        cells = [
            f"{_shown(case['birds_out'])}; {number(case['open_after_dark_min']['mean'])} min"
            for case in row["by_follow_light"]
        ]
        name = f"{IN_WORDS[row['strategy']]}, {row['setting']}{' (yours)' if row['yours'] else ''}"
        rows.append((name, *cells))
    caption = "Birds shut out a year, with twice the standard error; minutes open after the last bird"
    return scrolled("Every setting", grid(caption, ("setting", *map(_share, shares)), rows))


def fault_section(found: Mapping[str, Any]) -> Section:
    """What each fault does on its night; `found` as `compare --faults --json` prints it."""
    shares = [case["follow_light"] for case in found["faults"][0]["by_follow_light"]]
    strategies = list(dict.fromkeys(row["strategy"] for row in found["faults"]))
    parts: list[object] = [
        element(
            "p",
            f"Every fault strikes on each evening of {found['weather_years']} weather years. Cells: birds out of "
            f"{found['birds']} in that night, and minutes open after the last bird. Where the door was never shut on "
            "some nights, the share of those nights is named.",
        )
    ]
    for k, share in enumerate(shares):
        rows = [
            (fault, *(_fault_cell(row, k) for row in members))
            for fault, members in _by_fault(found["faults"], strategies)
        ]
        head = ("fault", *(IN_WORDS[s] for s in strategies))
        table = grid(_share(share).capitalize(), head, rows)
        parts.append(scrolled(f"Faults, {_share(share)}", table))
    parts.append(bullets(found["limits"][:1]))
    return Section("faults", "When something fails", joined(parts))


def _by_fault(
    rows: Iterable[Mapping[str, Any]], strategies: Sequence[str]
) -> list[tuple[str, list[Mapping[str, Any]]]]:
    found: dict[str, dict[str, Mapping[str, Any]]] = {}
    for row in rows:
        found.setdefault(row["fault"], {})[row["strategy"]] = row
    return [(fault, [by[s] for s in strategies]) for fault, by in found.items()]


def _fault_cell(row: Mapping[str, Any], k: int) -> str:
    case, never = row["by_follow_light"][k], row["nights_never_shut"]["mean"]
    text = f"{number(case['birds_out_a_night']['mean'])} out, {case['open_min']['mean']:.0f} min"
    return f"{text}, never shut {100 * never:.0f} %" if never > 0 else text


def nights_section(nights: Sequence[LastBird], chance_next_later: float, warnings: Sequence[str]) -> Section:
    """The keeper's own nights against the plan of their years."""
    drawing = last_bird_chart(nights)
    words = (
        f"The chance that the next night ends later than the latest of these is {100 * chance_next_later:.0f} %. "
        "sunsched angle fits the evening's angle to these nights."
    )
    parts = [_figure(drawing), element("p", words)]
    if warnings:
        parts.append(bullets(warnings))
    return Section("nights", "Your own nights", joined(parts))
