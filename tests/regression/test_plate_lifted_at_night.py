"""A plate lifted at night, the lower switch open with the motor off, stayed up until morning without an alarm."""

from __future__ import annotations

import pytest

from sunsched.controller.words import Alarm
from tests.controller.broken_nights import nights_with


@pytest.mark.parametrize("words", ["plate lifted and wedged at night", "plate lifted and wedged every night"])
def test_it_is_lowered_again_and_said(words: str) -> None:
    for verdict in nights_with(words, (80, 250)):
        assert verdict.left_open.sum() == 0
        assert verdict.alarms & Alarm.MOVED and verdict.alarm_after_h <= 0.1
        assert verdict.open_dark_min.max() <= 30
