"""What must hold whatever comes in: the same properties on the Python twin and on the compiled core."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sunsched.base.civil_time import DAY_MIN
from sunsched.controller.decision import step
from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import NO_MINUTE, DayRow, Inputs, KeptOver, boot
from sunsched.controller.words import Door, Drive, Want, Why
from tests.controller.core_library import core_library
from tests.controller.stress import FIRST_DAY
from tests.controller.test_core_matches_twin import KEPT, constants, rows, seconds
from tests.controller.trial_runner import CoreRunner, use_table
from tests.controller.twin_and_core import Table, booted, core_seconds
from tests.controller.vectors import place, weather
from tests.trials.fault_nights import World, healthy_world

Seconds = list[tuple[int, int, int]]  # drive, duty, cord paid out [s] of each second
Run = Callable[[DoorSettings, Table, Sequence[Inputs], KeptOver | None], Seconds]


def on_the_twin(chosen: DoorSettings, table: Table, inputs: Sequence[Inputs], kept: KeptOver | None) -> Seconds:
    state = boot(chosen, kept)
    said = []
    for one in inputs:
        out = step(state, chosen, table, one)
        said.append((out.drive, out.duty, state.paid_s))
    return said


def on_the_core(chosen: DoorSettings, table: Table, inputs: Sequence[Inputs], kept: KeptOver | None) -> Seconds:
    library = core_library()
    outs, states = core_seconds(chosen, table, inputs, booted(chosen, kept, library), library)
    return [(out.drive, out.duty, state.paid_s) for out, state in zip(outs, states, strict=True)]


def runs_of(said: Seconds) -> list[tuple[int, int, int]]:
    """The drive's runs: (drive, first second, seconds)."""
    found: list[tuple[int, int, int]] = []
    for second, (drive, _, _) in enumerate(said):
        if drive == Drive.HALT:
            continue
        if found and found[-1][0] == drive and found[-1][1] + found[-1][2] == second:
            found[-1] = (drive, found[-1][1], found[-1][2] + 1)
        else:
            found.append((drive, second, 1))
    return found


@pytest.mark.parametrize("run", [on_the_twin, on_the_core])
@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(chosen=constants(), days=rows(), inputs=seconds(), kept=KEPT)
def test_the_drive(
    run: Run, chosen: DoorSettings, days: list[DayRow], inputs: list[Inputs], kept: KeptOver | None
) -> None:
    said = run(chosen, Table(days, FIRST_DAY), inputs, kept)
    assert all(drive in (Drive.HALT, Drive.UP, Drive.DOWN) for drive, _, _ in said), "one direction or none"
    duty_of = {Drive.HALT: 0, Drive.UP: chosen.up_duty, Drive.DOWN: chosen.down_duty}
    assert all(duty == duty_of[Drive(drive)] for drive, duty, _ in said)
    assert all(drive == Drive.HALT for drive, _, _ in said[: chosen.start_rest_s]), "motor off at reset"
    runs = runs_of(said)
    for drive, _, long_s in runs:
        assert long_s <= (chosen.up_cutoff_s if drive == Drive.UP else chosen.down_budget_s), "cut-off"
    for (_, start, long_s), (_, following, _) in pairwise(runs):
        assert following - (start + long_s) >= chosen.dead_s, "dead time between any two runs"
    lowered = 0
    for drive, _, long_s in runs:
        lowered = 0 if drive == Drive.UP else lowered + long_s
        assert lowered <= chosen.down_budget_s, "never lowered past the budget without a raise between"
    assert all(paid <= chosen.down_budget_s for _, _, paid in said)


def _night_world(light: np.ndarray, day: int) -> World:
    """From noon of `day` to the noon after the next: healthy until the closing, `light` counts from there on."""
    year = weather("52 N")
    start = day * DAY_MIN + DAY_MIN // 2
    world = healthy_world(year, start, start + 2 * DAY_MIN)
    at = int(place("52 N").close_min[day]) - start
    world["counts"][at : at + len(light)] = light
    return world


