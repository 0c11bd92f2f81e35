"""The C reader compiled for this machine and called from Python."""

from __future__ import annotations

import ctypes
import subprocess
from functools import lru_cache
from importlib import resources
from pathlib import Path
from tempfile import mkdtemp

READER = Path(str(resources.files("sunsched.controller").joinpath("c")))
WARNINGS = (*("-Wall", "-Wextra", "-Wpedantic", "-Wconversion", "-Wsign-conversion", "-Wshadow", "-Wundef", "-Werror"),)
_FACE = """
#include "sunsched_table.h"
uint8_t check(const uint8_t *image, uint16_t room);
int16_t minute(const uint8_t *image, uint8_t side, uint16_t year, uint8_t month, uint8_t day);
int16_t midnight(const uint8_t *image, uint16_t year, uint8_t month, uint8_t day);
uint8_t facts(const uint8_t *image, uint16_t year, uint8_t month, uint8_t day);
int16_t setting(const uint8_t *image, uint8_t number);
uint8_t check(const uint8_t *image, uint16_t room) { return sunsched_check(image, room); }
int16_t minute(const uint8_t *image, uint8_t side, uint16_t year, uint8_t month, uint8_t day)
{ return side == 0u ? sunsched_open_min_of(image, year, month, day) : sunsched_close_min_of(image, year, month, day); }
int16_t midnight(const uint8_t *image, uint16_t year, uint8_t month, uint8_t day)
{ return sunsched_midnight_min(image, year, month, day); }
uint8_t facts(const uint8_t *image, uint16_t year, uint8_t month, uint8_t day)
{ return sunsched_facts(image, year, month, day); }
int16_t setting(const uint8_t *image, uint8_t number) { return sunsched_setting(image, number, -1); }
"""


@lru_cache(maxsize=1)
def compiled() -> ctypes.CDLL:
    """The reader with every decoder, as a library of this machine."""
    folder = Path(mkdtemp())
    source, library = folder / "face.c", folder / "face.so"
    source.write_text(_FACE, encoding="ascii")
    command = ["gcc", "-std=c99", "-O2", "-shared", "-fPIC", f"-I{READER}", *WARNINGS, str(source), "-o", str(library)]
    subprocess.run(command, check=True, timeout=60)
    face = ctypes.CDLL(str(library))
    for name in ("minute", "midnight", "setting"):
        getattr(face, name).restype = ctypes.c_int16
    for name in ("check", "facts"):
        getattr(face, name).restype = ctypes.c_uint8
    return face
