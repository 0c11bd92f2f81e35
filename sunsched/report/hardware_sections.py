"""The drive and the battery in the report: verdicts, figures with their ranges, assumptions."""

from __future__ import annotations

from collections.abc import Iterable

from sunsched.hardware.battery_sums import BatterySums
from sunsched.hardware.drive_sums import DriveSums
from sunsched.hardware.figures import Assumption, Figure, Verdict, number, reach
from sunsched.report.battery_chart import battery_chart
from sunsched.report.html import Markup, Section, bullets, element, facts, grid, joined, scrolled


def drive_section(sums: DriveSums) -> Section:
    """Motor, spool and cord."""
    inside = (
        _verdicts(sums.verdicts),
        _figures("Drive", sums.figures),
        _assumptions("Drive", sums.assumptions),
        bullets(sums.cautions),
    )
    return Section("drive", "Motor, spool and cord", joined(inside))


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
    return Section("battery", "Battery and panel", joined(inside))


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
