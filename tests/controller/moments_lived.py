"""Moments lived by the compiled core and by the twin: what they say, what they remember, what they would store."""

from __future__ import annotations

import ctypes
from collections.abc import Iterator, Sequence
from dataclasses import astuple, fields
from functools import cache
from typing import NamedTuple

from sunsched.controller.decision import step
from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import KeptOver, keep
from tests.controller.core_library import CInputs, CKept, COutputs, CState, c_settings
from tests.controller.moments import N_SETTINGS, Picker, moment, some_settings
from tests.controller.stress import FIRST_DAY
from tests.controller.twin_and_core import OUT, STATE, Table

CHUNK, N_BOOTS = 500, 192
STORED = tuple(field.name for field in fields(KeptOver))


class PackedMoment(NamedTuple):
    """A moment as the C takes it."""

    settings: ctypes.Structure
    table: Table
    state: bytes
    inputs: ctypes.Array[ctypes.Structure]


@cache
def _packed_settings(settings: DoorSettings) -> ctypes.Structure:
    return c_settings(settings)


def packed_moments(numbers: Sequence[int]) -> list[PackedMoment]:
    """Moments as the C takes them."""
    found = []
    for one in map(moment, numbers):
        state = one.state()
        inputs = (CInputs * len(one.inputs))(*(CInputs(*astuple(second)) for second in one.inputs))
        packed = CState(*(getattr(state, name) for name in STATE))
        found.append(PackedMoment(_packed_settings(one.settings), one.table, bytes(packed), inputs))
    return found


def lived(
    library: ctypes.CDLL, packed: PackedMoment
) -> tuple[ctypes.Structure, ctypes.Array[ctypes.Structure], ctypes.Structure]:
    """The compiled core's state, outputs and what it would store after a moment."""
    packed.table.hand_to(library)
    state, stored = CState.from_buffer_copy(packed.state), CKept()
    n = len(packed.inputs)
    outs = (COutputs * n)()
    library.trial_seconds(ctypes.byref(state), ctypes.byref(packed.settings), packed.inputs, n, outs, None)
    library.door_keep(ctypes.byref(state), ctypes.byref(stored))
    return state, outs, stored


def differences(library: ctypes.CDLL, number: int, packed: PackedMoment) -> list[str]:
    """In what the twin differs from the core after a moment."""
    one = moment(number)
    twin = one.state()
    said = [step(twin, one.settings, one.table, second) for second in one.inputs]
    state, outs, stored = lived(library, packed)
    found = [f"state {name}" for name in STATE if getattr(twin, name) != getattr(state, name)]
    for mine, theirs in zip(said, outs, strict=True):
        found += [f"output {name}" for name in OUT if getattr(mine, name) != getattr(theirs, name)]
    return found + [f"stored {name}" for name in STORED if getattr(keep(twin), name) != getattr(stored, name)]


def fingerprints(library: ctypes.CDLL, packed: Sequence[PackedMoment]) -> Iterator[bytes]:
    """All that the core says and keeps in each chunk of the moments."""
    for first in range(0, len(packed), CHUNK):
        parts = (part for one in packed[first : first + CHUNK] for part in lived(library, one))
        yield b"".join(map(bytes, parts))


def boots(library: ctypes.CDLL) -> bytes:
    """What a reset makes of memory full of ones, the bytes behind the state included."""
    found = []
    for number in range(N_BOOTS):
        pick = Picker(number)
        settings = some_settings(number % N_SETTINGS)
        counts = [pick.near(0, 1, 255) & 255 for _ in range(8)]
        counts[0] = pick.choice((0, 1, 2, 3, settings.tries + settings.late_tries - pick.bit(0.5), 255))
        counts.append(min(255, pick.near(0, settings.down_budget_s + 1, 255)))
        learnable = settings.shift_two_min * 2 // 3
        shift = pick.choice((0, 1, -1)) * pick.choice((1, 45, learnable - 1, learnable, 720, 721))
        hour, bits, alarms = pick.randrange(24), pick.randrange(16), pick.getrandbits(16)
        kept = KeptOver(shift, FIRST_DAY + 1, alarms, hour, bits, *counts)
        memory = ctypes.create_string_buffer(b"\xff" * (ctypes.sizeof(CState) + 8))
        stored = ctypes.byref(CKept(*astuple(kept))) if pick.bit(0.9) else None
        library.door_boot(memory, ctypes.byref(_packed_settings(settings)), stored, pick.randrange(16))
        found.append(memory.raw)
    return b"".join(found)
