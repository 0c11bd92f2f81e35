"""Advice and warnings as blocks behind an answer: `drive`, `battery` and `cell` show both the same way."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from sunsched.base.model import Settings
from sunsched.base.warned import Warned
from sunsched.hardware.advice import Advice
from sunsched.report.text.answer import Block
from sunsched.report.text.plain import columns, wrapped

SHOWN = 2  # warnings in full beside the advised set; the others are named


def next_words(advice: Advice) -> str:
    """What to do next, in a sentence."""
    if not advice.before:
        return "Nothing to change: run it again when a part or a measured value changes."
    if not advice.settings:
        return "No set of values tried cures it: measure what is assumed, or change a part."
    count = len(advice.before)
    left = f"{len(advice.remains)} of {count} warnings stay" if advice.remains else "no warning stays"
    few = advice.words() if len(advice.settings) == 1 else f"the {len(advice.settings)} values below"
    return f"Take {few} (checked: {left}); --write does it."


def advised_block(advice: Advice, sections: Mapping[str, Settings]) -> Block:
    """The set beside the values as they are, and what it leaves."""
    if not advice.settings:
        return Block("")
    rows = [("ADVISED, TO TAKE TOGETHER", "now", "advised")]
    for dotted, value in advice.settings.items():
        section, _, key = dotted.partition(".")
        now = getattr(sections[section], key)
        rows.append((f"  {dotted}", "not set" if now is None else f"{now:g}", f"{value:g}"))
    proof = "These values were put in the place of yours and the same sums run again: "
    proof += f"still open: {', '.join(advice.remains)}." if advice.remains else "no complaint is left."
    return Block(columns(rows, frozenset({1, 2})) + wrapped(proof, "  ") + "\n")


def open_block(found: Sequence[Warned], holding: Sequence[str], every: bool) -> Block:
    """The warnings, the most harmful in full, the others by name; then what holds."""
    shown = found if every else found[:SHOWN]
    lines = [wrapped(f"{warned.text}.", "  ") for warned in shown]
    if len(found) > len(shown):
        lines.append(wrapped(f"and {', '.join(_name(warned) for warned in found[len(shown) :])}.", "  "))
    if holding:
        lines.append(wrapped(f"{', '.join(holding)}.", "  holds: "))
    head = f"WARNINGS: {len(found)}, THE MOST HARMFUL FIRST" if found else "WARNINGS: NONE"
    return Block("\n".join([head, *lines]) + "\n")


def _name(warned: Warned) -> str:
    return warned.name.replace("_", " ")
