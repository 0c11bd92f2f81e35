"""A supply too weak for the motor reset the chip at each start: 4,670 starts in nine days, and never an alarm."""

from __future__ import annotations

import pytest

from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import KeptOver, boot, keep
from sunsched.controller.motor import step_motor
from sunsched.controller.words import Alarm, Reset, Want
from tests.controller.broken_nights import nights_with

ONE_SUPPLY = "supply browns out at each motor start"


def test_starts_become_rare_and_the_alarm_outlives_every_reset() -> None:
    for verdict in nights_with(ONE_SUPPLY):
        # 3 a minute apart, 8 every 15 min, then at each of two changes a day and 8 h after it; 10 before the fault
        assert 10 + 2 * 8 < verdict.machine["starts"] <= 10 + 3 + 8 + 4 * 9
        assert verdict.alarms & Alarm.POWER
        # said at the second start in the evening: the fault itself begins at 13:00
        assert verdict.alarm_after_h <= 8


def test_after_eleven_lost_starts_the_chip_waits_for_eight_hours() -> None:
    waits = [boot(DoorSettings(), KeptOver(starts_lost=lost)).wait_s for lost in (1, 2, 3, 10, 11, 255)]
    assert waits == [10, 60, 900, 900, 8 * 3600, 8 * 3600]


@pytest.mark.parametrize(("asked", "hand", "wait_s"), [(2, 0, 5000), (1, 0, 2), (2, 2, 2)])
def test_a_change_of_the_wish_or_a_hand_cuts_the_wait_and_the_first_wish_does_not(
    asked: int, hand: int, wait_s: int
) -> None:
    state = boot(DoorSettings(), KeptOver(starts_lost=11))
    state.wait_s, state.boot_s, state.asked, state.hand, state.blocked = 5001, 100, asked, hand, 1
    step_motor(state, DoorSettings(), int(Want.DOWN), 1, 0)
    assert state.wait_s == wait_s - (wait_s == 2)


def test_a_supply_that_recovers_closes_the_same_evening() -> None:
    for verdict in nights_with("supply browns out at each start of one evening"):
        assert verdict.left_open.sum() == 0 and verdict.alarms & Alarm.POWER


def test_resets_are_counted_by_cause_and_alarms_carried_over() -> None:
    kept = KeptOver(alarms=int(Alarm.NOT_DOWN | Alarm.CELL), starts_lost=1, brown_outs=255, hangs=3)
    state = boot(DoorSettings(), kept, int(Reset.BROWN_OUT | Reset.HANG))
    assert (state.brown_outs, state.hangs, state.power_ups, state.buttons) == (255, 4, 0, 0)
    assert state.alarms == Alarm.NOT_DOWN | Alarm.POWER
    assert keep(state).alarms == state.alarms and keep(state).starts_lost == 1


def test_one_power_cut_in_a_run_is_no_alarm() -> None:
    assert boot(DoorSettings(), KeptOver(starts_lost=1), int(Reset.POWER_UP)).alarms == 0
