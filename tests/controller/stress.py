"""Seeded stretches of hard inputs with short constants: a few hundred thousand seconds through every rule.

The twin agrees with the core in each of them (test_core_matches_twin.py); a changed core must not.
"""

from __future__ import annotations

import ctypes
import dataclasses
import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import astuple

import numpy as np

from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import NO_MINUTE, DayRow, Inputs, KeptOver
from tests.controller.core_library import CInputs, CKept, COutputs, CState, c_settings
from tests.controller.twin_and_core import Table, booted

FIRST_DAY = 9_862
N_STRETCHES, SPELLS = 400, 30
# Every constant short, so that a few hundred seconds pass through every rule.
SHORT = DoorSettings(
    confirm_s=3, fall_s=4, fast_s=2, stale_s=60, sure_s=6, dusk_s=4, age_units=1, early_s=5, hold_dim_min=3,
    hold_day_min=4, morning_hold_min=3, night_least_min=0, night_most_min=30_000, question_s=20, own_trust_min=4,
    settle_s=20, alone_dark_s=4, alone_abrupt_s=9, alone_bright_s=6, alone_open_min=1, alone_shut_min=1,
    longest_shut_min=3, hand_min=1, spent_min=2, reopen_after_min=1, reopen_s=5, start_rest_s=3, dead_s=1,
    retry_s=4, late_retry_s=7, down_budget_s=5, down_nominal_s=3, up_least_s=2, up_cutoff_s=4, leave_s=1, tries=2,
    seat_s=2, moved_s=3, hand_hold_s=2, down_soon_s=1, up_soon_s=0,
    late_tries=1, flat_min=1, flat_high_min=2, shift_one_min=5, shift_two_min=3, shift_proven_min=4,
)  # fmt: skip
LEVELS = (
    0, 9, 10, 20, 23, 24, 60, 111, 112, 140, 170, 171, 308, 309, 400, 422, 423, 700, 796, 797, 900, 1019, 1020, 1023,
)  # fmt: skip
WINDOWS = ((-10, 15), (0, 0), (-720, 720), (-200, 30), (0, 60))
JUMPS_MIN = (0, 0, 0, 0, 2, -2, 3, 4, 5, -30, 20, 21, 60, 400, -1440)


def _rows(rng: np.random.Generator) -> list[DayRow]:
    found = []
    for _ in range(int(rng.integers(1, 4))):
        midnight = int(rng.integers(1100, 1750))
        kept_in = rng.random() < 0.1
        opening = NO_MINUTE if kept_in else midnight - 720 - int(rng.integers(5, 700))
        closing = NO_MINUTE if kept_in else midnight - 720 + int(rng.integers(5, 700))
        found.append(DayRow(opening, closing, midnight, int(rng.choice((15, 15, 15, 15, 0, 3, 7, 11, 13, 14)))))
    return found


def _seconds(rng: np.random.Generator, table: list[DayRow]) -> Iterator[Inputs]:
    now_s = (FIRST_DAY + int(rng.integers(0, 3))) * 86_400 + int(rng.integers(0, 86_400))
    cord = 0
    fault = int(rng.choice((0, 0, 0, 1, 2)))
    for _ in range(SPELLS):
        jump = int(rng.choice(JUMPS_MIN))
        if rng.random() < 0.3:  # to the neighbourhood of a planned minute, or of noon
            row = table[now_s // 86_400 % len(table)]
            moments = (row.open_min, row.close_min, row.midnight_min - 720)
            target = max(0, int(rng.choice(moments)) + int(rng.integers(-12, 3)))
            jump = target - now_s // 60 % 1440
        now_s += jump * 60
        counts, slope = int(rng.choice(LEVELS)), float(rng.choice((0, 0, -3, 3, -15, 40)))
        steady = Inputs(
            clock_valid=int(rng.random() < 0.9),
            hand=int(rng.choice((0, 0, 0, 0, 0, 1, 2))),
            keep_shut=int(rng.random() < 0.1),
            battery=int(rng.choice((0, 0, 0, 0, 1, 2))),
        )
        clock_set, lies = int(rng.random() < 0.5), rng.random() < 0.15
        n = int(rng.integers(1, 120))
        drift = rng.choice((-1, 0, 0, 0, 1), n).tolist()
        lied = rng.integers(2, size=(n, 2)).tolist()
        for second in range(n):
            now_s += 1
            top, bottom = lied[second] if lies else (int(cord <= 0), int(cord >= 3))
            yield Inputs(
                now_s // 86_400,
                now_s // 60 % 1440,
                int(max(0, min(1023, counts + slope * second))),
                steady.clock_valid,
                clock_set if second == 0 else 0,
                0 if fault == 1 else top,
                0 if fault == 2 else bottom,
                steady.hand,
                steady.keep_shut,
                steady.battery,
            )
            cord = max(0, min(4, cord + drift[second]))


def stretch(number: int) -> tuple[DoorSettings, Table, list[Inputs], KeptOver | None]:
    """One stretch: constants, table, seconds, what was stored before."""
    rng = np.random.default_rng(number)
    evening, morning = WINDOWS[int(rng.integers(len(WINDOWS)))], WINDOWS[int(rng.integers(len(WINDOWS)))]
    if rng.random() < 0.6:
        evening = morning = WINDOWS[0]
    chosen = dataclasses.replace(
        SHORT if rng.random() < 0.8 else DoorSettings(),
        evening_from_min=evening[0],
        evening_until_min=evening[1],
        morning_from_min=morning[0],
        morning_until_min=morning[1],
        clock_fitted=int(rng.random() < 0.9),
        sun_at_rail=int(rng.random() < 0.5),
        down_by_current=int(rng.random() < 0.2),
        night_least_min=int(rng.choice((0, 0, 3))),
        early_lead_min=int(rng.choice((0, 0, 2, 45))),
        deep_counts=int(rng.choice((24, 24, 10, 0))),
    )
    kept = None
    if rng.random() < 0.5:
        shift, hour, bits = int(rng.choice((0, -30, 45))), int(rng.integers(0, 24)), int(rng.integers(0, 16))
        kept = KeptOver(shift, FIRST_DAY + 1, 0, hour, bits)
    rows = _rows(rng)
    return chosen, Table(rows, FIRST_DAY), list(_seconds(rng, rows)), kept


Packed = tuple[DoorSettings, Table, bytes, KeptOver | None]


def packed_stretches(n: int = N_STRETCHES) -> list[Packed]:
    """The stretches with their seconds as the C takes them."""
    found = []
    for number in range(n):
        chosen, table, inputs, kept = stretch(number)
        found.append((chosen, table, bytes((CInputs * len(inputs))(*(CInputs(*astuple(one)) for one in inputs))), kept))
    return found


def fingerprints(library: ctypes.CDLL, stretches: Sequence[Packed]) -> Iterator[str]:
    """Of each stretch: every output, every state, and what would be stored at its end."""
    for chosen, table, seconds, kept in stretches:
        n = len(seconds) // ctypes.sizeof(CInputs)
        table.hand_to(library)
        state = booted(chosen, kept, library)
        inputs = (CInputs * n).from_buffer_copy(seconds)
        outs, states, stored = (COutputs * n)(), (CState * n)(), CKept()
        library.trial_seconds(ctypes.byref(state), ctypes.byref(c_settings(chosen)), inputs, n, outs, states)
        library.door_keep(ctypes.byref(state), ctypes.byref(stored))
        found = hashlib.blake2b(outs)
        found.update(states)
        found.update(stored)
        yield found.hexdigest()
