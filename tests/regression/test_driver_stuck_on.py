"""A motor driver that stays on was not noticed until the next move: the switches move with the motor off."""

from __future__ import annotations

from sunsched.controller.decision import DoorDecision
from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import DayRow, Inputs
from sunsched.controller.words import Alarm, Drive
from tests.controller.broken_nights import nights_with

DAY = 9_862
ROW = DayRow(open_min=420, close_min=1080, midnight_min=1440, facts=15)


def _at_night() -> DoorDecision:
    """A door that is down, by its switch, in the night."""
    program = DoorDecision(DoorSettings(), lambda day: ROW if day >= DAY else None)
    for second in range(300):
        program.step(Inputs(DAY, 1300 + second // 60, 5, bottom=1))
    return program


def _say(program: DoorDecision, seconds: int, top: int, bottom: int) -> list[int]:
    return [program.step(Inputs(DAY, 1310, 5, top=top, bottom=bottom)).drive for _ in range(seconds)]


def test_it_is_alarmed_at_once_and_the_motor_left_alone() -> None:
    program = _at_night()
    drives = _say(program, 4, top=0, bottom=0) + _say(program, 11, top=1, bottom=0)
    assert program.step(Inputs(DAY, 1310, 5, top=1)).alarms & Alarm.DRIVER
    assert set(drives + _say(program, 600, top=1, bottom=0)) == {int(Drive.HALT)}


def test_a_plate_that_falls_when_its_cord_breaks_is_no_driver() -> None:
    program = DoorDecision(DoorSettings(), lambda day: ROW if day >= DAY else None)
    for second in range(300):
        program.step(Inputs(DAY, 700 + second // 60, 700, top=1))
    for _ in range(30):
        out = program.step(Inputs(DAY, 706, 700, bottom=1))
    assert out.alarms & Alarm.MOVED and not out.alarms & Alarm.DRIVER


def test_stuck_on_lowering_is_said_while_it_happens() -> None:
    for verdict in nights_with("driver stuck on lowering"):
        assert verdict.alarms & Alarm.DRIVER
        # the closing is about 5.8 h after 13:00 in these days; the driver sticks as it ends
        assert verdict.alarm_after_h <= 6.2
