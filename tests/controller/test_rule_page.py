"""The page RULES.md and the code say the same: rules, words, and every constant with its number."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import pytest

import sunsched.controller
from sunsched.controller.decision import step
from sunsched.controller.door_settings import CRYSTAL_TRUST_DAYS, RAW_TRUST_DAYS, DoorSettings, c_fields
from sunsched.controller.door_state import DAY_MIN, DayRow, DoorState, Inputs, boot
from sunsched.controller.words import Alarm, Facts, TimeBy, Want, Why

HERE = Path(sunsched.controller.__file__).parent
PAGE = (HERE / "RULES.md").read_text()
ROWS = re.findall(r"^\| ([A-Z]\d*) \|(.*)\|(.*)\|(.*)\|$", PAGE, flags=re.MULTILINE)
RULES = [name for name, *_ in ROWS]
FIELDS = {name for name, _ in c_fields()}
# of the site's own cell, table, windows and drive, or of what it has fitted: no number of the page
SITES_OWN = {name for name in FIELDS if name.endswith("_counts") and not name.startswith("flat")} | {
    "evening_from_min", "evening_until_min", "morning_from_min", "morning_until_min", "down_nominal_s", "up_least_s",
    "up_cutoff_s", "lower_percent", "up_duty", "down_duty", "clock_fitted",
}  # fmt: skip
NO_NUMBER = {"early_lead_min", "sun_at_rail", "down_by_current", "reopen_s", "down_soon_s", "up_soon_s", "deep_counts"}
UNITS_S = {"s": 1, "min": 60, "h": 3600, "days": 86_400, "day": 86_400}
WORDS = {"one": 1, "a": 1}
EARLY, DARK_S = int(Why.EARLY_DUSK), 700


def test_the_rules_are_numbered_without_a_gap() -> None:
    assert len(RULES) == len(set(RULES)) > 50
    for letter in sorted({name[0] for name in RULES} - {"X"}):
        numbers = [int(name[1:]) for name in RULES if name[0] == letter]
        assert numbers == list(range(1, len(numbers) + 1)), letter


@pytest.mark.parametrize(
    "path", sorted([*HERE.glob("*.py"), *(HERE / "c").glob("door_*.c")]), ids=lambda path: path.name
)
def test_a_rule_that_the_code_names_is_on_the_page(path: Path) -> None:
    named = re.findall(r"(?:[Rr]ules? |/\* |^\s*# |# )([TCMEDAOG]\d+)\b", path.read_text(), flags=re.MULTILINE)
    assert set(named) <= set(RULES)


def test_reasons_and_alarms_are_those_of_the_page() -> None:
    last = " ".join(row[-1] for row in ROWS) + PAGE[PAGE.index("| **motor**") :]
    alarms = {alarm.name for alarm in Alarm if alarm}
    assert alarms == {word for word in re.findall(r"\b[A-Z]+(?:_[A-Z]+)*\b", last) if word in alarms}
    reasons = {word for row in ROWS for word in re.findall(r"\b[a-z]+(?:_[a-z]+)*\b", row[-1])}
    # start is no rule's; the word no_witness stays for logs of older programs
    assert reasons == {why.name.lower() for why in Why} - {"start", "no_witness"}


def test_every_constant_is_on_the_page_and_no_other() -> None:
    named = {name.strip() for names in re.findall(r"\[([a-z_, ]+)\]", PAGE) for name in names.split(",")}
    assert named - FIELDS == set()
    assert FIELDS - named == SITES_OWN - {"deep_counts"}


def _numbers() -> list[tuple[str, float, str]]:
    found = []
    for number, unit, names in re.findall(r"([\d ]*\d|one|a) ?([a-z]*)[a-z ]*?\[([a-z_]+)\]", PAGE):
        found.append((names, float(WORDS.get(number) or number.replace(" ", "")), unit))
    return found


def test_every_number_of_the_page_is_the_constant() -> None:
    numbers = {name: (number, unit) for name, number, unit in _numbers()}
    default = DoorSettings()
    checked = set()
    for name, (number, unit) in numbers.items():
        value = getattr(default, name)
        if name in NO_NUMBER:
            continue
        if name == "age_units":
            assert value == number * 6, name
        elif name == "own_trust_min":
            assert number == RAW_TRUST_DAYS and value == CRYSTAL_TRUST_DAYS * DAY_MIN, name
        elif unit in UNITS_S and name.endswith(("_s", "_min")):
            assert value * (60 if name.endswith("_min") else 1) == number * UNITS_S[unit], name
        else:
            assert value == number, name
        checked.add(name)
    two = {"night_least_min", "night_most_min"}  # two names after two numbers
    assert (default.night_least_min, default.night_most_min) == (3 * 60, 20 * 60)
    bare = FIELDS - SITES_OWN - NO_NUMBER - checked - two
    assert bare == set(), "a constant without its number before it"


def _state(**fields: int) -> DoorState:
    """In the evening's cycle, 300 min after noon, with an unproven clock and a cell that is believed."""
    known = dict(
        own_day=9_862, own_min=1020, last_clock_min=1020, known=1, time=int(TimeBy.CLOCK), cycle_known=1,
        cycle_day=9_862, t_min=300, close_t_min=500, open_t_min=1140, length_min=DAY_MIN, noon_min=720, facts=15,
        boot_s=20_000, checked_day=9_862, checked_ok=1, plan=int(Want.UP), wish=int(Want.UP),
        age_dark=0, age_bright=0, fall=1,
    )  # fmt: skip
    return dataclasses.replace(boot(DoorSettings()), **known | fields)


