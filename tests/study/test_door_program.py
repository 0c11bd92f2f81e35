"""The vectorised rules against the door's own program, second by second, on the same light held for a minute."""

from ctypes import byref
from functools import cache
from typing import Any

import numpy as np
import pytest

from sunsched.controller.door_settings import DoorSettings, door_settings
from sunsched.controller.words import Place, TimeBy, Want
from sunsched.controller.words import Why as Reason
from sunsched.hardware.light_cell import divider_counts
from sunsched.hardware.model import Model
from sunsched.hardware.parts import ClockSource, LightCell
from sunsched.plan.planning import year_plan
from sunsched.plan.rules import MomentRule, Rules
from sunsched.plan.site import Chip, Site
from sunsched.plan.year import YearPlan
from sunsched.study.passing import confirmed
from sunsched.study.scene import Scene, Skies, scene_of, skies_of, spans
from sunsched.study.trial import Levels, Moves, Why, Window, dawn_in_window, dusk_in_window, steep_falls
from sunsched.study.weather import Climate, Floats, Ints, assumed_climate, draw_years
from tests.controller.core_library import READER, CInputs, COutputs, CState, Row, c_settings, core_library

DAY_2000 = 10_957  # 2000-01-01 as days since 1970-01-01
CELL = LightCell()
FROM_MIN, UNTIL_MIN, RUN_IN_MIN = -10, 15, 5
CELL_SPREAD_LOG = 0.25  # wide, so that every rule has its turn
BOTH_WAYS: dict[str, Any] = {"cell_from_min": FROM_MIN, "cell_until_min": UNTIL_MIN, "depression_deg": 4.5}
RULES = Rules(evening=MomentRule(**BOTH_WAYS), morning=MomentRule(**BOTH_WAYS))
WHY = {Reason.DUSK: Why.LIGHT, Reason.CLOSE_MINUTE: Why.CLOCK, Reason.DUSK_LIMIT: Why.LIMIT}
WHY |= {Reason.DAWN: Why.LIGHT, Reason.OPEN_MINUTE: Why.CLOCK, Reason.DAWN_LIMIT: Why.LIMIT}


@cache
def northern_year() -> tuple[YearPlan, Scene]:
    """A year at 58 N, where dull and snowy evenings are many."""
    site = Site(name="North", latitude_deg=58.0, longitude_deg=14.0, zone="Europe/Stockholm")
    plan = year_plan(site, Chip(), RULES, 2026)
    return plan, scene_of(plan)


def snowy(sudden: bool) -> Climate:
    """The assumed climate; or one where every other winter day brings snow on the cell and every day a storm."""
    climate = assumed_climate(58.0)
    return Climate(climate.monthly_clearness, (30.0,) * 12, 45.0) if sudden else climate


def lux_of_step(counts: int) -> float:
    """The light at which a divider's reading becomes `counts`: floor(1024 Rf / (Rf + R)), R = R10 (E/10)^-gamma."""
    share = counts / CELL.adc_steps
    return float(10.0 * (CELL.fixed_ohm * (1 - share) / share / CELL.r10_ohm) ** (-1 / CELL.gamma))


def seen_log(n: int) -> Floats:
    """What each twilight's cell sees of the sky [log10]: 0.4 of it, times the cell's own error."""
    return np.asarray(np.log10(CELL.sky_view) + CELL_SPREAD_LOG * np.random.default_rng(3).standard_normal(n))


