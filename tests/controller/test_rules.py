"""The rules of the page one by one, on the twin: orders, the keeper's setting, the second chance, no clock at all."""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from functools import cache

import pytest

from sunsched.controller.decision import DoorDecision
from sunsched.controller.door_settings import NEVER_COUNTS, DoorSettings, door_settings, short_shows_by_day
from sunsched.controller.door_state import DayRow, Inputs, KeptOver, Outputs, Outside
from sunsched.controller.words import Alarm, Door, Kept, TimeBy, Want, Why, alarm_words
from sunsched.hardware.drive import drive_constants
from sunsched.hardware.light_cell import divider_counts
from sunsched.hardware.parts import ClockSource, LightCell, Motor, Spool
from sunsched.hardware.parts import Door as DoorParts
from sunsched.plan.rules import MomentRule, Rules

DAY = 9_862
ROW = DayRow(open_min=420, close_min=1080, midnight_min=1470, facts=15)
BRIGHT, DARK, DIM = 700, 5, 140
NATURAL_FALL = (500, 400, 380, 360, 340, 320, 300, 280, 260, 240, 220, 200, 180, 160, 140, 120, 100, 60, 20)


class Keeper:
    """A twin with a door that moves at once, lived through minute by minute."""

    def __init__(
        self,
        settings: DoorSettings | None = None,
        kept: KeptOver | None = None,
        minute: int = 720,
        ends: int = 65_536,
    ) -> None:
        def row_of(day: int) -> DayRow | Outside | None:
            if day < DAY:
                return None
            return ROW if day < ends else Outside()

        self.program = DoorDecision(settings or DoorSettings(), row_of, kept)
        self.now = minute
        self.cord_s = 0
        self.out = Outputs()

    def live(self, minutes: int, counts: int | Callable[[int], int] = BRIGHT, **inputs: int) -> list[Outputs]:
        """Steady inputs for so many minutes; `clock_off` is added to the clock, the keeper presses long enough."""
        off = inputs.pop("clock_off", 0)
        said = []
        for _ in range(minutes):
            clock = DAY * 1440 + self.now + off
            light = counts(self.now) if callable(counts) else counts
            for second in range(60):
                one = Inputs(clock // 1440, clock % 1440, light, **inputs)
                one.top, one.bottom = int(self.cord_s <= 0), int(self.cord_s >= 9)
                self.out = self.program.step(one)
                self.cord_s = max(0, self.cord_s - 3) if self.out.drive == 1 else self.cord_s + (self.out.drive == 2)
                inputs.pop("clock_set", 0)
                if second == self.program.settings.hand_hold_s - 1:
                    inputs.pop("hand", 0)
            said.append(self.out)
            self.now += 1
        return said

    def until(self, minute: int, counts: int | Callable[[int], int] = BRIGHT, **inputs: int) -> list[Outputs]:
        """Until a minute of the running count (0 is the first day's midnight)."""
        return self.live(minute - self.now, counts, **inputs)


def day_and_night(minute: int) -> int:
    """Bright by day, a natural half hour of dusk about the closing and of dawn about the opening."""
    of_day = minute % 1440
    for moment, rising in ((1080, False), (420, True)):
        place = of_day - moment + 16
        if 0 <= place < 19:
            return NATURAL_FALL[18 - place] if rising else NATURAL_FALL[place]
    return BRIGHT if 423 <= of_day < 1064 else DARK


@cache
def _lived_keeper() -> Keeper:
    keeper = Keeper()
    keeper.until(1440 + 720, day_and_night)
    assert keeper.program.state.proven == 1
    return keeper


def proven_keeper() -> Keeper:
    """One who has lived through a night, so that the clock is proven."""
    return deepcopy(_lived_keeper())


@pytest.mark.parametrize(("by_min", "asks"), [(20, False), (21, True), (-20, False), (-21, True), (600, True)])
def test_a_setting_beyond_twenty_minutes_is_asked_about(by_min: int, asks: bool) -> None:
    keeper = proven_keeper()
    keeper.live(1, clock_off=by_min, clock_set=1)
    assert bool(keeper.out.alarms & Alarm.CLOCK_STEP) is asks
    expected = keeper.now - 1440 + (0 if asks else by_min)
    assert abs(keeper.out.own_min - (expected - 1)) <= 1
    assert keeper.program.state.proven == int(asks)


def test_insisting_within_ten_minutes_takes_the_setting() -> None:
    keeper = proven_keeper()
    keeper.live(5, clock_off=60, clock_set=1)
    keeper.live(1, clock_off=60, clock_set=1)
    assert keeper.out.own_min == (keeper.now - 1 + 60) % 1440
    assert keeper.out.time == TimeBy.CLOCK


def test_insisting_after_ten_minutes_is_asked_again() -> None:
    keeper = proven_keeper()
    keeper.live(11, clock_off=60, clock_set=1)
    keeper.live(1, clock_off=60, clock_set=1)
    assert keeper.out.own_min == (keeper.now - 1) % 1440
    assert keeper.out.alarms & Alarm.CLOCK_STEP


@pytest.mark.parametrize(
    ("start", "wanted"),
    [(300, Want.DOWN), (600, Want.UP), (1077, Want.UP), (1079, Want.DOWN), (1300, Want.DOWN)],
)
def test_power_up_wants_the_right_place_at_any_minute(start: int, wanted: Want) -> None:
    """The cell is not proven at a first power-up: the clock alone decides."""
    keeper = Keeper(minute=start)
    said = keeper.live(3, day_and_night)
    assert said[-1].want == wanted
    assert said[-1].time == TimeBy.CLOCK


def test_nothing_moves_before_the_confirmation() -> None:
    keeper = Keeper(minute=600)
    said = [keeper.program.step(Inputs(DAY, 600, BRIGHT)) for _ in range(99)]
    assert {out.want for out in said} == {int(Want.STAY)}
    assert {out.drive for out in said} == {0}


def test_dusk_in_the_window_closes_and_a_lamp_does_not_open() -> None:
    keeper = proven_keeper()
    said = keeper.until(1440 + 1090, day_and_night)
    assert said[-1].reason == Why.DUSK and said[-1].door == Door.DOWN
    said = keeper.until(1440 + 1440 + 405, BRIGHT)
    assert {out.want for out in said} == {int(Want.DOWN)}


def test_dark_before_the_window_is_ignored() -> None:
    keeper = proven_keeper()
    said = keeper.until(1440 + 1069, lambda minute: DARK if minute > 1440 + 800 else BRIGHT)
    assert {out.want for out in said} == {int(Want.UP)}
    assert keeper.out.alarms & Alarm.CELL


def test_a_hand_wins_until_the_next_planned_move() -> None:
    keeper = proven_keeper()
    keeper.live(1, day_and_night, hand=2)
    said = keeper.until(1440 + 1060, day_and_night)
    assert {(out.want, out.reason) for out in said} == {(int(Want.DOWN), int(Why.HAND))}
    keeper.until(2 * 1440 + 460, day_and_night)
    assert keeper.out.door == Door.UP and keeper.out.reason == Why.DAWN


def test_a_hand_opening_at_night_lasts_half_an_hour() -> None:
    keeper = proven_keeper()
    keeper.until(1440 + 1200, day_and_night)
    said = keeper.live(1, day_and_night, hand=1) + keeper.live(40, day_and_night)
    up = [out.want == Want.UP for out in said]
    assert up[:29] == [True] * 29 and not any(up[32:])


def test_keep_shut_holds_a_lowered_door_and_leaves_a_raised_one() -> None:
    keeper = proven_keeper()
    said = keeper.live(60, day_and_night, keep_shut=1)
    assert {out.door for out in said} == {int(Door.UP)}
    keeper.until(2 * 1440 + 500, day_and_night, keep_shut=1)
    assert keeper.out.door == Door.DOWN and keeper.out.reason == Why.KEEP_SHUT
    keeper.live(2, day_and_night, keep_shut=1, hand=1)
    assert keeper.out.want == Want.UP
    keeper.live(40, day_and_night, keep_shut=1)
    assert keeper.out.want == Want.DOWN
    keeper.live(2, day_and_night)
    assert keeper.out.want == Want.UP


def test_a_spent_battery_lowers_but_does_not_raise_for_a_day() -> None:
    keeper = proven_keeper()
    keeper.until(1440 + 1100, day_and_night, battery=2)
    assert keeper.out.door == Door.DOWN and keeper.out.alarms & Alarm.BATTERY
    keeper.until(2 * 1440 + 900, day_and_night, battery=2)
    assert keeper.out.door == Door.DOWN and keeper.out.reason == Why.BATTERY
    keeper.until(4 * 1440 + 900, day_and_night, battery=2)
    assert keeper.out.door == Door.UP


def test_the_second_chance_raises_once_for_its_time() -> None:
    keeper = proven_keeper()
    keeper.program.settings = DoorSettings(reopen_s=180)
    said = keeper.until(1440 + 1200, day_and_night)
    chance = [minute for minute, out in enumerate(said) if out.reason == Why.SECOND_CHANCE]
    dusk = next(minute for minute, out in enumerate(said) if out.reason == Why.DUSK)
    assert chance == list(range(chance[0], chance[0] + 3)) and chance[0] - dusk in (9, 10)
    assert all(out.want == Want.DOWN for out in said[chance[-1] + 1 :])


def test_no_second_chance_unless_asked_for() -> None:
    keeper = proven_keeper()
    said = keeper.until(1440 + 1200, day_and_night)
    assert not [out for out in said if out.reason == Why.SECOND_CHANCE]


def test_a_chip_without_a_clock_learns_the_hour_from_one_night() -> None:
    """The stored hour is two hours slow after a cut; the night's midpoint gives the hour back, without an alarm."""
    clockless = DoorSettings(clock_fitted=0)
    kept = KeptOver(0, DAY, 0, 10, int(Kept.CELL_GOOD | Kept.STAMP | Kept.WIRING_PROVEN))
    keeper = Keeper(clockless, kept, minute=720)
    keeper.live(30, day_and_night, clock_valid=0)
    assert keeper.out.alarms == Alarm.CLOCK_LOST and keeper.out.time == TimeBy.LIGHT
    keeper.until(1440 + 720, day_and_night, clock_valid=0)
    assert keeper.out.time == TimeBy.OWN_COUNT and keeper.out.alarms == 0
    # the dusk and dawn of this sky are five minutes lopsided: dark at 18:00, bright at 06:51, middle 00:25
    assert abs(keeper.out.own_min - 719) <= 6
    said = keeper.until(1440 + 1100, day_and_night, clock_valid=0)
    assert said[-1].reason == Why.DUSK


def test_settings_of_the_configuration() -> None:
    cell = LightCell()
    rules = Rules(morning=MomentRule(), evening=MomentRule(depression_deg=4.5, cell_from_min=-10, cell_until_min=15))
    made = door_settings(rules, cell, ClockSource(), drive_constants(DoorParts(), Spool(), Motor()))
    levels = [int(divider_counts(lux, 50_000, 0.7, 100_000)) for lux in (0.5, 5, 15, 30, 60, 600)]
    chosen = (made.night_counts, made.dark_counts, made.bright_counts, made.hold_counts, made.dusk_counts)
    assert [*chosen, made.lamp_counts] == levels
    assert (made.evening_from_min, made.evening_until_min, made.morning_from_min) == (-10, 15, 0)
    # full Sun itself reads the top count on 100 kohm: a rail there says nothing by day
    assert (made.rail_counts, made.sun_at_rail) == (1020, 1) and not short_shows_by_day(cell)
    assert (made.dead_s, made.down_budget_s, made.up_cutoff_s, made.lower_percent) == (2, 16, 10, 40)
    small = door_settings(rules, LightCell(fixed_ohm=10_000), ClockSource(source="none"))
    assert (small.rail_counts, small.sun_at_rail, small.clock_fitted) == (1020, 0, 0)
    assert small.own_trust_min == 4 * 1440
    lux = door_settings(rules, LightCell(kind="lux"), ClockSource())
    assert (lux.dark_counts, lux.night_counts, lux.bright_counts, lux.rail_counts) == (5, 1, 15, NEVER_COUNTS)


def test_alarm_words() -> None:
    assert alarm_words(Alarm.CELL | Alarm.CLOCK_STEP) == ("clock_step", "cell")
    # neither time nor light
    assert alarm_words(Alarm.CELL | Alarm.CLOCK_LOST) == ("clock_lost", "cell", "no_witness")
    assert alarm_words(Alarm.CELL | Alarm.NO_TABLE) == ("cell", "no_witness", "no_table")


def test_a_day_that_no_table_serves_is_light_alone_with_the_clock_still_followed() -> None:
    keeper = Keeper(ends=DAY + 2)
    said = keeper.until(1440 + 1430, day_and_night)
    assert not any(out.alarms & Alarm.NO_TABLE for out in said)
    said = keeper.until(2 * 1440 + 1430, day_and_night)
    # the last night's cycle ends at the first noon that no table knows
    assert all(out.alarms & Alarm.NO_TABLE for out in said[-670:])
    assert {out.time for out in said} == {int(TimeBy.CLOCK)}
    # the morning's decision stands until the light's own dusk
    assert [(out.want, Why(out.reason)) for out in (said[-670], said[-1])] == [
        (Want.UP, Why.DAWN),
        (Want.DOWN, Why.LIGHT_ALONE),
    ]
    assert not said[-1].alarms & (Alarm.CLOCK_LOST | Alarm.CLOCK_STEP)


def test_a_chip_whose_tables_are_over_says_so_from_its_first_minute() -> None:
    keeper = Keeper(ends=DAY)
    keeper.live(2)
    assert keeper.out.alarms & Alarm.NO_TABLE
    assert keeper.out.time == TimeBy.CLOCK
