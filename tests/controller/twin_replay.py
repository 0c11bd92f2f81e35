"""Days recorded from the compiled core and its machine, second by second, and the twin over the same inputs."""

from __future__ import annotations

import ctypes
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from sunsched.controller.decision import step
from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import DayRow, Inputs, Outputs, RowReader, boot, keep
from tests.controller.core_library import CInputs, COutputs, CType, core_library, structure_fields
from tests.controller.trial_runner import CoreRunner, use_table
from tests.trials.door_world import Place
from tests.trials.fault_nights import World

NUMPY: dict[CType, str] = {ctypes.c_int16: "i2", ctypes.c_uint16: "u2", ctypes.c_uint8: "u1"}
IN_DTYPE = np.dtype([(name, NUMPY[kind]) for name, kind in structure_fields("door_inputs_t")], align=True)
OUT_DTYPE = np.dtype([(name, NUMPY[kind]) for name, kind in structure_fields("door_outputs_t")], align=True)
IN_NAMES, OUT_NAMES = (tuple(field.name for field in fields(kind)) for kind in (Inputs, Outputs))


@dataclass(frozen=True)
class Recorded:
    """Inputs and outputs of each second (n,), and the cause in the seconds that follow a reset."""

    inputs: NDArray[np.void]
    outputs: NDArray[np.void]
    boots: NDArray[np.uint8]


def recorded(
    place: Place, settings: DoorSettings, world: World, own_ppm: int = 0, library: ctypes.CDLL | None = None
) -> Recorded:
    """Live through `world` from a first power-up at an unknown place of the door."""
    library = library or core_library()
    assert IN_DTYPE.itemsize == ctypes.sizeof(CInputs) and OUT_DTYPE.itemsize == ctypes.sizeof(COutputs)
    room = (len(world) - 1) * 61
    inputs, outputs, boots = np.zeros(room, IN_DTYPE), np.zeros(room, OUT_DTYPE), np.zeros(room, np.uint8)
    rows = use_table(place.rows, place.first_day, library)
    pointers = (array.ctypes.data_as(ctypes.c_void_p) for array in (inputs, outputs, boots))
    library.trial_record(*pointers, room)
    runner = CoreRunner(settings, cord_mm=100.0, library=library)
    runner.run(world, own_ppm)
    n = library.trial_recorded()
    library.trial_record(None, None, None, 0)
    del rows
    return Recorded(inputs[:n], outputs[:n], boots[:n])


def reader_of(place: Place) -> RowReader:
    """The table as the driver serves it: refused before its first day, wrapped after its last."""

    def reader(day: int) -> DayRow | None:
        return None if day < place.first_day else place.rows[(day - place.first_day) % len(place.rows)]

    return reader


def twin_outputs(place: Place, settings: DoorSettings, was: Recorded) -> NDArray[np.void]:
    """What the twin says to the recorded inputs; it resets where the chip did."""
    reader, state = reader_of(place), boot(settings)
    said = np.zeros(len(was.inputs), OUT_DTYPE)
    for second, row in enumerate(was.inputs.tolist()):
        if was.boots[second]:
            state = boot(settings, keep(state), int(was.boots[second]))
        out = step(state, settings, reader, Inputs(*row))
        said[second] = tuple(getattr(out, name) for name in OUT_NAMES)
    return said


assert tuple(IN_DTYPE.names or ()) == IN_NAMES and tuple(OUT_DTYPE.names or ()) == OUT_NAMES
