"""The battery's year as plain text: verdicts first, then figures, winters, months, changes, assumptions, cautions."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from sunsched.base.civil_time import MONTH_NAMES
from sunsched.base.warned import Warned
from sunsched.hardware.advice import Advice
from sunsched.hardware.figures import ask_first, number
from sunsched.hardware.parts import Battery
from sunsched.hardware.solar_input import month_of_row
from sunsched.job.drive_and_battery import BatteryYear, winters_of
from sunsched.report.text.advised import advised_block, next_words, open_block
from sunsched.report.text.answer import Answer, Block, told
from sunsched.report.text.figures import assumptions_text, figures_text, measured_first, verdicts_text
from sunsched.report.text.plain import cautions_text, columns, wrapped


def battery_answer(work: BatteryYear, found: tuple[Warned, ...], advice: Advice) -> Answer:
    """The battery in three lines; `found` are its warnings, the most harmful first."""
    sums = work.sums
    n_years, flat, flat_drawn = sums.stated.n_years, sums.stated.n_flat, sums.drawn.n_flat
    days = sums.figure("autonomy_days").value
    if found:
        drawn = f", in {flat_drawn} with inputs drawn" if flat_drawn != flat else ""
        answer = f"The battery ran flat in {flat} of {n_years} winters as stated{drawn}."
    else:
        answer = f"The battery carries the door: flat in no winter of {n_years}, {number(days)} days without Sun."
    keys = measured_first(ask_first(sums.verdicts, sums.assumptions))
    return Answer(answer, keys, next_words(advice))


def battery_text(
    work: BatteryYear, advice: Advice, found: tuple[Warned, ...], battery: Battery, every: bool = False
) -> str:
    """The answer, the advised set and what is open; with `every` all verdicts, figures, winters and changes."""
    sums = work.sums
    disconnect = "\n".join(wrapped(line, "  - ") for line in sums.at_disconnect)
    holding = [one.name for one in sums.verdicts if one.state == "holds"]
    blocks = (
        advised_block(advice, {"battery": battery}),
        open_block(found, () if every else holding, every=False),
        Block(verdicts_text(sums.verdicts), "every verdict"),
        Block(_figures_text(work), "figures with formulas"),
        Block(_winters_text(work), "winters"),
        Block(_months_text(work), "months"),
        Block(_changes_text(work), "what one change does"),
        Block(f"AT DISCONNECT: WHAT THE DOOR DOES\n{disconnect}\n", "what the door does when the battery goes"),
        Block(assumptions_text(sums.assumptions), "what was assumed"),
        Block(cautions_text(sums.cautions)),
    )
    return told(battery_answer(work, found, advice), blocks, every)


def _figures_text(work: BatteryYear) -> str:
    return figures_text(work.sums.figures).replace("WORST MONTH", f"WORST MONTH: {work.sums.worst_month.upper()}", 1)


def _chance(share: list[float]) -> str:
    return f"{100 * share[0]:.1f} % ({100 * share[1]:.1f} .. {100 * share[2]:.1f})"


def _winters_text(work: BatteryYear) -> str:
    facts: Mapping[str, Any] = winters_of(work)
    n_years = facts["weather_years"]
    rows = [
        (f"{n_years} WINTERS OF MODEL WEATHER", "inputs as stated", "inputs drawn"),
        (
            "  depth limit passed, 95 % limits",
            _chance(facts["chance_over_limit"]),
            _chance(facts["chance_over_limit_inputs_drawn"]),
        ),
        (
            "  flat, the door stops, 95 % limits",
            _chance(facts["chance_flat"]),
            _chance(facts["chance_flat_inputs_drawn"]),
        ),
        ("  most days past the depth limit in one winter", f"{facts['most_days_over_limit']} days", ""),
        ("  longest run of days flat", f"{facts['longest_flat_run_days']} days", ""),
        ("  longest run of days without a full battery", f"{facts['longest_run_not_full_days']} days", ""),
        ("  least charge held", f"{number(facts['lowest_ah'])} Ah, {facts['lowest_date'][5:]}", ""),
        ("  full again by next midsummer", f"{facts['years_full_again']} of {n_years} years", ""),
    ]
    return columns(rows, frozenset({1, 2})) + wrapped(f"climate: {work.climate.source}", "  ") + "\n"


def _months_text(work: BatteryYear) -> str:
    """Charge in and out by month in the typical and the worst weather year; days are in --json."""
    years = work.sums.stated.years
    month = month_of_row(years.end.shape[1])
    rows = [
        ("CHARGE BY MONTH, Ah", "typical: in", "overflow", "used", "least held", "worst: in", "unmet", "least held")
    ]
    for m, name in enumerate(MONTH_NAMES):
        here = month == m

        def total(column: Any, year: int, here: Any = here) -> str:
            return number(float(np.sum(column[year][here])))

        t, w = work.sums.typical, work.sums.worst
        out = years.used + years.self_discharge
        rows.append(
            (
                f"  {name}",
                total(years.panel, t),
                total(years.overflow, t),
                total(out, t),
                number(float(years.end[t][here].min())),
                total(years.panel, w),
                total(years.unmet, w),
                number(float(years.end[w][here].min())),
            )
        )
    return columns(rows, frozenset(range(1, 8)))


def _changes_text(work: BatteryYear) -> str:
    sums, n_years = work.sums, work.sums.stated.n_years
    rows = [("ONE CHANGE, ALL ELSE EQUAL", "days without Sun", "worst month in/out", "past limit", "flat")]
    for change in sums.changes:
        what = ", ".join(f"{key} = {value:g}" for key, value in change.settings.items()) or "as it is"
        hits = (f"{change.n_over_limit} of {n_years}", f"{change.n_flat} of {n_years}")
        rows.append((f"  {what}", number(change.autonomy_days), number(change.gain_over_use), *hits))
    return columns(rows, frozenset(range(1, 5)))