def _proven_runner(day: int) -> CoreRunner:
    """A door that has lived three healthy days and stands at noon of `day`."""
    year = weather("52 N")
    runner = CoreRunner(DoorSettings(morning_until_min=15))
    runner.run(healthy_world(year, (day - 3) * DAY_MIN + DAY_MIN // 2, day * DAY_MIN + DAY_MIN // 2))
    assert runner.state.proven == 1
    return runner


nights_of_light = st.lists(st.tuples(st.integers(1, 120), st.integers(0, 1023)), min_size=1, max_size=40)


@settings(max_examples=60, deadline=None)
@given(spells=nights_of_light, day=st.integers(5, 355))
def test_down_till_morning_whatever_the_lamp(spells: list[tuple[int, int]], day: int) -> None:
    """Whatever the light does from the closing on: down by the window's end, and down until the morning's window."""
    here = place("52 N")
    rows_alive = use_table(here.rows, here.first_day)
    start = day * DAY_MIN + DAY_MIN // 2
    close, opening = int(here.close_min[day]) - start, int(here.open_min[day + 1]) - start
    light = np.concatenate([np.full(minutes, counts) for minutes, counts in spells])
    world = _night_world(light[: opening - 11 - close], day)
    history = _proven_runner(day).run(world)
    del rows_alive
    wants = history["want"]
    assert (wants[close + 15 : opening - 11] == Want.DOWN).all()
    first_down = int(np.flatnonzero(wants[close - 30 :] == Want.DOWN)[0]) + close - 30
    assert first_down >= close - 11
    assert (wants[first_down : opening - 11] == Want.DOWN).all()
    assert (history["plate_mm"][close + 17 : opening - 11] >= 349).all()


@settings(max_examples=40, deadline=None)
@given(day=st.integers(5, 355), at=st.integers(0, DAY_MIN - 1), long_min=st.integers(1, 300))
def test_a_power_cut_at_any_minute(day: int, at: int, long_min: int) -> None:
    """Ten minutes after the power is back the door is wanted where it is without the cut, outside both windows."""
    here = place("52 N")
    rows_alive = use_table(here.rows, here.first_day)
    start = day * DAY_MIN + DAY_MIN // 2
    world = healthy_world(weather("52 N"), start, start + 2 * DAY_MIN)
    runner = _proven_runner(day)
    plain = runner.copy().run(world)
    world["power"][at : at + long_min] = 0
    cut = runner.run(world)
    del rows_alive
    minutes = np.arange(len(cut))
    near = np.zeros(len(cut), dtype=bool)
    for row in (day, day + 1, day + 2):
        for moment in (int(here.close_min[row]) - start, int(here.open_min[row]) - start):
            near |= (minutes > moment - 15) & (minutes < moment + 30)
    after = (minutes >= at + long_min + 10) & ~near
    assert (cut["want"][after] == plain["want"][after]).all()
    assert (cut["door"][after] == plain["door"][after]).all()


@settings(max_examples=40, deadline=None)
@given(spells=nights_of_light, day=st.integers(5, 355))
def test_without_windows_the_clock_alone_decides(spells: list[tuple[int, int]], day: int) -> None:
    """Both minutes of a window 0: no light whatever moves the door by a minute, and no cell alarm is raised."""
    here = place("52 N")
    rows_alive = use_table(here.rows, here.first_day)
    start = day * DAY_MIN + DAY_MIN // 2
    world = healthy_world(weather("52 N"), start, start + DAY_MIN)
    light = np.concatenate([np.full(minutes, counts) for minutes, counts in spells])
    world["counts"] = np.resize(light, len(world))
    alone = DoorSettings(evening_from_min=0, evening_until_min=0, morning_from_min=0, morning_until_min=0)
    history = CoreRunner(alone).run(world)
    del rows_alive
    close, opening = int(here.close_min[day]) - start, int(here.open_min[day + 1]) - start
    expected = np.full(len(history), int(Want.UP))
    expected[close:opening] = Want.DOWN
    assert (history["want"][3:] == expected[3:]).all()
    assert (history["alarms"] == 0).all()


def test_a_day_kept_in() -> None:
    """A row without minutes keeps the door down from the night before to the morning after."""
    day = DayRow(420, 1080, 1440, 15)
    kept_in = DayRow(NO_MINUTE, NO_MINUTE, 1440, 3)
    table = [day, day, kept_in, day, day]
    rows_alive = use_table(table, FIRST_DAY)
    world = healthy_world(weather("52 N"), 720, 4 * DAY_MIN)
    world["clock"] = FIRST_DAY * DAY_MIN + 720 + np.arange(len(world))
    world["counts"] = np.where((world["clock"] % DAY_MIN > 410) & (world["clock"] % DAY_MIN < 1085), 900, 2)
    history = CoreRunner(DoorSettings()).run(world)
    del rows_alive
    minute = world["clock"][:-1] - FIRST_DAY * DAY_MIN
    shut = (minute >= DAY_MIN + 1090) & (minute < 3 * DAY_MIN + 400)
    assert (history["want"][shut] == Want.DOWN).all()
    noon_on = (minute > 2 * DAY_MIN + 420) & (minute < 2 * DAY_MIN + 1080)
    assert set(history["reason"][noon_on].tolist()) == {int(Why.KEPT_IN)}
    by_day = (minute > 3 * DAY_MIN + 440) & (minute < 3 * DAY_MIN + 1000)
    assert (history["door"][by_day] == Door.UP).all()
