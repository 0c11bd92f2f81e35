"""Results for a keeper: a figure with its range and source, and a verdict with the inputs that would change it.

A span is a value with its range; `propagated` computes how far a result moves when each input moves within its range.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunsched.base.errors import RangeError
from sunsched.base.model import Settings
from sunsched.base.rounding import rounded

Number = Any  # a float, or an array of them: every function below accepts both
Inputs = Mapping[str, Number]
Sum = Callable[[Inputs], Mapping[str, Number]]

COVERAGE = 1.96  # standard deviations for 95 % of a normal distribution: JCGM 100:2008 (GUM), annex G
RECTANGLE_SD = 1.0 / math.sqrt(3.0)  # of half-width 1: JCGM 100:2008 (GUM), 4.3.7


@dataclass(frozen=True)
class Span:
    """A value with the range it may lie in; as likely above the value as below, evenly on each side."""

    value: float
    low: float
    high: float

    def __post_init__(self) -> None:
        if not self.low <= self.value <= self.high:
            raise RangeError(f"span is {self.low!r} .. {self.high!r}; wanted it round {self.value!r}")

    @property
    def fixed(self) -> bool:
        """True where the value has no range."""
        return self.low == self.high


def exactly(value: float) -> Span:
    """A value without a range."""
    return Span(value, value, value)


def within_share(value: float, share: float) -> Span:
    """`value` give or take `share` of itself."""
    return Span(value, value * (1.0 - share), value * (1.0 + share))


def values_of(spans: Mapping[str, Span]) -> dict[str, float]:
    """The inputs at their stated values."""
    return {name: span.value for name, span in spans.items()}


def propagated(sums: Sum, spans: Mapping[str, Span], signed: bool = False) -> dict[str, Span]:
    """Each result of `sums` with the range that its inputs' ranges leave it.

    signed   True for results that may change their sign, such as margins

    Every input is moved to both ends of its range, the others staying. Upward and downward effects are added as
    squares of rectangular distributions and widened to about 95 %, and never go beyond the plain sum of the
    effects. Results that stay above 0 are products more often than sums: their effects are added as ratios.
    Within 12 % of the width of a simulation of the same inputs where the inputs were measured, within 30 % where
    they are guessed to a factor of two.
    Rounded to nine digits. Source: JCGM 100:2008 (GUM), 4.3.7 and 5.1; each side by itself because many ranges
    here are lopsided.
    """
    middle = {name: float(result) for name, result in sums(values_of(spans)).items()}
    ends: dict[str, list[tuple[float, float]]] = {name: [] for name in middle}
    for name, span in spans.items():
        if not span.fixed:
            low, high = (sums({**values_of(spans), name: end}) for end in (span.low, span.high))
            for result in middle:
                ends[result].append((float(low[result]), float(high[result])))
    found = {name: _spread(value, ends[name], signed) for name, value in middle.items()}
    return {name: Span(rounded(s.value), rounded(s.low), rounded(s.high)) for name, s in found.items()}


def _spread(value: float, ends: list[tuple[float, float]], signed: bool) -> Span:
    least = min([value, *(end for pair in ends for end in pair)])
    if least > 0.0 and not signed:
        down, up = _widened([[math.log(end / value) for end in pair] for pair in ends])
        return Span(value, value * math.exp(-down), value * math.exp(up))
    down, up = _widened([[end - value for end in pair] for pair in ends])
    low = value - down
    return Span(value, low if signed or least < 0.0 else max(0.0, low), value + up)


def _widened(moves: list[list[float]]) -> tuple[float, float]:
    """Down and up: the root of the squares, widened, but at most the sum."""
    sides = [[max(0.0, *(sign * move for move in pair)) for pair in moves] for sign in (-1.0, 1.0)]
    down, up = (
        min(COVERAGE * RECTANGLE_SD * math.sqrt(sum(effect**2 for effect in side)), sum(side)) for side in sides
    )
    return down, up


def drawn(spans: Mapping[str, Span], n: int, seed: int) -> dict[str, NDArray[np.float64]]:
    """`n` draws of every input from its range: a coin decides the side, then evenly along it."""
    rng = np.random.default_rng(seed)
    draws = {}
    for name, span in spans.items():
        side, along = rng.random(n) < 0.5, rng.random(n)
        draws[name] = span.value + along * np.where(side, span.high - span.value, span.low - span.value)
    return draws


def deciding_inputs(holds: Callable[[Inputs], bool], spans: Mapping[str, Span]) -> tuple[str, ...]:
    """The inputs that by themselves, somewhere between the ends of their range, turn the verdict round.

    The ends are tried and one point half way to each: the verdicts here are monotone in each input.
    """
    values = values_of(spans)
    stated = holds(values)
    turning = []
    for name, span in spans.items():
        points = (span.low, (span.low + span.value) / 2, (span.high + span.value) / 2, span.high)
        if not span.fixed and any(holds({**values, name: point}) is not stated for point in points):
            turning.append(name)
    return tuple(turning)


HALVINGS = 6  # a value is known to a sixty-fourth of its way


def turning_value(holds: Callable[[Inputs], bool], spans: Mapping[str, Span], key: str) -> float | None:
    """The value of `key` at which the verdict turns, on the way to the nearer end that turns it; None if none does."""
    values, span = values_of(spans), spans[key]
    stated = holds(values)
    ends = [end for end in (span.low, span.high) if holds({**values, key: end}) is not stated]
    if not ends:
        return None
    kept, turned = span.value, min(ends, key=lambda end: abs(end - span.value))
    for _ in range(HALVINGS):
        middle = (kept + turned) / 2
        kept, turned = (middle, turned) if holds({**values, key: middle}) is stated else (kept, middle)
    return turned


def turning_values(
    holds: Callable[[Inputs], bool], spans: Mapping[str, Span], keys: Iterable[str]
) -> tuple[tuple[str, float], ...]:
    """Each of `keys` with the value at which it turns the verdict; keys whose ends do not turn it are left out."""
    found = ((key, turning_value(holds, spans, key)) for key in keys)
    return tuple((key, value) for key, value in found if value is not None)


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
    turns_at   those of them with the value from which on they do
    text    what happens, and where it does not hold what would mend it
    to_do   the part of `text` that says what would mend it
    """

    name: str
    state: str
    decided_by: tuple[str, ...]
    text: str
    turns_at: tuple[tuple[str, float], ...] = ()
    to_do: str = ""

    @property
    def happens(self) -> str:
        """The part of `text` that says what happens, without a full stop."""
        return self.text.removesuffix(self.to_do).rstrip(" .")

    def plain(self) -> dict[str, Any]:
        """The verdict as plain values, for JSON."""
        values = {**asdict(self), "decided_by": list(self.decided_by), "turns_at": dict(self.turns_at)}
        return {key: value for key, value in values.items() if key != "to_do"}


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


