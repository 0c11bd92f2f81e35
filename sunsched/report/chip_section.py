"""Counts and settings for the chip: what its program is told beside the minutes."""

from __future__ import annotations

from sunsched.hardware.clock_reach import drift_s_per_day, reach_days
from sunsched.hardware.light_cell import threshold_counts
from sunsched.hardware.parts import ClockSource, LightCell
from sunsched.plan.rules import Rules
from sunsched.plan.year import YearPlan
from sunsched.report.html import Markup, element, facts, grid, joined, scrolled

CLOCK_BUDGET_MIN = 2  # how far a clock may drift before it is set again: common practice


def chip_section(plan: YearPlan, cell: LightCell, clock: ClockSource, rules: Rules) -> Markup:
    """Clock, cell and windows."""
    keeps = "civil time" if plan.chip.keeps == "civil" else f"UTC{plan.chip_offset_min / 60:+g} h all year"
    pairs: list[tuple[object, object]] = [("Board", plan.chip.board), ("Chip's clock", keeps), ("Clock", _drift(clock))]
    for side, rule in (("morning", rules.morning), ("evening", rules.evening)):
        window = f"{rule.cell_from_min:+d} to {rule.cell_until_min:+d} min"
        pairs.append((f"Cell may act, {side}", window if rule.cell_from_min or rule.cell_until_min else "never"))
    return joined((facts(pairs), element("h3", "Light cell"), _cell(cell)))


def _drift(clock: ClockSource) -> str:
    if clock.source == "none":
        return "none: the light cell alone keeps the day"
    days = reach_days(CLOCK_BUDGET_MIN, clock.drift_ppm)
    reach = "never drifts that far" if days is None else f"set every {days} days it stays within {CLOCK_BUDGET_MIN} min"
    return f"{clock.source}, {clock.drift_ppm:g} ppm = {drift_s_per_day(clock.drift_ppm):.2f} s a day; {reach}"


def _cell(cell: LightCell) -> Markup:
    levels = (("dark", cell.dark_lux), ("light", cell.light_lux))
    if cell.kind == "lux":
        return facts([(f"{name.capitalize()} threshold", f"{lux:g} lux") for name, lux in levels])
    rows = []
    for name, lux in levels:
        found = threshold_counts(lux, cell.r10_ohm, cell.gamma, cell.fixed_ohm, cell.adc_steps, cell.spread)
        reach = f"{found.lux_low:.3g} to {found.lux_high:.3g}"
        spread = f"{found.counts_low} to {found.counts_high}"
        rows.append((name, f"{lux:g}", str(found.counts), spread, reach, f"{found.counts_per_efold:.0f}"))
    middle = ("lux at the cell", "ADC counts", "same light, other cells", "same counts, lux")
    table = grid("Thresholds as counts", ("threshold", *middle, "counts per e-fold"), rows)
    words = (
        f"A cell within its tolerance may see up to {cell.spread:g} times more or less light than the stated one "
        f"({cell.r10_ohm / 1000:g} kΩ at 10 lux, gamma {cell.gamma:g}, fixed resistor {cell.fixed_ohm / 1000:g} kΩ): "
        "calibrate it in its place."
    )
    return joined((scrolled("Thresholds as counts", table), element("p", words)))
