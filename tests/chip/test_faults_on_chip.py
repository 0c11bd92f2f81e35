"""Faults and the keeper's hand on the emulated chip: what it does, and that the computer's build does the same."""

from __future__ import annotations

import ctypes as C
import datetime as dt

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.chip import emulated, sites
from tests.chip.runs import settings_of

NAME, YEAR, DATE = "larch_end", 2027, dt.date(2027, 4, 11)
NOON_S = 12 * 3600
BRIGHT, DARK = 900, 5
HAND_UP, HAND_DOWN = 0x04, 0x08
CHIP_S = 0.1  # what the program's own work and the steps of the door's model add to a run's seconds


def light(counts: int, seconds: int) -> NDArray[np.uint16]:
    return np.full(seconds, counts, np.uint16)


def settled(second: int = NOON_S) -> emulated.Life:
    """A life whose door has been raised after power-up."""
    life = emulated.Life(NAME, YEAR, DATE, second)
    life.run(light(BRIGHT, 200))
    assert life.height_mm > 340
    return life


def agree(life: emulated.Life) -> None:
    assert life.state.differing == 0
    assert life.chip_log == life.host_log
    assert not life.memories_differ
    life.end()


def press(life: emulated.Life, hand: int, then_s: int = 0) -> None:
    """The keeper holds a hand switch for three seconds and waits."""
    life.state.hand_pins = hand
    life.run(light(BRIGHT, 3))
    life.state.hand_pins = 0
    life.run(light(BRIGHT, then_s))


def hold_the_machine_to_its_limits(life: emulated.Life, stalled_s: float = 1.0) -> None:
    """By the direction pins and the door: never both, rest before a turn, no run or cord too long, no long stall."""
    settings, pins, door = settings_of(NAME), life.state.drive, life.state.door
    assert pins.runs > 0 and pins.both == 0
    assert pins.least_turn_s == -1 or pins.least_turn_s >= settings.dead_s
    assert pins.longest_raise_s <= settings.up_cutoff_s + CHIP_S
    assert pins.longest_lower_s <= settings.down_budget_s + CHIP_S
    assert door.most_paid_mm <= door.cord_mm
    assert door.stalled_s <= stalled_s


def logged(life: emulated.Life, event: str) -> list[list[str]]:
    rows = [line.split(",") for line in life.chip_log.splitlines()]
    return [row for row in rows if len(row) == 8 and row[2] == event]


def test_a_hand_lowers_and_raises_at_once() -> None:
    life = settled()
    life.state.hand_pins = 0x08
    life.run(light(BRIGHT, 3))
    life.state.hand_pins = 0
    life.run(light(BRIGHT, 30))
    assert life.height_mm < 5
    assert logged(life, "move")[-1][5:7] == ["lower", "hand"]
    life.state.hand_pins = 0x04
    life.run(light(BRIGHT, 3))
    life.state.hand_pins = 0
    life.run(light(BRIGHT, 30))
    assert life.height_mm > 340
    agree(life)


@pytest.mark.parametrize("after_s", [1, 4, 8])
def test_a_power_cut_while_lowering_is_made_good(after_s: int) -> None:
    life = settled()
    life.state.hand_pins = 0x08
    life.run(light(BRIGHT, 3))
    life.state.hand_pins = 0
    life.run(light(BRIGHT, after_s))
    life.power_cut()
    assert life.state.door.driven_s > 0
    life.run(light(BRIGHT, 300))
    assert life.height_mm > 340
    # never more cord than the spool holds, and both builds took the same way
    assert life.state.door.most_paid_mm < 884
    agree(life)


def test_without_a_pulse_the_chip_counts_its_own_seconds() -> None:
    life = settled()
    life.clock_fault(halted=True)
    down_before = life.asleep_cycles(2)
    life.run(light(BRIGHT, 900))
    assert abs(int(life.state.steps) - int(life.state.seconds)) <= 2
    assert life.asleep_cycles(2) - down_before < 3 * 16_000_000
    assert logged(life, "alarm")[-1][7] == "clock_step"
    life.clock_fault(halted=False)
    steps = int(life.state.steps)
    life.run(light(BRIGHT, 60))
    assert abs(int(life.state.steps) - steps - 60) <= 1
    agree(life)


