"""Figures, verdicts and assumptions as plain text for a terminal or a sheet of paper."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from itertools import groupby

from sunsched.hardware.figures import Assumption, Figure, Verdict, ask_first, number, reach

WIDTH = 100


def columns(rows: Sequence[Sequence[str]], right: frozenset[int] = frozenset()) -> str:
    """Rows in padded columns; those numbered in `right` are set to the right."""
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    lines = []
    for row in rows:
        cells = [c.rjust(w) if k in right else c.ljust(w) for k, (c, w) in enumerate(zip(row, widths, strict=True))]
        lines.append("  ".join(cells).rstrip())
    return "\n".join(lines) + "\n"


def figures_text(figures: Iterable[Figure]) -> str:
    """Figures under their groups, with range and formula."""
    rows = [("", "", "", "range", "how")]
    for group, members in groupby(figures, key=lambda figure: figure.group):
        rows.append((group.upper(), "", "", "", ""))
        rows += [(f"  {f.label}", number(f.span.value), f.unit, reach(f.span), f.formula) for f in members]
    return columns(rows, frozenset({1, 3}))


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


def ask_first_text(verdicts: Iterable[Verdict], assumptions: Iterable[Assumption]) -> str:
    """The assumed keys to measure or look up first; empty where none turns a verdict."""
    keys = ask_first(verdicts, assumptions)
    return wrapped(", ".join(keys) + ".", "MEASURE OR LOOK UP FIRST: ") + "\n" if keys else ""


def assumptions_text(assumptions: Iterable[Assumption]) -> str:
    """What was assumed, with the range carried through, and why."""
    rows = [("assumed, not given", "", "range", "why")]
    rows += [(f"  {a.key}", number(a.span.value), reach(a.span), a.why) for a in assumptions]
    return columns(rows, frozenset({1, 2}))


def cautions_text(cautions: Iterable[str]) -> str:
    """The cautions that stand beside the results."""
    return "CAUTIONS\n" + "\n".join(wrapped(caution, "  - ") for caution in cautions) + "\n"


def wrapped(text: str, head: str) -> str:
    """`text` after `head`, folded under itself."""
    return textwrap.fill(text, WIDTH, initial_indent=head, subsequent_indent=" " * len(head))
