"""Sections of the page that are shown where there is something to show.

The comparison, the fault nights, the noted nights, the drive and the battery.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sunsched.hardware.battery_sums import BatterySums
from sunsched.hardware.drive_sums import DriveSums
from sunsched.hardware.figures import Assumption, Figure, Verdict, number, reach
from sunsched.report.page.html import Markup, Section, bullets, element, facts, grid, joined, scrolled
from sunsched.report.pictures.battery import battery_chart
from sunsched.report.pictures.comparison import TradeOff, trade_off_chart
from sunsched.report.pictures.evenings_shifted import LastBird, MonthShift, dull_shift_chart, last_bird_chart
from sunsched.report.pictures.svg import Drawing
from sunsched.study.limits_of_mean import TELLING_ERRORS
from sunsched.study.settings import IN_WORDS


def drive_section(sums: DriveSums) -> Section:
    """Motor, spool and cord."""
    inside = (
        _verdicts(sums.verdicts),
        _figures("Drive", sums.figures),
        _assumptions("Drive", sums.assumptions),
        bullets(sums.cautions),
    )
    return Section("drive", "Motor, spool and cord", joined(inside), folded="always")


def battery_section(sums: BatterySums, site_name: str, climate: str) -> Section:
    """Battery and panel through the winter; `climate` says where the weather's monthly means are from."""
    drawing = battery_chart(sums, site_name)
    chart = element("figure", Markup(drawing.inline()), element("figcaption", drawing.description))
    n_years = sums.stated.n_years
    pairs = [
        ("Climate", climate),
        ("Depth limit passed, inputs as stated", f"{sums.stated.n_over_limit} of {n_years} winters"),
        ("Flat, inputs as stated", f"{sums.stated.n_flat} of {n_years} winters"),
        ("Depth limit passed, inputs drawn from their ranges", f"{sums.drawn.n_over_limit} of {n_years} winters"),
        ("Flat, inputs drawn from their ranges", f"{sums.drawn.n_flat} of {n_years} winters"),
        ("Worst month", sums.worst_month),
    ]
    inside = (
        _verdicts(sums.verdicts),
        chart,
        facts(pairs),
        _figures("Battery", sums.figures),
        _changes(sums),
        element("h3", "What the door does as the battery runs down"),
        bullets(sums.at_disconnect),
        _assumptions("Battery", sums.assumptions),
        bullets(sums.cautions),
    )
    return Section("battery", "Battery and panel", joined(inside), folded="always")


def _verdicts(verdicts: Iterable[Verdict]) -> Markup:
    order = {"fails": 0, "in doubt": 1, "holds": 2}
    entries = []
    for judged in sorted(verdicts, key=lambda one: order[one.state]):
        turned = ""
        if judged.state == "in doubt":
            turned = f" Turned by: {', '.join(judged.decided_by) or 'several inputs together'}."
        entries.append(joined((element("b", f"{judged.state}: "), f"{judged.name}: {judged.text}{turned}")))
    return bullets(entries)


def _figures(name: str, figures: Iterable[Figure]) -> Markup:
    rows = [(f.label, f"{number(f.span.value)} {f.unit}".strip(), reach(f.span), f.formula) for f in figures]
    return scrolled(f"{name}: figures", grid(f"{name}: figures", ("figure", "value", "range", "how"), rows))


def _assumptions(name: str, assumptions: Iterable[Assumption]) -> Markup:
    rows = [(a.key, number(a.span.value), reach(a.span), a.why) for a in assumptions]
    return scrolled(f"{name}: assumed", grid("Assumed, not given", ("input", "value", "range", "why"), rows))


def _changes(sums: BatterySums) -> Markup:
    n_years, rows = sums.stated.n_years, []
    for change in sums.changes:
        what = ", ".join(f"{key} = {value:g}" for key, value in change.settings.items()) or "as it is"
        hits = (f"{change.n_over_limit} of {n_years}", f"{change.n_flat} of {n_years}")
        rows.append((what, number(change.autonomy_days), number(change.gain_over_use), *hits))
    head = ("one change", "days without Sun", "worst month, gained over used", "past the limit", "flat")
    return scrolled("One change", grid("One change, all else equal", head, rows))


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
        drawings = [trade_off_chart([one], "", words, f"tradeoff{k}") for k, one in enumerate(panels)]
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
    return Section("comparison", "Light alone, clock alone, and both", joined(parts), folded="phone")


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
    caption = "Birds shut out a year, with 95 % limits; minutes open after the last bird"
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
    return Section("faults", "When something fails", joined(parts), folded="phone")


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