def test_a_clock_off_the_bus_is_noticed_and_the_own_count_carries_on() -> None:
    life = settled()
    life.clock_fault(absent=True)
    life.run(light(BRIGHT, 300))
    assert logged(life, "alarm")[-1][7] == "clock_step"
    assert life.height_mm > 340
    agree(life)


def test_a_clock_that_has_stopped_is_not_believed_until_it_is_set() -> None:
    life = emulated.Life(NAME, YEAR, DATE, NOON_S)
    life.clock_fault(stopped=True)
    life.power_cut()
    life.run(light(BRIGHT, 60))
    assert logged(life, "start")[-1][:2] == ["", ""]
    life.say("t 2027-04-11 12:02:00\r")
    life.run(light(BRIGHT, 120))
    assert logged(life, "clock")[-1][0] == "2027-04-11"
    life.power_cut()
    life.run(light(BRIGHT, 5))
    assert logged(life, "start")[-1][0] == "2027-04-11"
    agree(life)


def test_what_is_not_understood_gets_a_remark() -> None:
    life = settled()
    life.say("\r")
    life.say("t 2027-02-29 12:00:00\r")
    life.say("x\r")
    life.say("s\r")
    life.run(light(BRIGHT, 5))
    assert life.chip_log.count("# ready") == 1
    assert life.chip_log.count("# what: t YYYY-MM-DD HH:MM:SS") == 2
    assert logged(life, "quarter")
    assert life.chip_log == life.host_log
    life.end()


def test_an_end_switch_cuts_the_motor_between_two_steps() -> None:
    """The plate stands where its switch made, within the run-on of a tenth of a second, not of a whole one."""
    life = settled()
    # 350 mm of travel, the switch makes 2 mm below the stop; raising at 100 mm/s would pass it in a tenth
    assert life.state.door.stalled_s == 0
    life.end()


def test_a_lower_switch_that_never_makes_ends_on_the_budget_and_raises_alarm() -> None:
    life = settled()
    life.state.door.bottom_stuck = 1
    life.state.hand_pins = 0x08
    life.run(light(BRIGHT, 3))
    life.state.hand_pins = 0
    life.run(light(BRIGHT, 900))
    assert life.state.door.most_paid_mm < 884
    assert "not_down" in logged(life, "alarm")[-1][7]
    agree(life)


def test_the_watch_over_the_pins_sees_what_must_never_be() -> None:
    watch, see = emulated.DriveWatch(least_turn_s=-1.0), emulated.bench(NAME, YEAR).drive_watch_see
    for raised, lowered, at_s in ((1, 0, 10.0), (0, 0, 14.0), (0, 1, 15.5), (1, 1, 18.0), (0, 0, 18.1)):
        see(C.byref(watch), raised, lowered, C.c_double(at_s))
    assert (watch.longest_raise_s, watch.longest_lower_s, watch.least_turn_s) == (4.0, 2.5, 1.5)
    assert (watch.runs, watch.both) == (2, 1)


def test_wires_reversed_at_the_first_power_up_halt_the_door_within_seconds() -> None:
    life = emulated.Life(NAME, YEAR, DATE, NOON_S)
    life.state.door.wires_swapped = 1
    life.run(light(BRIGHT, 900))
    assert logged(life, "alarm")[-1][7] == "wrong_way"
    assert life.state.drive.runs == 1 and life.state.drive.longest_raise_s < settings_of(NAME).leave_s + CHIP_S
    hold_the_machine_to_its_limits(life)
    agree(life)


def test_wires_reversed_later_end_with_the_door_down_and_a_halt_that_a_hand_ends() -> None:
    """Lowering raises: the plate is up already, so the motor pulls at the stop for one run of the cut-off."""
    life = settled()
    life.state.door.wires_swapped = 1
    press(life, HAND_DOWN, 400)
    assert life.height_mm < 5
    assert logged(life, "alarm")[-1][7] == "not_down+wrong_way"
    runs, driven_s = life.state.drive.runs, life.state.door.driven_s
    life.run(light(BRIGHT, 1100))
    assert life.state.drive.runs == runs and life.state.door.driven_s == driven_s
    hold_the_machine_to_its_limits(life, stalled_s=settings_of(NAME).down_budget_s)
    life.state.door.wires_swapped = 0
    press(life, HAND_UP, 200)
    assert life.height_mm > 340
    agree(life)