def judged(margin: Callable[[Inputs], float], spans: Mapping[str, Span]) -> tuple[str, tuple[str, ...]]:
    """The state that `verdict` gives a margin, and the inputs that turn it by themselves."""
    reach = propagated(lambda inputs: {"": margin(inputs)}, spans, signed=True)[""]
    turning = deciding_inputs(lambda inputs: rounded(margin(inputs)) >= 0.0, spans)
    certain = not turning and (reach.low >= 0.0 or reach.high < 0.0)
    return ("holds" if reach.value >= 0.0 else "fails") if certain else "in doubt", turning


def verdict(
    name: str,
    margin: Callable[[Inputs], float],
    spans: Mapping[str, Span],
    good: str,
    bad: str,
    to_do: str = "",
) -> Verdict:
    """Judge `margin` (0 or more holds) at the stated inputs and over their ranges; `good`, `bad` are the texts.

    A verdict in doubt has the bad text: it says what may happen. `to_do` stands after it.
    """
    state, turning = judged(margin, spans)
    at = turning_values(lambda inputs: margin(inputs) >= 0.0, spans, turning)
    if state == "holds":
        return Verdict(name, state, turning, good, at)
    return Verdict(name, state, turning, f"{bad} {to_do}".rstrip(), at, to_do)


def ask_first(verdicts: Iterable[Verdict], assumptions: Iterable[Assumption]) -> tuple[str, ...]:
    """The assumed keys that change a verdict by themselves, the one that changes most first."""
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
