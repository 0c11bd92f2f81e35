"""The records of the reasons: whole, distinct, and with no default that a new one could forget."""

from __future__ import annotations

from dataclasses import MISSING, fields

import numpy as np
import pytest

from sunsched.plan.reasons import Kind, Reason, Record, by_sun, kinds_of


def test_nothing_of_a_record_can_be_left_out() -> None:
    assert all(field.default is MISSING and field.default_factory is MISSING for field in fields(Record))
    with pytest.raises(TypeError, match="by_sun"):
        Record(short="rounded", meaning="rounded", said="the Sun", kind=Kind.SUN, instead="")  # type: ignore[call-arg]


def test_numbers_count_from_0_and_lookups_follow_them() -> None:
    numbers = np.arange(len(Reason), dtype=np.uint8)
    assert [reason.value for reason in Reason] == numbers.tolist()
    assert by_sun(numbers).tolist() == [reason.record.by_sun for reason in Reason]
    assert kinds_of(numbers).tolist() == [reason.record.kind for reason in Reason]


def test_short_words_are_told_apart_and_every_minute_has_its_words() -> None:
    assert len({reason.record.short for reason in Reason}) == len(Reason)
    for reason in Reason:
        assert (reason.record.said == "") == (reason.record.kind == Kind.DOWN)
        assert reason.stands_in == (reason.record.kind in (Kind.LIGHT, Kind.STAND_IN))
        assert not (reason.record.by_sun and reason.record.kind in (Kind.DOWN, Kind.LIMIT, Kind.STAND_IN))