@pytest.mark.parametrize("jam_mm", [290, 175, 30])
def test_a_jammed_plate_is_tried_three_times_and_lowered_once_it_is_free(jam_mm: int) -> None:
    life = settled()
    settings = settings_of(NAME)
    life.state.door.jam_mm = jam_mm
    press(life, HAND_DOWN, settings.tries * (settings.down_budget_s + settings.up_cutoff_s + 2 * settings.retry_s))
    assert life.height_mm == jam_mm
    assert logged(life, "alarm")[-1][7] == "not_down"
    lowered_for_s = life.state.door.driven_s
    assert life.state.drive.runs == 2 * settings.tries  # raised at first; lowered thrice, lifted twice
    assert lowered_for_s <= settings.tries * (settings.down_budget_s + settings.up_cutoff_s)
    life.run(light(BRIGHT, 600))
    assert life.state.door.driven_s == lowered_for_s
    life.state.door.jam_mm = 0
    press(life, HAND_UP, 100)
    assert life.height_mm > 340
    press(life, HAND_DOWN, 100)
    assert life.height_mm < 5
    assert logged(life, "alarm")[-1][7] == ""
    hold_the_machine_to_its_limits(life)
    agree(life)


def test_both_switches_made_leave_the_door_moving_by_time() -> None:
    life = settled()
    settings = settings_of(NAME)
    life.state.door.top_stuck = life.state.door.bottom_stuck = 2
    press(life, HAND_DOWN, 300)
    assert life.height_mm < 5
    assert logged(life, "alarm")[-1][7] == "switches"
    # by time: what the travel needs and two seconds of slack, not the whole cut-off
    assert life.state.drive.longest_lower_s <= settings.down_nominal_s + 2 + CHIP_S
    press(life, HAND_UP, 300)
    assert life.height_mm > 340
    assert life.state.drive.runs == 3
    hold_the_machine_to_its_limits(life, stalled_s=3)
    agree(life)


def test_an_upper_switch_that_never_makes_ends_each_raise_by_time() -> None:
    life = settled()
    press(life, HAND_DOWN, 100)
    life.state.door.top_stuck = 1
    for _ in range(2):
        press(life, HAND_UP, 200)
        assert life.height_mm > 340
        assert logged(life, "alarm")[-1][7] == "not_up"
        press(life, HAND_DOWN, 200)
        assert life.height_mm < 5
    assert life.state.drive.runs == 6
    # each raise pulls at the stop for what its cut-off is longer than the way
    hold_the_machine_to_its_limits(life, stalled_s=6)
    agree(life)


@pytest.mark.parametrize(("counts", "raised"), [(590, True), (570, False)])
def test_a_low_battery_still_raises_and_a_spent_one_only_lowers(counts: int, raised: bool) -> None:
    """11.5 and 11.1 V behind the divider of four, 1024 counts of 5 V; low is 11.8, spent 11.3."""
    plan = sites.built(NAME, YEAR).plan
    row = plan.row(DATE)
    close_s, open_s = int(plan.close_min[row]) * 60, 86_400 + int(plan.open_min[row + 1]) * 60
    life = settled(close_s - 900)
    life.state.battery_counts = counts
    life.run(np.linspace(BRIGHT, DARK, 900).astype(np.uint16))
    assert logged(life, "alarm")[-1][7] == "battery"
    life.run(light(DARK, 900))
    assert life.height_mm < 5
    life.run(light(DARK, open_s - 3600 - close_s - 1100))
    life.run(np.linspace(DARK, BRIGHT, 3600).astype(np.uint16))
    life.run(light(BRIGHT, 1800))
    assert (life.height_mm > 340) == raised
    moves = logged(life, "move")
    assert [move[5] for move in moves] == ["raise", "lower", *(["raise"] if raised else [])]
    assert all("battery" in move[7] for move in moves[1:])
    # a hand raises it all the same
    press(life, HAND_UP, 100)
    assert life.height_mm > 340
    hold_the_machine_to_its_limits(life)
    agree(life)
