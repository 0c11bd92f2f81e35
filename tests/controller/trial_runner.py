"""The compiled core with its machine, as the study's trials run it."""

from __future__ import annotations

import copy
import ctypes
import math
from collections.abc import Sequence

import numpy as np

from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import DayRow
from sunsched.hardware.drive import cord_diameter_mm, cord_speed_mm_s
from sunsched.hardware.parts import Door, Motor, Spool
from tests.controller.core_library import CState, Row, c_settings, core_library
from tests.trials.fault_nights import WORLD_MINUTE, History, World

TOLD_MINUTE = np.dtype(
    [("plate_mm", "i2"), ("shift_min", "i2"), ("alarms", "u2")]
    + [(name, "u1") for name in ("want", "reason", "door", "time")],
    align=True,
)
TRAVEL_MM = Door().travel_mm
_DOUBLES = ("travel_mm", "up_mm_s", "down_mm_s", "spool_mm", "cord_mm", "stall_s", "most_cord_mm")
_WATCHED = ("reversals_too_soon", "longest_up_s", "longest_down_s", "up_moves", "down_moves", "both_s")
_INSIDE = ("run_s", "rest_s", "last_drive", "last_run_drive", "top_fault", "bottom_fault", "reversed", "broken")


class Machine(ctypes.Structure):
    """The machine_t of the driver."""

    _fields_ = (
        *((name, ctypes.c_double) for name in _DOUBLES),
        *((name, ctypes.c_int32) for name in (*_WATCHED, *_INSIDE)),
        ("wedged_mm", ctypes.c_int32),
        ("chance", ctypes.c_uint32),
        ("bottom_broken", ctypes.c_int32),
        ("starts", ctypes.c_int32),
        ("stuck_s", ctypes.c_int32),
        ("at_end", ctypes.c_int32),
    )


def machine(cord_mm: float = 0.0) -> Machine:
    """The default drive: door, spool and motor of the configuration, with `cord_mm` paid out."""
    door, spool, motor = Door(), Spool(), Motor()
    diameter_mm = cord_diameter_mm(spool)
    up_mm_s = float(cord_speed_mm_s(diameter_mm, motor.rpm))
    spare_mm = spool.turns_left_when_down * math.pi * diameter_mm
    return Machine(
        travel_mm=door.travel_mm, up_mm_s=up_mm_s, down_mm_s=up_mm_s * motor.lowering_duty,
        spool_mm=door.travel_mm + spare_mm, cord_mm=cord_mm, rest_s=30_000,
        wedged_mm=-1, chance=1,
    )  # fmt: skip


def use_table(rows: Sequence[DayRow], first_day: int, library: ctypes.CDLL | None = None) -> object:
    """Give the driver its table; the returned block must stay alive while the driver runs."""
    block = (Row * len(rows))(*(Row(row.open_min, row.close_min, row.midnight_min, row.facts) for row in rows))
    (library or core_library()).trial_table(block, first_day, len(rows), first_day)
    return block


class CoreRunner:
    """One door: the core's state and the machine's."""

    def __init__(self, settings: DoorSettings, cord_mm: float = 0.0, library: ctypes.CDLL | None = None) -> None:
        self.library = library or core_library()
        self.settings = c_settings(settings)
        self.state = CState()
        self.machine = machine(cord_mm)
        self.library.door_boot(ctypes.byref(self.state), ctypes.byref(self.settings), None, 0)

    def copy(self) -> CoreRunner:
        other = copy.copy(self)
        other.state = CState.from_buffer_copy(self.state)
        other.machine = Machine.from_buffer_copy(self.machine)
        return other

    def run(self, world: World, own_ppm: int = 0) -> History:
        assert world.dtype == WORLD_MINUTE
        history = np.zeros(len(world) - 1, TOLD_MINUTE)
        self.library.trial_minutes(
            ctypes.byref(self.state), ctypes.byref(self.settings), ctypes.byref(self.machine),
            world.ctypes.data_as(ctypes.c_void_p), len(history), own_ppm, history.ctypes.data_as(ctypes.c_void_p),
        )  # fmt: skip
        return history

    def machine_facts(self) -> dict[str, float]:
        watched = ("stall_s", "most_cord_mm", "spool_mm", "starts", "stuck_s", *_WATCHED)
        facts = {name: float(getattr(self.machine, name)) for name in watched}
        return facts | {name: float(getattr(self.settings, name)) for name in ("up_cutoff_s", "down_budget_s")}
