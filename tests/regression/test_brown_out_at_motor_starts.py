"""A supply too weak for the motor reset the chip at each start: 4,670 starts in nine days, and never an alarm."""

from __future__ import annotations

from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import KeptOver, boot, keep
from sunsched.controller.words import Alarm, Reset
from tests.controller.broken_nights import nights_with

ONE_SUPPLY = "supply browns out at each motor start"


def test_starts_become_rare_and_the_alarm_outlives_every_reset() -> None:
    for verdict in nights_with(ONE_SUPPLY):
        # the waits of rule G4: 3 starts a minute apart, 8 every 15 min, 8 every 30 min (6 h in all), then every hour
        assert verdict.machine["starts"] <= 3 + 8 + 8 + (24 * 9 - 6)
        assert verdict.alarms & Alarm.POWER
        # said at the second start in the evening: the fault itself begins at 13:00
        assert verdict.alarm_after_h <= 8


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
