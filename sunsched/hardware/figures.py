"""Results for a keeper: a figure with its range and source, and a verdict with the inputs that would change it.

A span is a value with its range; `propagated` computes how far a result moves when each input moves within its range.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
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


def inputs_at(values: Mapping[str, float], moved: Iterable[tuple[str, float]]) -> dict[str, NDArray[np.float64]]:
    """The inputs as stated, and then with each of `moved` (input, value) moved by itself: arrays (1 + n,)."""
    moves = tuple(moved)
    x = {name: np.full(1 + len(moves), value, dtype=np.float64) for name, value in values.items()}
    for place, (name, value) in enumerate(moves, 1):
        x[name][place] = value
    return x


def ends_of(spans: Mapping[str, Span]) -> list[tuple[str, float]]:
    """Both ends of every input that has a range."""
    return [(name, end) for name, span in spans.items() if not span.fixed for end in (span.low, span.high)]


def propagated(sums: Sum, spans: Mapping[str, Span], signed: bool = False, at_once: bool = False) -> dict[str, Span]:
    """Each result of `sums` with the range that its inputs' ranges leave it.

    signed   True for results that may change their sign, such as margins
    at_once  `sums` takes arrays of inputs, and is called once for all ends

    Every input is moved to both ends of its range, the others staying. Upward and downward effects are added as
    squares of rectangular distributions and widened to about 95 %, and never go beyond the plain sum of the
    effects. Results that stay above 0 are products more often than sums: their effects are added as ratios.
    Within 12 % of the width of a simulation of the same inputs where the inputs were measured, within 30 % where
    they are guessed to a factor of two.
    Rounded to nine digits. Source: JCGM 100:2008 (GUM), 4.3.7 and 5.1; each side by itself because many ranges
    here are lopsided.
    """
    values, moved = values_of(spans), ends_of(spans)
    if at_once:
        results = {
            name: np.broadcast_to(result, 1 + len(moved)).tolist()
            for name, result in sums(inputs_at(values, moved)).items()
        }
    else:
        cases = [sums(values), *(sums({**values, name: end}) for name, end in moved)]
        results = {name: [float(case[name]) for case in cases] for name in cases[0]}
    middle = {name: found[0] for name, found in results.items()}
    ends = {name: list(zip(found[1::2], found[2::2], strict=True)) for name, found in results.items()}
    found = {name: _spread(value, ends[name], signed) for name, value in middle.items()}
    return {name: Span(rounded(s.value), rounded(s.low), rounded(s.high)) for name, s in found.items()}


def _spread(value: float, ends: list[tuple[float, float]], signed: bool) -> Span:
    # Most inputs do not touch a result: an end without effect adds nothing to either sum below.
    ends = [pair for pair in ends if pair != (value, value)]
    least = min([value, *map(min, ends)])
    if least > 0.0 and not signed:
        down, up = _widened([(math.log(one / value), math.log(other / value)) for one, other in ends])
        return Span(value, value * math.exp(-down), value * math.exp(up))
    down, up = _widened([(one - value, other - value) for one, other in ends])
    low = value - down
    return Span(value, low if signed or least < 0.0 else max(0.0, low), value + up)


def _widened(moves: list[tuple[float, float]]) -> tuple[float, float]:
    """Down and up: the root of the squares, widened, but at most the sum."""
    sides = [max(0.0, -one, -other) for one, other in moves], [max(0.0, one, other) for one, other in moves]
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


def deciding_at_once(margin: Callable[[Inputs], Number], spans: Mapping[str, Span]) -> tuple[str, ...]:
    """`deciding_inputs` of a margin, 0 or more holds, that takes arrays of inputs."""
    names = [name for name, span in spans.items() if not span.fixed]
    moved = [(name, point) for name in names for point in _points(spans[name])]
    margins = np.broadcast_to(margin(inputs_at(values_of(spans), moved)), 1 + len(moved)).tolist()
    stated, *found = (rounded(one) >= 0.0 for one in margins)
    each = len(found) // max(len(names), 1)
    return tuple(name for n, name in enumerate(names) if any(one is not stated for one in found[n * each :][:each]))


def _points(span: Span) -> tuple[float, ...]:
    return span.low, (span.low + span.value) / 2, (span.high + span.value) / 2, span.high


def deciding_inputs(holds: Callable[[Inputs], bool], spans: Mapping[str, Span]) -> tuple[str, ...]:
    """The inputs that by themselves, somewhere between the ends of their range, turn the verdict round.

    The ends are tried and one point half way to each: the verdicts here are monotone in each input.
    """
    values = values_of(spans)
    stated = holds(values)
    turning = []
    for name, span in spans.items():
        if not span.fixed and any(holds({**values, name: point}) is not stated for point in _points(span)):
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


Moves = Sequence[tuple[str, float]]


def turning_at_once(
    holds_at: Callable[[Moves], Sequence[bool]],
    spans: Mapping[str, Span],
    ends: Mapping[str, float],
    stated: bool,
    at_once: int = 2,
) -> dict[str, float]:
    """The value of each key of `ends` at which the verdict turns, as `turning_value` finds it, many asked for at once.

    holds_at   whether the verdict holds with each of some inputs moved by itself
    ends       the ends of ranges that turn it
    stated     whether it holds as stated
    at_once    so many halvings are asked for together: all their middles, of which one way is then taken
    """
    ways = {key: (spans[key].value, end) for key, end in ends.items()}
    for first in range(0, HALVINGS, at_once):
        steps = min(at_once, HALVINGS - first)
        middles = [(key, middle) for key, way in ways.items() for middle in _middles(*way, steps)]
        known = dict(zip(middles, holds_at(middles), strict=True))
        for key in ways:
            for _ in range(steps):
                kept, turned = ways[key]
                middle = (kept + turned) / 2
                ways[key] = (middle, turned) if known[key, middle] is stated else (kept, middle)
    return {key: turned for key, (_, turned) in ways.items()}


def _middles(kept: float, turned: float, steps: int) -> list[float]:
    """Every middle that so many halvings between two values may ask for."""
    if not steps:
        return []
    middle = (kept + turned) / 2
    return [middle, *_middles(kept, middle, steps - 1), *_middles(middle, turned, steps - 1)]


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


def judged(
    margin: Callable[[Inputs], Number], spans: Mapping[str, Span], at_once: bool = False
) -> tuple[str, tuple[str, ...]]:
    """The state that `verdict` gives a margin, and the inputs that turn it by themselves."""
    reach = propagated(lambda inputs: {"": margin(inputs)}, spans, signed=True, at_once=at_once)[""]
    if at_once:
        turning = deciding_at_once(margin, spans)
    else:
        turning = deciding_inputs(lambda inputs: rounded(margin(inputs)) >= 0.0, spans)
    certain = not turning and (reach.low >= 0.0 or reach.high < 0.0)
    return ("holds" if reach.value >= 0.0 else "fails") if certain else "in doubt", turning


def verdict(
    name: str,
    margin: Callable[[Inputs], Number],
    spans: Mapping[str, Span],
    good: str,
    bad: str,
    to_do: str = "",
    at_once: bool = False,
) -> Verdict:
    """Judge `margin` (0 or more holds) at the stated inputs and over their ranges; `good`, `bad` are the texts.

    A verdict in doubt has the bad text: it says what may happen. `to_do` stands after it.
    at_once   `margin` takes arrays of inputs
    """
    state, turning = judged(margin, spans, at_once)
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
