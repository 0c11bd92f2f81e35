"""Figures, verdicts and assumptions as plain text for a terminal or a sheet of paper."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby

from sunsched.hardware.figures import Assumption, Figure, Verdict, number, reach
from sunsched.report.text.plain import WIDTH, columns, wrapped


def figures_text(figures: Iterable[Figure]) -> str:
    """Figures under their groups with their ranges; the formula stands below, once for those that share it."""
    rows = [("", "", "", "range")]
    formulas: dict[int, str] = {}
    for group, members in groupby(figures, key=lambda figure: figure.group):
        rows.append((group.upper(), "", "", ""))
        listed = list(members)
        for k, f in enumerate(listed):
            rows.append((f"  {f.label}", number(f.span.value), f.unit, reach(f.span)))
            if k + 1 == len(listed) or listed[k + 1].formula != f.formula:
                formulas[len(rows)] = f.formula
    lines = columns(rows, frozenset({1, 3})).split("\n")
    return "\n".join(
        f"{line}\n{wrapped(formulas[n], '      ')}" if formulas.get(n) else line for n, line in enumerate(lines, 1)
    )


def verdicts_text(verdicts: Iterable[Verdict]) -> str:
    """Verdicts, worst first, with the inputs that would turn them."""
    order = {"fails": 0, "in doubt": 1, "holds": 2}
    blocks = []
    for judged in sorted(verdicts, key=lambda one: order[one.state]):
        text = f"{judged.name}: {judged.text}"
        if judged.state == "in doubt":
            at = {key: f" (from {number(value)} on)" for key, value in judged.turns_at}
            turning = ", ".join(key + at.get(key, "") for key in judged.decided_by) or "several inputs together"
            text += f" Turned by: {turning}."
        blocks.append(wrapped(text, judged.state.upper().ljust(10)))
    return "\n".join(blocks) + "\n"


def measured_first(keys: Sequence[str]) -> str:
    """What the verdicts hang on, in a sentence: the assumed keys that turn one, to measure or look up first."""
    if not keys:
        return "It hangs on the values you gave: no assumption by itself turns a verdict."
    for shown in range(len(keys), 0, -1):
        more = f" and {len(keys) - shown} more" if shown < len(keys) else ""
        text = f"It hangs on {', '.join(keys[:shown])}{more}, assumed: measure first."
        if len(text) <= WIDTH:
            break
    return text


def assumptions_text(assumptions: Iterable[Assumption]) -> str:
    """What was assumed, with the range carried through, and why."""
    rows = [("assumed, not given", "", "range", "why")]
    rows += [(f"  {a.key}", number(a.span.value), reach(a.span), a.why) for a in assumptions]
    return columns(rows, frozenset({1, 2}))
