"""Ranges and verdicts worked out for many inputs at once, against one input after the other."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from sunsched.hardware.figures import (
    Inputs,
    Moves,
    Number,
    Span,
    deciding_at_once,
    deciding_inputs,
    ends_of,
    exactly,
    inputs_at,
    judged,
    propagated,
    turning_at_once,
    turning_value,
    values_of,
)

NAMES = ("width", "height", "weight", "fixed")


def span(value: float, down: float, up: float) -> Span:
    return Span(value, value - down, value + up)


lengths = st.floats(0.0, 4.0).map(lambda value: round(value, 2))
some_spans = st.fixed_dictionaries(
    {name: st.builds(span, lengths.map(lambda value: value + 5.0), lengths, lengths) for name in NAMES[:3]}
).map(lambda found: {**found, "fixed": exactly(2.0)})


def results(x: Inputs) -> dict[str, Number]:
    return {"area": x["width"] * x["height"], "load": x["weight"] / x["width"] - x["fixed"], "two": x["fixed"]}


def margin(x: Inputs) -> Number:
    return x["width"] * x["height"] - 4.0 * x["weight"]


@given(some_spans)
def test_the_inputs_at_once_are_those_of_each_move(spans: dict[str, Span]) -> None:
    moved, values = ends_of(spans), values_of(spans)
    assert all(not spans[name].fixed for name, _ in moved)
    x = inputs_at(values, moved)
    for place, changed in enumerate([{}, *({name: end} for name, end in moved)]):
        assert {name: float(column[place]) for name, column in x.items()} == {**values, **changed}


@given(some_spans)
def test_ranges_and_states_at_once_are_those_of_one_input_after_the_other(spans: dict[str, Span]) -> None:
    assert propagated(results, spans, at_once=True) == propagated(results, spans)
    assert deciding_at_once(margin, spans) == deciding_inputs(lambda x: margin(x) >= 0.0, spans)
    assert judged(margin, spans, at_once=True) == judged(margin, spans)


@given(some_spans, st.integers(1, 6))
def test_values_that_turn_are_the_same_however_many_are_asked_for_at_once(spans: dict[str, Span], at_once: int) -> None:
    values, asked = values_of(spans), []
    stated = bool(margin(values) >= 0.0)

    def holds_at(moved: Moves) -> list[bool]:
        asked.append(len(moved))
        return [bool(one >= 0.0) for one in margin(inputs_at(values, moved))[1:]]

    plain = {name: turning_value(lambda x: bool(margin(x) >= 0.0), spans, name) for name in NAMES}
    ends: dict[str, float] = {}
    for key, end in ends_of(spans):
        nearer = key not in ends or abs(end - values[key]) < abs(ends[key] - values[key])
        if bool(margin({**values, key: end}) >= 0.0) is not stated and nearer:
            ends[key] = end
    found = turning_at_once(holds_at, spans, ends, stated, at_once)
    assert found == {name: value for name, value in plain.items() if value is not None}
    assert len(asked) == -(-6 // at_once)
