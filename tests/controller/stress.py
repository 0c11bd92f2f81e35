"""Seeded stretches of hard inputs with short constants: a few hundred thousand seconds through every rule.

The twin agrees with the core in each of them (test_core_matches_twin.py); a changed core must not.
"""

from __future__ import annotations

import ctypes
import dataclasses
import hashlib
from collections.abc import Iterator
from dataclasses import astuple

import numpy as np
from core_library import CInputs, CKept, COutputs, CState
from twin_and_core import Table, booted, c_settings

from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import NO_MINUTE, DayRow, Inputs, KeptOver

FIRST_DAY = 9_862
N_STRETCHES, SPELLS = 400, 30
# Every constant short, so that a few hundred seconds pass through every rule.
SHORT = DoorSettings(
    confirm_s=3, fall_s=4, fast_s=2, stale_s=60, sure_s=6, dusk_s=4, age_units=1, early_s=5, hold_dim_min=3,
    hold_day_min=4, morning_hold_min=3, night_least_min=0, night_most_min=30_000, question_s=20, own_trust_min=4,
    settle_s=20, alone_dark_s=4, alone_abrupt_s=9, alone_bright_s=6, alone_open_min=1, alone_shut_min=1,
    longest_shut_min=3, hand_min=1, spent_min=2, reopen_after_min=1, reopen_s=5, start_rest_s=3, dead_s=1,
    retry_s=4, late_retry_s=7, down_budget_s=5, down_nominal_s=3, up_least_s=2, up_cutoff_s=4, leave_s=1, tries=2,
    late_tries=1, flat_min=1, flat_high_min=2, shift_one_min=5, shift_two_min=3, shift_proven_min=4,
)  # fmt: skip
LEVELS = (0, 20, 23, 24, 60, 111, 112, 140, 170, 171, 308, 309, 400, 422, 423, 700, 796, 797, 900, 1019, 1020, 1023)
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
        for second in range(int(rng.integers(1, 120))):
            now_s += 1
            top, bottom = (int(cord <= 0), int(cord >= 3)) if not lies else (int(rng.integers(2)), int(rng.integers(2)))
            yield dataclasses.replace(
                steady,
                clock_day=now_s // 86_400,
                clock_min=now_s // 60 % 1440,
                light_counts=int(max(0, min(1023, counts + slope * second))),
                clock_set=clock_set if second == 0 else 0,
                top=0 if fault == 1 else top,
                bottom=0 if fault == 2 else bottom,
            )
            cord = max(0, min(4, cord + int(rng.choice((-1, 0, 0, 0, 1)))))


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
        no_witness=int(rng.choice((2, 2, 0, 1))),
        night_least_min=int(rng.choice((0, 0, 3))),
    )
    kept = None
    if rng.random() < 0.5:
        shift, hour, bits = int(rng.choice((0, -30, 45))), int(rng.integers(0, 24)), int(rng.integers(0, 16))
        kept = KeptOver(shift, FIRST_DAY + 1, hour, bits)
    rows = _rows(rng)
    return chosen, Table(rows, FIRST_DAY), list(_seconds(rng, rows)), kept


N_LESSONS = 4_000
LESSON_TABLE = (DayRow(420, 1080, 1440, 15),)
NEAR = (0, 1, 4, 5, 9, 10, 11, 14, 15, 16, 19, 20, 21, 25, 39, 40, 41, 60, 200)


def lesson(number: int) -> tuple[dict[str, int], Inputs]:
    """A state in the last second of a night that teaches something, and that second's inputs."""
    rng = np.random.default_rng(100_000 + number)

    def some() -> int:
        return int(rng.choice(NEAR)) * int(rng.choice((-1, 1)))

    length_min, last = int(rng.integers(170, 1210)), some()
    off = last + int(rng.choice((0, 3, -7, 14, 15, 16, -15, -16))) if rng.random() < 0.7 else some()
    day, minute = divmod(720 + 30 + 720 + length_min // 2 + off, 1440)
    ahead = some() if rng.random() < 0.4 else 0
    time = int(rng.integers(0, 3))
    state = dict(
        own_day=FIRST_DAY + day, own_min=minute, known=int(time != 2), estimated=1, time=time, boot_s=29_000,
        stepped=int(time == 1 and ahead != 0), proven=int(rng.integers(0, 2)), shift_min=some() // 2,
        last_off_min=last, taught=int(rng.random() < 0.8), creeping=int(rng.integers(0, 6)), odd_today=int(rng.integers(0, 2)),
        in_night=1, night_min=length_min + 30, night_natural=1, rise_natural=int(rng.random() < 0.95), bright_s=1799,
        since_dark_s=1900, plan=0, second=20,
    )  # fmt: skip
    clock_day, clock_min = divmod((FIRST_DAY + day) * 1440 + minute + ahead, 1440)
    return state, Inputs(clock_day, clock_min, 700, clock_valid=int(time == 0 or ahead != 0), bottom=1)


def taught(library: ctypes.CDLL, number: int) -> ctypes.Structure:
    """The compiled core's state after a lesson."""
    table = Table(LESSON_TABLE, FIRST_DAY)
    table.hand_to(library)
    state = booted(DoorSettings(), None, library)
    fields, one = lesson(number)
    for name, value in fields.items():
        setattr(state, name, value)
    outs = (COutputs * 1)()
    inputs = (CInputs * 1)(CInputs(*astuple(one)))
    library.trial_seconds(ctypes.byref(state), ctypes.byref(c_settings(DoorSettings())), inputs, 1, outs, None)
    return state


Packed = tuple[DoorSettings, Table, bytes, KeptOver | None]


def packed_stretches(n: int = N_STRETCHES) -> list[Packed]:
    """The stretches with their seconds as the C takes them."""
    found = []
    for number in range(n):
        chosen, table, inputs, kept = stretch(number)
        found.append((chosen, table, bytes((CInputs * len(inputs))(*(CInputs(*astuple(one)) for one in inputs))), kept))
    return found


def digest(library: ctypes.CDLL, stretches: list[Packed]) -> str:
    """Fingerprint of every output and every state of the stretches."""
    found = hashlib.blake2b()
    for number in range(N_LESSONS):
        found.update(taught(library, number))
    for chosen, table, seconds, kept in stretches:
        n = len(seconds) // ctypes.sizeof(CInputs)
        table.hand_to(library)
        state = booted(chosen, kept, library)
        inputs = (CInputs * n).from_buffer_copy(seconds)
        outs, states = (COutputs * n)(), (CState * n)()
        library.trial_seconds(ctypes.byref(state), ctypes.byref(c_settings(chosen)), inputs, n, outs, states)
        found.update(outs)
        found.update(states)
        stored = CKept()
        library.door_keep(ctypes.byref(state), ctypes.byref(stored))
        found.update(stored)
    return found.hexdigest()
