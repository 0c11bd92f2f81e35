"""A sample of the fault table, by the bounds that the README states. The whole of it: `fault_table.py`."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from sunsched.controller.words import Alarm
from tests.controller.core_library import CORE
from tests.controller.fault_table import CREEP_MIN_A_DAY, healthy_years, site_settings, trials
from tests.controller.trial_runner import TRAVEL_MM, CoreRunner, use_table
from tests.trials.door_world import BIRDS, SITES, door_year, place_of
from tests.trials.fault_invariants import broken, invariants_cell, invariants_line
from tests.trials.fault_list import all_faults
from tests.trials.fault_nights import FAULT_DAYS, Verdict, healthy_world
from tests.trials.fault_report import (
    FLOCK_NIGHT,
    RULES_LEFT_OUT,
    Without,
    ending,
    fault_table,
    healthy_table,
    last_in_line,
    worth_table,
)

DAYS = [80, 250]
FAULTS = {fault.words: fault for fault in all_faults()}
MOTOR_WORDS = [fault.words for fault in all_faults() if fault.group == "machine"]
SURVIVED = (
    "healthy", "lamp 30 lux every evening", "lamp 200 lux day and night", "cell open (reads 0)",
    "cell shorted (reads 1023)", "cell stuck at 600", "clock set +60 min, insisted on",
    "clock set -60 min, insisted on", "clock jumps +60 min", "clock stands still", "clock reset to 2000",
    "clock lost", "clock lost in a 30 min power cut", "lamp 30 lux day and night AND clock lost in a 30 min power cut",
    *(fault.words for fault in all_faults() if fault.group == "long run"),
)  # fmt: skip

LONG_RUNS = {"49.7 days (2^32 ms) without a break": 2**32 / 86_400_000, "180 days without a break": 180.0}
UNALARMED = ("healthy", "lamp 30 lux every evening", *LONG_RUNS)
LYING_SWITCHES = [words for words in MOTOR_WORDS if "switch" in words]
MENDED = ("upper switch made for one sample in each run", "upper switch made for one sample in each raise")


@cache
def _found() -> dict[str, list[Verdict]]:
    words = [*SURVIVED, *MOTOR_WORDS, "cell open (reads 0) AND clock set +60 min, insisted on"]
    return trials("52 N", 700, DAYS, [FAULTS[word] for word in words], site_settings("52 N"))


def test_the_list_has_the_faults_it_should() -> None:
    assert len(FAULTS) == len(all_faults()) >= 60
    assert {fault.group for fault in all_faults()} == {"light", "clock", "long run", "power", "machine", "pair"}


@pytest.mark.parametrize("words", SURVIVED)
def test_no_flock_is_shut_out_and_no_night_left_open(words: str) -> None:
    for verdict in _found()[words]:
        assert verdict.out.max() <= 1
        assert verdict.left_open.sum() == 0
        assert verdict.open_dark_min.max() <= 120


@pytest.mark.parametrize("words", [words for words in SURVIVED if words not in UNALARMED])
def test_every_other_fault_raises_an_alarm_within_a_day(words: str) -> None:
    assert all(verdict.alarm_after_h <= 24 for verdict in _found()[words])


@pytest.mark.parametrize("words", ["healthy", *LONG_RUNS])
def test_a_healthy_door_raises_none(words: str) -> None:
    assert {verdict.alarms for verdict in _found()[words]} == {0}


@pytest.mark.parametrize("words", LONG_RUNS)
def test_the_long_runs_pass_their_length_within_the_judged_nights(words: str) -> None:
    """Every second is simulated; the nights are those of a door five days old."""
    year = door_year(place_of("52 N"), 700)
    for day in DAYS:
        lived = FAULTS[words].run_up(year, day)
        lead_days = (len(lived) - 1) / 1440
        assert lead_days <= LONG_RUNS[words] <= lead_days + FAULT_DAYS
        assert set(np.diff(lived["clock"]).tolist()) == {1}
    for long, short in zip(_found()[words], _found()["healthy"], strict=True):
        assert np.array_equal(long.open_dark_min, short.open_dark_min)
        assert np.array_equal(long.out, short.out) and np.array_equal(long.locked_min, short.locked_min)


def test_what_cannot_be_survived_is_said() -> None:
    """A wrong clock insisted on while the cell is dead: nothing else in the box knows the time."""
    for verdict in _found()["cell open (reads 0) AND clock set +60 min, insisted on"]:
        assert verdict.out[0] == BIRDS
        assert verdict.alarms & Alarm.CELL


@pytest.mark.parametrize("words", MOTOR_WORDS)
def test_the_machine_stays_within_its_limits(words: str) -> None:
    """But for cord that a keeper has strung on backwards, or a driver stuck on pays out: nothing can stop either."""
    settings = site_settings("52 N")
    beyond = "backwards" in words or words == "driver stuck on lowering"
    for verdict in _found()[words]:
        machine = verdict.machine
        assert machine["up_cutoff_s"] == settings.up_cutoff_s and machine["down_budget_s"] == settings.down_budget_s
        assert broken(machine) == (["cord 953 mm beyond the spool"] if beyond else [])


def test_a_limit_that_is_passed_is_named_with_its_measure() -> None:
    held = _found()["healthy"][0].machine
    assert invariants_cell([held]) == "held"
    passed = {
        "both_s": (2.0, "both directions for 2 s"),
        "reversals_too_soon": (3.0, "3 reversals within the dead time"),
        "longest_up_s": (held["up_cutoff_s"] + 4, "raised 4 s beyond the cut-off"),
        "longest_down_s": (held["down_budget_s"] + 5, "lowered 5 s beyond the cut-off"),
        "most_cord_mm": (held["spool_mm"] + 60, "cord 60 mm beyond the spool"),
    }
    for name, (value, words) in passed.items():
        assert invariants_cell([held, held | {name: value}]) == words
    everything = held | {name: value for name, (value, _) in passed.items()}
    assert broken(everything) == [words for _, words in passed.values()]
    assert "all held in 1 runs" in invariants_line([held, everything])


def test_polar_night_and_polar_day_have_their_rows() -> None:
    """Where no night can be learned from, a healthy door and one that has run for half a year still do the same."""
    words = ["healthy", *LONG_RUNS, "clock jumps +60 min", "lower switch never makes"]
    found = trials("69.65 N", 701, [4, 168], [FAULTS[word] for word in words], site_settings("69.65 N"))
    for verdicts in found.values():
        assert sum(verdict.out.sum() for verdict in verdicts) <= 1
        assert all(verdict.left_open.sum() == 0 and broken(verdict.machine) == [] for verdict in verdicts)
    for word in LONG_RUNS:
        assert [verdict.alarms for verdict in found[word]] == [0, 0]
    assert fault_table([FAULTS[word] for word in words], found).count("| held |") == len(words)


@pytest.mark.parametrize("words", LYING_SWITCHES)
def test_lying_switches_stop_no_move(words: str) -> None:
    for verdict in _found()[words]:
        assert verdict.out.sum() == 0 and verdict.left_open.sum() == 0 and verdict.locked_min.max() == 0
        assert words in MENDED or verdict.alarms & (Alarm.NOT_DOWN | Alarm.NOT_UP | Alarm.SWITCHES)


def test_wires_reversed_at_the_first_power_up_are_found_before_the_cord_runs_out() -> None:
    place = place_of("52 N")
    rows = use_table(place.rows, place.first_day)
    world = healthy_world(door_year(place, 3), 80 * 1440 + 720, 84 * 1440)
    world["reversed"] = 1
    for cord_mm in (0.0, 150.0, 360.0):
        runner = CoreRunner(site_settings("52 N"), cord_mm)
        history = runner.run(world)
        facts = runner.machine_facts()
        assert facts["most_cord_mm"] < facts["spool_mm"]
        assert facts["stall_s"] <= 3
        assert history["alarms"][-1] & Alarm.WRONG_WAY
    del rows


def test_half_a_year_without_a_reset_changes_nothing() -> None:
    """Counters that wrap would show after 45.5 days of minutes and 18 h of seconds: all of them stop instead."""
    place = place_of("52 N")
    rows = use_table(place.rows, place.first_day)
    year = door_year(place, 5)
    runner = CoreRunner(site_settings("52 N"))
    history = runner.run(healthy_world(year, 720, 200 * 1440))
    late = CoreRunner(site_settings("52 N")).run(healthy_world(year, 195 * 1440 + 720, 200 * 1440))
    del rows
    assert set(history["alarms"].tolist()) == {0}
    for day in (49, 180):
        close = int(place.close_min[day]) - 720
        assert history["plate_mm"][close - 60] == 0 and history["plate_mm"][close + 20] >= TRAVEL_MM - 1
    assert np.array_equal(history["want"][-3 * 1440 :], late["want"][-3 * 1440 :])


def test_a_clock_that_creeps_all_year_is_followed_by_the_learned_shift_alone() -> None:
    without = next(without for without in RULES_LEFT_OUT if without.rule.startswith("M2"))
    with_it, lacking = (
        healthy_years("52 N", 1, creep_min_a_day=CREEP_MIN_A_DAY, settings=settings)
        for settings in (None, without.settings(site_settings("52 N")))
    )
    assert int((with_it.out >= FLOCK_NIGHT).sum()) == 0 and with_it.false_alarms["sun_shift"] >= 1
    assert int((lacking.out >= FLOCK_NIGHT).sum()) > 100 and "sun_shift" not in lacking.false_alarms


def test_the_tables_are_markdown() -> None:
    chosen = [FAULTS[word] for word in SURVIVED]
    text = fault_table(chosen, _found())
    runs = [verdict.machine for verdicts in _found().values() for verdict in verdicts]
    assert text.count("\n| ") == len(chosen) and invariants_line(runs) in text
    assert text.count("| held |") == len(chosen)
    assert last_in_line(_found()["healthy"]) in text
    healthy = healthy_table([healthy_years("52 N", 1, snow=False)])
    assert healthy.splitlines()[2].startswith("| 52 N | 1 |")
    verdicts = _found()["healthy"]
    assert worth_table([(RULES_LEFT_OUT[0], "healthy", verdicts, verdicts)]).count("|\n") == 3
    assert {word for without in RULES_LEFT_OUT for word in without.faults} <= set(FAULTS)
    assert set(SITES) == {"52 N", "60 N", "69.65 N"}


@pytest.mark.parametrize("without", [one for one in RULES_LEFT_OUT if one.cut], ids=lambda one: one.rule)
def test_a_rule_to_be_cut_out_stands_in_the_core(without: Without) -> None:
    assert without.cut is not None
    file, was, now = without.cut
    assert (CORE / file).read_text(encoding="utf-8").count(was) == 1
    assert was != now and not without.changes


def test_only_rows_that_end_otherwise_stand_beside_another_table() -> None:
    chosen = [FAULTS[word] for word in SURVIVED]
    beside = {word: ending(_found()[word]) for word in SURVIVED}
    assert "\n| " not in fault_table(chosen, _found(), beside).split("---|\n")[1]
    nearly, far = dict(beside["healthy"]), dict(beside["healthy"])
    nearly["open_dark_min first night"] = float(nearly["open_dark_min first night"]) + 30
    far["open_dark_min later"] = float(far["open_dark_min later"]) + 31
    for one, rows in ((nearly, 0), (far, 1), (beside["healthy"] | {"invariants": "cord"}, 1)):
        assert fault_table(chosen, _found(), beside | {"healthy": one}).count("\n| healthy ") == rows
