"""The compiled decision core for the host, with structures read from its own header."""

from __future__ import annotations

import ctypes
import hashlib
import os
import re
import subprocess
import tempfile
from collections.abc import Sequence
from dataclasses import astuple
from functools import cache
from pathlib import Path

import sunsched.controller
from sunsched.controller.door_settings import DoorSettings

CORE = Path(sunsched.controller.__file__).parent / "c"
CORE_FILES = ("door_decision.c", "door_time.c", "door_light.c", "door_plan.c", "door_motor.c")
DRIVERS = Path(__file__).parent / "c"
CType = type[ctypes.c_int16] | type[ctypes.c_uint16] | type[ctypes.c_uint8]
TYPES: dict[str, CType] = {
    "int16_t": ctypes.c_int16,
    "uint16_t": ctypes.c_uint16,
    "uint8_t": ctypes.c_uint8,
}


def structure_fields(name: str) -> list[tuple[str, CType]]:
    """Names and C types of a structure, as the header says them."""
    text = re.sub(r"/\*.*?\*/", "", (CORE / "door_decision.h").read_text(), flags=re.DOTALL)
    bodies = re.findall(r"typedef struct \{([^}]*)\} (\w+);", text)
    body = next(body for body, found in bodies if found == name)
    fields: list[tuple[str, CType]] = []
    for kind, names in re.findall(r"(u?int\d+_t) ([^;]*);", body):
        fields += [(field.strip(), TYPES[kind]) for field in names.split(",")]
    return fields


def _structure(name: str) -> type[ctypes.Structure]:
    return type(name, (ctypes.Structure,), {"_fields_": structure_fields(name)})


Row = _structure("door_row_t")
Settings = _structure("door_settings_t")
CInputs = _structure("door_inputs_t")
COutputs = _structure("door_outputs_t")
CKept = _structure("door_kept_t")
CState = _structure("door_t")
READER = ctypes.CFUNCTYPE(ctypes.c_uint8, ctypes.c_uint16, ctypes.POINTER(Row))


def c_settings(settings: DoorSettings) -> ctypes.Structure:
    """The settings block as the C takes it."""
    return Settings(*astuple(settings))


def build(sources: Sequence[Path], flags: Sequence[str] = (), core: Path = CORE) -> Path:
    """Compile `sources` with the core's headers into a shared library, once for each content."""
    digest = hashlib.sha256(" ".join(flags).encode())
    for source in (*sources, *sorted(core.glob("*.h")), *sorted(DRIVERS.glob("*.h"))):
        digest.update(source.read_bytes())
    folder = Path(tempfile.gettempdir()) / f"sunsched-core-{os.getuid()}"
    folder.mkdir(mode=0o700, exist_ok=True)
    library = folder / f"{digest.hexdigest()[:24]}.so"
    if not library.exists():
        partial = library.with_suffix(f".{os.getpid()}")
        # The core's step is compiled into the trial's loop, which calls it for each second: an eighth less time.
        command = ["gcc", "-std=c99", "-O3", "-flto", "-fno-semantic-interposition", "-shared", "-fPIC"]
        command += ["-Wall", "-Wextra", "-Wconversion", "-Werror"]
        places = [f"-I{core}", f"-I{DRIVERS}"]
        subprocess.run([*command, *flags, *places, "-o", str(partial), *map(str, sources), "-lm"], check=True)
        partial.replace(library)
    return library


@cache
def core_library(core: Path = CORE) -> ctypes.CDLL:
    """The core and the trial driver, compiled for the host."""
    library = ctypes.CDLL(str(build([*(core / name for name in CORE_FILES), DRIVERS / "door_trial.c"], core=core)))
    library.door_step.restype = None
    library.door_day_number.restype = ctypes.c_uint16
    return library
