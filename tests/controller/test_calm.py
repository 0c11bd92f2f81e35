"""A calm second is a step: outputs and the whole state are those of the core that steps each second."""

from __future__ import annotations

import ctypes
import re
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import DayRow
from tests.controller.core_library import CORE, CORE_FILES, DRIVERS, CInputs, CState, build, c_settings
from tests.controller.stress import FIRST_DAY, LEVELS, SHORT, packed_stretches
from tests.controller.trial_runner import use_table
from tests.controller.twin_and_core import Table, booted
from tests.controller.twin_replay import IN_DTYPE, recorded
from tests.controller.vectors import VECTORS, Vector, place, settings_of, world_of

LENGTH_S = 150
TABLE = Table((DayRow(420, 1080, 1440, 15), DayRow(419, 1081, 1441, 15)), FIRST_DAY)


@cache
def library() -> ctypes.CDLL:
    """The core, the calm seconds and both their drivers."""
    sources = [*(CORE / name for name in (*CORE_FILES, "door_calm.c"))]
    return ctypes.CDLL(str(build([*sources, DRIVERS / "door_trial.c", DRIVERS / "door_calm_trial.c"])))


def calm_share(
    chosen: DoorSettings, inputs: bytes, state: ctypes.Structure, boots: bytes | None = None, peek: bool = True
) -> float:
    """The share of calm seconds; fails at the first second in which the two cores differ."""
    n = len(inputs) // ctypes.sizeof(CInputs)
    calm_s = ctypes.c_int32(0)
    wrong = library().calm_seconds(
        ctypes.byref(c_settings(chosen)), inputs, boots, n, ctypes.byref(state), int(peek), ctypes.byref(calm_s)
    )
    assert wrong == n, f"second {wrong}"
    return calm_s.value / n


def test_stress() -> None:
    for chosen, table, inputs, kept in packed_stretches(12):
        table.hand_to(library())
        calm_share(chosen, inputs, booted(chosen, kept, library()))


@pytest.mark.parametrize("vector", VECTORS[::4], ids=lambda vector: vector.name)
def test_recorded_days(vector: Vector) -> None:
    """Faults and keepers of every kind; counters fall behind as far as on the chip, and are looked at each second."""
    site, chosen = place(vector.site), settings_of(vector)
    world, own_ppm = world_of(vector)
    was = recorded(site, chosen, world, own_ppm)
    held = use_table(site.rows, site.first_day, library())
    shares = [
        calm_share(chosen, was.inputs.tobytes(), booted(chosen, None, library()), was.boots.tobytes(), peek)
        for peek in (True, False)
    ]
    del held
    assert shares[0] == shares[1] > 0.2


# ---- states about every limit ----


def _near(rng: np.random.Generator, limits: list[int]) -> int:
    return max(0, int(rng.choice(limits)) + int(rng.integers(-70, 4)))


def _state(rng: np.random.Generator, chosen: DoorSettings, counts: int) -> ctypes.Structure:
    """At rest, every counter of seconds near a limit, all else anything."""
    state = booted(chosen, None, library())
    limits = [chosen.confirm_s, chosen.stale_s, chosen.sure_s, chosen.dusk_s, 4 * chosen.dusk_s, chosen.early_s]
    limits += [chosen.settle_s, chosen.alone_dark_s, chosen.alone_abrupt_s, chosen.alone_bright_s, chosen.start_rest_s]
    limits += [1, 30_000]
    dark, bright, night = counts < chosen.dark_counts, counts > chosen.bright_counts, counts < chosen.night_counts
    counters = {
        "boot_s": _near(rng, limits),
        "dark_s": _near(rng, limits) if dark else 0,
        "since_dark_s": 0 if dark else _near(rng, limits),
        "bright_s": _near(rng, limits) if bright else 0,
        "since_bright_s": 0 if bright else _near(rng, limits),
        "night_s": _near(rng, limits) if night else 0,
        "fall_s": 0 if counts > chosen.dusk_counts else _near(rng, limits),
        "age_s": int(rng.choice((0, 400, 540, 590, 599))),
    }
    any_of = {
        "second": 60, "known": 2, "proven": 2, "estimated": 2, "stepped": 2, "latch": 3, "plan": 3, "wish": 3,
        "cell_bad": 2, "in_night": 2, "night_natural": 2, "rise_natural": 2, "odd_today": 2, "taught": 2, "hand": 3,
        "fall": 3, "place": 3, "seat": 3, "asked": 3, "ran": 2, "wiring_proven": 2, "reason": 21, "flat": 2,
        "since_min": 400, "night_min": 900, "hold_dim_min": 2, "age_dark": 200, "age_bright": 200,
    }  # fmt: skip
    fields = {name: int(rng.integers(top)) for name, top in any_of.items()} | counters
    fields |= {"own_day": FIRST_DAY, "own_min": int(rng.integers(1440)), "top_held_s": 255, "bottom_held_s": 255}
    fields |= {
        "wait_s": 0,
        "hand_held_s": 255,
        "keep_shut": 0,
        "time": int(rng.integers(3)),
        "flat_ref_counts": counts + int(rng.integers(-6, 7)),
    }
    fields["flat_min"] = int(rng.choice((0, 0, 5, 19, 119)))
    fields["top_was"], fields["bottom_was"] = int(fields["place"] == 1), int(fields["place"] == 2)
    for name, value in fields.items():
        setattr(state, name, value)
    return state


