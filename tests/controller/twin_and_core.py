"""The Python twin and the compiled core over the same seconds, compared field by field."""

from __future__ import annotations

import ctypes
from collections.abc import Sequence
from dataclasses import astuple, fields
from typing import Any

from sunsched.controller.decision import step
from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import DayRow, DoorState, Inputs, KeptOver, Outputs, Outside, boot, keep
from tests.controller.core_library import CInputs, CKept, COutputs, CState, Row, c_settings, core_library

STATE = tuple(field.name for field in fields(DoorState))
OUT = tuple(field.name for field in fields(Outputs))


class Table:
    """Rows from a first day on, wrapping after the last.

    Days before `refuses_before` cannot be right; from `ends` on no table serves.
    """

    def __init__(
        self, rows: Sequence[DayRow], first_day: int, refuses_before: int | None = None, ends: int = 65_536
    ) -> None:
        self.rows = tuple(rows)
        self.first_day = first_day
        self.refuses_before = first_day if refuses_before is None else refuses_before
        self.ends = ends
        self._c_rows: ctypes.Array[ctypes.Structure] | None = None

    def __call__(self, day: int) -> DayRow | Outside | None:
        if day < self.refuses_before:
            return None
        if day >= self.ends:
            return Outside()
        return self.rows[(day - self.first_day) % len(self.rows)]

    def __reduce__(self) -> tuple[type[Table], tuple[object, ...]]:
        return Table, (self.rows, self.first_day, self.refuses_before, self.ends)

    def hand_to(self, library: ctypes.CDLL) -> None:
        """Let the compiled driver read the same rows."""
        if self._c_rows is None:
            self._c_rows = (Row * len(self.rows))(*(Row(*astuple(row)) for row in self.rows))
        library.trial_table(self._c_rows, self.first_day, len(self.rows), self.refuses_before)
        library.trial_ends(self.ends)


def core_seconds(
    settings: DoorSettings, table: Table, inputs: Sequence[Inputs], state: ctypes.Structure, library: ctypes.CDLL
) -> tuple[ctypes.Array[Any], ctypes.Array[Any]]:
    """The compiled core over `inputs`, from `state` on, which is changed: outputs and states, one a second."""
    table.hand_to(library)
    n = len(inputs)
    ins = (CInputs * n)(*(CInputs(*astuple(one)) for one in inputs))
    outs, states = (COutputs * n)(), (CState * n)()
    library.trial_seconds(ctypes.byref(state), ctypes.byref(c_settings(settings)), ins, n, outs, states)
    return outs, states


def booted(settings: DoorSettings, kept: KeptOver | None, library: ctypes.CDLL) -> ctypes.Structure:
    """The compiled core's state after a reset."""
    state = CState()
    stored = None if kept is None else ctypes.byref(CKept(*astuple(kept)))
    library.door_boot(ctypes.byref(state), ctypes.byref(c_settings(settings)), stored, 0)
    return state


def assert_alike(
    settings: DoorSettings,
    table: Table,
    inputs: Sequence[Inputs],
    kept: KeptOver | None = None,
    library: ctypes.CDLL | None = None,
) -> list[Outputs]:
    """Both over the same seconds; every output and every field of the state must agree at every second."""
    library = library or core_library()
    c_state = booted(settings, kept, library)
    twin = boot(settings, kept)
    outs, states = core_seconds(settings, table, inputs, c_state, library)
    said = []
    for second, one in enumerate(inputs):
        out = step(twin, settings, table, one)
        said.append(out)
        for name in OUT:
            assert getattr(out, name) == getattr(outs[second], name), f"second {second}: output {name}"
        c_now = states[second]
        different = [name for name in STATE if getattr(twin, name) != getattr(c_now, name)]
        assert not different, f"second {second}: state {different}"
    c_kept = CKept()
    library.door_keep(ctypes.byref(c_state), ctypes.byref(c_kept))
    assert astuple(keep(twin)) == tuple(getattr(c_kept, field.name) for field in fields(KeptOver))
    return said
