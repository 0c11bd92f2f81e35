"""Results as a keeper reads them: a figure with its range and source, and a verdict with what would turn it."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from sunsched.base.model import Settings
from sunsched.base.rounding import rounded
from sunsched.hardware.spread import Inputs, Span, deciding_inputs, propagated


def number(value: float) -> str:
    """A number to three figures, without an exponent."""
    if not math.isfinite(value):
        return "endless" if value > 0 else "none"
    value = rounded(value)
    size = abs(value)
    if size >= 100 or size == 0:
        return f"{value:.0f}"
    decimals = 1 if size >= 10 else 2 if size >= 0.1 else 3
    return f"{value:.{decimals}f}"


def reach(span: Span) -> str:
    """The range of a figure; empty where it has none."""
    return "" if number(span.low) == number(span.high) else f"{number(span.low)} .. {number(span.high)}"


@dataclass(frozen=True)
class Figure:
    """One result: its group, name and unit, value and range, and the formula with its source."""

    group: str
    name: str
    label: str
    span: Span
    unit: str
    formula: str

    def plain(self) -> dict[str, Any]:
        """The figure as plain values, for JSON."""
        return {
            "group": self.group,
            "name": self.name,
            "label": self.label,
            "value": self.span.value,
            "low": self.span.low,
            "high": self.span.high,
            "unit": self.unit,
            "formula": self.formula,
        }


@dataclass(frozen=True)
class Verdict:
    """What the figures say about one danger.

    state   "holds", "fails", or "in doubt" where an input's range turns it
    decided_by   the inputs that turn it by themselves
    text    what happens, and what would mend it
    """

    name: str
    state: str
    decided_by: tuple[str, ...]
    text: str

    def plain(self) -> dict[str, Any]:
        """The verdict as plain values, for JSON."""
        return {**asdict(self), "decided_by": list(self.decided_by)}


@dataclass(frozen=True)
class Assumption:
    """An input that the keeper did not give, or whose value rests on memory or practice."""

    key: str
    span: Span
    why: str

    def plain(self) -> dict[str, Any]:
        """The assumption as plain values, for JSON."""
        span = self.span
        return {"key": self.key, "value": span.value, "low": span.low, "high": span.high, "why": self.why}


def verdict(
    name: str,
    margin: Callable[[Inputs], float],
    spans: Mapping[str, Span],
    good: str,
    bad: str,
) -> Verdict:
    """Judge `margin` (0 or more holds) at the stated inputs and over their ranges; `good`, `bad` are the texts.

    In doubt, a verdict carries the bad text: that is what may happen.
    """
    reach = propagated(lambda inputs: {name: margin(inputs)}, spans, signed=True)[name]
    turning = deciding_inputs(lambda inputs: rounded(margin(inputs)) >= 0.0, spans)
    certain = not turning and (reach.low >= 0.0 or reach.high < 0.0)
    state = ("holds" if reach.value >= 0.0 else "fails") if certain else "in doubt"
    return Verdict(name, state, turning, good if state == "holds" else bad)


def ask_first(verdicts: Iterable[Verdict], assumptions: Iterable[Assumption]) -> tuple[str, ...]:
    """The keys that were assumed and by themselves turn a verdict, the one that turns most first."""
    turned = Counter(name for judged in verdicts for name in judged.decided_by)
    keys = [assumed.key for assumed in assumptions if "." in assumed.key and turned[assumed.key]]
    return tuple(sorted(keys, key=lambda key: -turned[key]))


@dataclass(frozen=True)
class Range:
    """How far an input may lie from its value: given by the keeper, and where the default stands in.

    given, assumed   (low, high) as factors on the value
    why   what the value rests on where the keeper did not give it
    """

    given: tuple[float, float]
    assumed: tuple[float, float]
    why: str = "default, not given"


def spans_of(
    sections: Mapping[str, Settings], ranges: Mapping[str, Range], most: Mapping[str, float] | None = None
) -> tuple[dict[str, Span], tuple[Assumption, ...]]:
    """Spans for the keys of `ranges` ("door.travel_mm"), and those among them that the keeper did not give.

    `most` caps a range, for shares that cannot pass 1. Keys that are None are left out.
    """
    spans, assumptions = {}, []
    for dotted, allowed in ranges.items():
        section, key = dotted.split(".")
        value = getattr(sections[section], key)
        if value is None:
            continue
        is_given = key in sections[section].model_fields_set
        low, high = allowed.given if is_given else allowed.assumed
        cap = max(value, (most or {}).get(dotted, math.inf))
        spans[dotted] = Span(float(value), float(value * low), float(min(value * high, cap)))
        if not is_given:
            assumptions.append(Assumption(dotted, spans[dotted], allowed.why))
    return spans, tuple(assumptions)