def _seconds(rng: np.random.Generator, state: ctypes.Structure, counts: int) -> bytes:
    """A steady world, its light about `counts`."""
    inputs = np.zeros(LENGTH_S, IN_DTYPE)
    wobble = int(rng.choice((0, 1, 3, 8)))
    inputs["clock_day"], inputs["clock_min"] = FIRST_DAY, state.own_min
    inputs["light_counts"] = np.clip(counts + rng.integers(-wobble, wobble + 1, LENGTH_S), 0, 1023)
    inputs["clock_valid"] = rng.random() < 0.8
    inputs["top"], inputs["bottom"] = state.top_was, state.bottom_was
    return inputs.tobytes()


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 2**32 - 1), st.sampled_from((DoorSettings(), SHORT)))
def test_states_about_every_limit(seed: int, chosen: DoorSettings) -> None:
    rng = np.random.default_rng(seed)
    counts = max(0, int(rng.choice(LEVELS)) + int(rng.integers(-1, 2)))
    TABLE.hand_to(library())
    state = _state(rng, chosen, counts)
    calm_share(chosen, _seconds(rng, state, counts), state)


def test_such_states_are_calm_for_a_while() -> None:
    """Else the property above would compare a core with itself."""
    chosen, shares = DoorSettings(), []
    TABLE.hand_to(library())
    for seed in range(100):
        rng = np.random.default_rng(seed)
        state = _state(rng, chosen, 500)
        shares.append(calm_share(chosen, _seconds(rng, state, 500), state))
    assert np.mean(shares) > 0.2
    assert ctypes.sizeof(CState) < 256


# ---- the list of limits is whole ----

SECONDS = re.compile(r"d->(\w+_s) (?:<|<=|>|>=|==|!=) ((?:\d+u \* )?s->\w+)|((?:\d+u \* )?s->\w+) (?:<|>)=? d->(\w+_s)")
LIGHT = re.compile(r"(?:counts|sight\.counts) (?:<|<=|>|>=|==|!=) s->(\w+)")
# What no rule asks within a calm second: the motor's own, the switches', those of a light that has just changed,
# and a question's. One that runs on makes the state another each second, and so no second calm.
ELSEWHERE = {"run_s", "paid_s", "wait_s", "top_held_s", "bottom_held_s", "top_open_s", "bottom_open_s", "fall_s"}
ELSEWHERE |= {"since_bright_s", "since_dark_s", "cord_s", "question_s", "reopen_left_s", "hand_held_s", "keep_other_s"}


def _code(name: str) -> str:
    return re.sub(r"/\*.*?\*/", "", (CORE / name).read_text(), flags=re.DOTALL)


def test_every_limit_of_the_rules_ends_a_calm() -> None:
    calm = _code("door_calm.c")
    listed = set(re.findall(r"offsetof\(door_settings_t, (\w+)\)", calm))
    times, light = set(), set()
    for name in CORE_FILES:
        for counter, limit, other, twice in SECONDS.findall(_code(name)):
            if (counter or twice) not in ELSEWHERE:
                times.add(limit or other)
        light |= set(LIGHT.findall(_code(name)))
    assert {"s->stale_s", "s->dusk_s", "4u * s->dusk_s", "s->settle_s"} <= times
    assert {one for one in times if one.removeprefix("s->") not in listed} == {"4u * s->dusk_s"}
    assert "4u * s->dusk_s" in calm
    assert light == {name for name in listed if name.endswith("_counts")}
