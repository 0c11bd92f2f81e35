"""Rules that the decoder applies: bytes and back, dates of summer time, and undoing what they do."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from sunsched.base.civil_time import year_days
from sunsched.plan.year import NO_MINUTE
from sunsched.table import rule_block
from sunsched.table.rule_block import BOTH, DateWord, Rule, What
from sunsched.table.wanted import Minutes

dates = st.builds(DateWord, st.integers(0, 366), st.none() | st.integers(0, 6))
rules = st.lists(
    st.builds(
        Rule,
        st.sampled_from([What.ADD, What.AT_LEAST, What.AT_MOST]),
        st.integers(1, 3),
        st.integers(-200, 1500),
        st.none() | st.tuples(dates, dates),
        st.none() | st.integers(0, 127),
        st.none() | st.integers(2026, 2029),
    )
    | st.builds(
        Rule,
        st.just(What.STAY_DOWN),
        st.integers(1, 3),
        st.just(0),
        st.none() | st.tuples(dates, dates),
        st.none(),
        st.none() | st.integers(2026, 2029),
    ),
    max_size=6,
).map(tuple)


@given(rules)
def test_rules_read_back(decoder_rules: tuple[Rule, ...]) -> None:
    assert rule_block.of_bytes(rule_block.to_bytes(decoder_rules)) == decoder_rules


@settings(max_examples=60, deadline=None)
@given(rules, st.integers(2024, 2031), arrays(np.int32, (2, 366), elements=st.integers(-100, 1500)))
def test_the_curve_lies_within_what_undoing_its_minutes_allows(
    decoder_rules: tuple[Rule, ...], year: int, curve: Minutes
) -> None:
    curve = curve[:, : year_days(year)[1]]
    minutes = rule_block.applied(decoder_rules, year, curve)
    undone = rule_block.undone(decoder_rules, year, minutes, minutes)
    assert undone is not None
    least, greatest = undone
    assert ((least <= curve) & (curve <= greatest)).all()


@settings(max_examples=60, deadline=None)
@given(rules, arrays(np.int32, (2, 366), elements=st.integers(0, 1400)))
def test_any_curve_within_undone_bounds_gives_the_minutes(decoder_rules: tuple[Rule, ...], wanted: Minutes) -> None:
    undone = rule_block.undone(decoder_rules, 2028, wanted, wanted)
    if undone is None:
        return
    least, greatest = undone
    for path in (np.maximum(least, -2000), np.minimum(greatest, 4000)):
        assert (rule_block.applied(decoder_rules, 2028, np.clip(path, least, greatest)) == wanted).all()


# Directive 2000/84/EC, articles 2 and 3: summer time begins on the last Sunday of March and ends on the last
# Sunday of October. 28 March and 31 October 2027, 26 March and 29 October 2028 are those Sundays (from a calendar).
@pytest.mark.parametrize(("year", "begin", "end"), [(2027, (3, 28), (10, 31)), (2028, (3, 26), (10, 29))])
def test_last_sundays(year: int, begin: tuple[int, int], end: tuple[int, int]) -> None:
    march, october = DateWord(84, 6), DateWord(298, 6)
    starts = np.datetime64(f"{year}-01-01") + np.array([march.day(year), october.day(year)])
    assert [str(day) for day in starts] == [f"{year}-{m:02d}-{d:02d}" for m, d in (begin, end)]
    holds = Rule(What.ADD, BOTH, 60, (march, october)).holds(0, year)
    assert (np.flatnonzero(holds)[[0, -1]] == [march.day(year), october.day(year) - 1]).all()


def test_from_after_to_wraps_the_years_end() -> None:
    holds = Rule(What.STAY_DOWN, BOTH, 0, (DateWord(324), DateWord(22))).holds(1, 2027)
    assert holds[:22].all() and not holds[22:323].any() and holds[323:].all()


def test_later_rules_do_not_touch_a_day_that_stays_down() -> None:
    decoder_rules = (Rule(What.STAY_DOWN, BOTH, 0, (DateWord(10), DateWord(12))), Rule(What.ADD, BOTH, 5))
    minutes = rule_block.applied(decoder_rules, 2028, np.full((2, 366), 400, np.int32))
    assert (minutes[:, 10:12] == NO_MINUTE).all()
    assert (minutes[:, 12:] == 405).all()


def test_a_cut_rule_is_refused() -> None:
    whole = rule_block.to_bytes([Rule(What.ADD, 1, 30, None, 64)])
    for length in range(1, len(whole)):
        with pytest.raises(ValueError, match="cut short"):
            rule_block.of_bytes(whole[:length])