def _row(day: int) -> DayRow:
    return DayRow(420, 1220, 1440, 15)


def _stepped(state: DoorState, counts: int = 900, clock_off: int = 0) -> DoorState:
    step(state, DoorSettings(), _row, Inputs(9_862, state.own_min + clock_off, counts))
    return state


@pytest.mark.parametrize(("proven", "taken"), [(0, True), (1, False)])
def test_t2_an_unproven_count_takes_a_returning_clock_at_any_distance(proven: int, taken: bool) -> None:
    state = _stepped(_state(time=int(TimeBy.OWN_COUNT), proven=proven), clock_off=200)
    assert (state.time == TimeBy.CLOCK) is taken


@pytest.mark.parametrize(("facts", "early"), [(15, True), (15 - Facts.CLOSE_BY_TWILIGHT, False)])
def test_e2_needs_a_closing_by_twilight(facts: int, early: bool) -> None:
    state = _stepped(_state(facts=int(facts), dark_s=DARK_S, night_s=DARK_S), counts=3)
    assert (state.reason == EARLY) is early


def test_e2_is_undone_by_half_an_hour_of_bright_light() -> None:
    latched = dict(latch=1, reason=EARLY, plan=int(Want.DOWN), bright_s=1799)
    assert _stepped(_state(**latched)).plan == Want.UP
    assert _stepped(_state(**latched | {"t_min": 445, "own_min": 1165})).plan == Want.DOWN


@pytest.mark.parametrize(("facts", "held"), [(15, True), (15 - Facts.CLOSE_BY_TWILIGHT, False)])
def test_e6_needs_a_closing_by_twilight_and_more_than_an_estimate(facts: int, held: bool) -> None:
    due = dict(t_min=516, own_min=1236, facts=int(facts))
    assert (_stepped(_state(**due)).plan == Want.UP) is held
    estimated = dict(known=0, estimated=1, cell_bad=1, time=int(TimeBy.LIGHT))
    state = _state(**due | estimated)
    step(state, DoorSettings(), _row, Inputs(light_counts=900, clock_valid=0))
    assert state.plan == Want.DOWN


@pytest.mark.parametrize(
    ("facts", "asked"),
    [
        (15, True),
        (15 - Facts.CLOSE_BY_TWILIGHT, False),
        (15 - Facts.CLOSE_BY_TWILIGHT - Facts.DARK_EXPECTED, True),
        (15 - Facts.LIGHT_EXPECTED, False),
    ],
)
@pytest.mark.parametrize("proven", [0, 1])
def test_c6_needs_a_closing_by_twilight_or_a_night_without_dark(facts: int, asked: bool, proven: int) -> None:
    state = _stepped(_state(facts=int(facts), dark_s=1200, proven=proven), counts=3)
    assert (state.cell_bad, state.odd_today) == ((proven, 1 - proven) if asked else (0, 0))


@pytest.mark.parametrize(("t_min", "asked"), [(120, False), (121, True), (370, True), (379, True), (380, False)])
def test_c6_ends_90_min_before_the_earliest_dark(t_min: int, asked: bool) -> None:
    """The plan closes up to half an hour after dark, at 500 min after noon."""
    state = _state(t_min=t_min, own_min=720 + t_min, last_clock_min=720 + t_min, dark_s=1200, proven=1)
    step(state, DoorSettings(early_lead_min=30), _row, Inputs(9_862, state.own_min, 3))
    assert state.cell_bad == asked


@pytest.mark.parametrize(("facts", "held"), [(15, True), (15 - Facts.OPEN_BY_TWILIGHT, False)])
def test_d5_needs_an_opening_by_twilight(facts: int, held: bool) -> None:
    morning = dict(t_min=1160, own_day=9_863, own_min=440, checked_day=9_863, plan=int(Want.DOWN), facts=int(facts))
    state = _state(**morning, dark_s=600)
    step(state, DoorSettings(), _row, Inputs(9_863, 440, 3))
    assert (state.reason == Why.HELD_DOWN) is held


def test_d2_an_up_turns_down_again_an_hour_later_if_it_is_night() -> None:
    morning = dict(t_min=1250, own_day=9_863, own_min=530, checked_day=9_863, latch=2, since_min=60)
    state = _state(**morning, dark_s=DARK_S, night_s=DARK_S)
    step(state, DoorSettings(), _row, Inputs(9_863, 530, 3))
    assert (state.plan, state.reason) == (Want.DOWN, EARLY)


def test_a4_and_a7_leave_the_door_alone_while_nothing_is_known() -> None:
    state = boot(DoorSettings())
    for _ in range(3000):
        step(state, DoorSettings(), lambda day: None, Inputs(clock_valid=0, light_counts=140))
    assert state.plan == Want.STAY