def levels_as_counted(settings: DoorSettings, n: int) -> Levels:
    """The program's thresholds in counts as log10 lux of the sky."""
    steps = settings.dark_counts, settings.bright_counts + 1, settings.dusk_counts + 1
    logs = [(np.log10(lux_of_step(s)) - seen_log(n)).astype(np.float32) for s in steps]
    return Levels(logs[0], logs[1], logs[2], (settings.confirm_s - 1) // 60)


def all_skies(evening: bool, sudden: bool) -> list[Skies]:
    _, scene = northern_year()
    half = scene.evening if evening else scene.morning
    rng = np.random.default_rng(77)
    years = draw_years(snowy(sudden), scene.months, 4, rng, Model(storm_share=1.0))
    found = spans(half, CELL.dark_lux, CELL.light_lux, CELL.sky_view, (FROM_MIN, UNTIL_MIN), 1.0)
    return list(skies_of(half, found, years, rng))


def window_of(skies: Skies) -> Window:
    _, scene = northern_year()
    half = scene.evening if skies.evening else scene.morning
    planned: Ints = (half.planned_min[skies.rows] - skies.start_min).astype(np.int64)
    return Window(planned + FROM_MIN, planned, planned + UNTIL_MIN, np.ones(len(planned), dtype=np.bool_))


def by_vectors(skies: Skies, settings: DoorSettings) -> Moves:
    levels = levels_as_counted(settings, len(skies.columns))
    settled = confirmed(skies.cell_log, levels.wait_min, skies.evening)
    if not skies.evening:
        return dawn_in_window(settled, levels, window_of(skies))
    steep = steep_falls(skies.cell_log, float((levels.light_log - levels.dark_log).min()))
    return dusk_in_window(skies.cell_log, settled, steep, levels, window_of(skies))


def by_program(skies: Skies, column: int, settings: DoorSettings, fast_min: int = 0) -> tuple[int, Why]:
    """Minute (as a place in the minutes held) and reason with which the program moves the door; its clock is fast."""
    plan, _ = northern_year()
    window = window_of(skies)
    opens = int(window.first[column]) - fast_min
    counts = divider_counts(
        10.0 ** (skies.cell_log[:, column] + seen_log(len(skies.columns))[column]),
        CELL.r10_ohm,
        CELL.gamma,
        CELL.fixed_ohm,
        CELL.adc_steps,
    )
    row = int(skies.rows[column])

    def row_of(day: int, found: Any) -> int:
        index = day + DAY_2000 - plan.first_day
        if not 0 <= index < plan.n_days:
            return 0
        found[0] = Row(int(plan.open_min[index]), int(plan.close_min[index]), int(plan.midnight_min[index]), 15)
        return 1

    begin = first_minute(counts, opens, settings) if skies.evening else opens - 5
    minute = int(skies.start_min[column]) + begin + fast_min
    day = plan.first_day + row - DAY_2000 + minute // 1440
    door = CState(
        own_day=day, own_min=minute % 1440, last_clock_min=65_535, boot_s=30_000, time=int(TimeBy.CLOCK), known=1,
        proven=1, age_dark=60 if skies.evening else 0, age_bright=0 if skies.evening else 60, since_bright_s=10_000,
        since_dark_s=10_000, fall_s=10_000, plan=int(Want.UP if skies.evening else Want.DOWN),
        place=int(Place.UP if skies.evening else Place.DOWN), wiring_proven=1, checked_day=0, latch=0,
    )  # fmt: skip
    goal = Want.DOWN if skies.evening else Want.UP
    core, as_set, outputs, reader = core_library(), c_settings(settings), COutputs(), READER(row_of)
    for place in range(begin, skies.n_min):
        minute = int(skies.start_min[column]) + place + fast_min
        day = plan.first_day + row - DAY_2000 + minute // 1440
        inputs = CInputs(clock_day=day, clock_min=minute % 1440, clock_valid=1, light_counts=int(counts[place]))
        for _ in range(60):
            core.door_step(byref(door), byref(as_set), reader, byref(inputs), byref(outputs))
            if door.plan == goal:
                return place, WHY[Reason(door.reason)]
    return skies.n_min, Why.NEVER


def first_minute(counts: Ints, opens: int, settings: DoorSettings) -> int:
    """From where on the program must watch: before the dark that the window meets, and before its fall."""
    begin = max(opens - RUN_IN_MIN, 0)
    while begin > 0 and (counts[begin] < settings.dusk_counts + 1):
        begin -= 1
    return max(begin - 6, 0)


def compare(evening: bool, sudden: bool, n_wanted: int) -> dict[Why, int]:
    settings = door_settings(RULES, CELL, ClockSource())
    every = all_skies(evening, sudden)
    pick = np.random.default_rng(5)
    seen: dict[Why, int] = {}
    sizes = np.array([len(skies.columns) for skies in every])
    shares = np.minimum(sizes, np.ceil(n_wanted * sizes / sizes.sum())).astype(int)
    if sudden:  # the last group has snow on the cell: that is what this run is for
        shares = np.array([0] * (len(every) - 1) + [n_wanted])
    for skies, share in zip(every, shares, strict=True):
        moves = by_vectors(skies, settings)
        ours = pick.permutation(len(skies.columns))
        if sudden:  # few are doubtful: those come first
            ours = ours[np.argsort(moves.why[ours] != Why.CLOCK, kind="stable")]
        ours = ours[:share]
        # The plan's first and last rows have no neighbour in the table.
        for column in ours[(skies.rows[ours] > 1) & (skies.rows[ours] < 363)]:
            place, why = by_program(skies, int(column), settings)
            assert (int(moves.place[column]), Why(moves.why[column])) == (place, why), (skies.columns[column], column)
            seen[why] = seen.get(why, 0) + 1
    return seen


def test_a_thousand_evenings_move_in_the_same_minute_for_the_same_reason() -> None:
    seen = compare(evening=True, sudden=False, n_wanted=1010)
    assert sum(seen.values()) >= 1000
    assert seen[Why.LIGHT] > 100 and seen[Why.LIMIT] > 10


@pytest.mark.parametrize("evening", [True, False])
def test_snowy_and_stormy_twilights_too(evening: bool) -> None:
    seen = compare(evening, sudden=True, n_wanted=100)
    assert sum(seen.values()) >= 90
    if evening:
        assert seen[Why.CLOCK] > 0  # dark for hours before the window: the clock decides


def test_mornings_move_in_the_same_minute_for_the_same_reason() -> None:
    seen = compare(evening=False, sudden=False, n_wanted=200)
    assert seen[Why.LIGHT] > 20
