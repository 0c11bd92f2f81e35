"""Flash in place of EEPROM (door_flash.h): every byte is kept over a cut at any moment, and no sector wears out."""

from __future__ import annotations

import ctypes as C
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from tests.support import toolchain

FIRMWARE = toolchain.C_DIR / "firmware"
SECTORS, BYTES, SECTOR_BYTES = 8, 1024, 4096
# Bytes kept in the first sector of a new chip until it is given up, the one of the test below counted.
SERVED = 511
TORN = range(12)  # ways in which an operation is half done: see flash_sim.c
# Data sheet of the W25Q16JV (Winbond), from memory: erases that a sector is good for.
ENDURANCE = 100_000
# Of the program: 2 days of each month at four sites, tests/chip/rp2040_run.py; its own sample holds this.
MOST_PROGRAMS_A_DAY = 300


class Flash:
    """The library with the simulated flash; one flash at a time."""

    def __init__(self, library: C.CDLL) -> None:
        self.library = library
        self.content = (C.c_uint8 * (SECTORS * SECTOR_BYTES)).in_dll(library, "sim_flash")
        library.sim_run.restype = C.c_uint32
        self.put(b"\xff" * SECTORS * SECTOR_BYTES)

    def number(self, name: str) -> int:
        return C.c_uint32.in_dll(self.library, f"sim_{name}").value

    def put(self, content: bytes) -> None:
        C.memmove(self.content, content, len(content))

    def run(self, keeps: np.ndarray, rest_every: int, cut_at: int = 0, torn: int = 0) -> int:
        """Keep bytes, rows of address and value; how many were kept before the cut."""
        C.c_uint32.in_dll(self.library, "sim_cut_at").value = cut_at
        C.c_uint32.in_dll(self.library, "sim_torn").value = torn
        addresses, values = keeps[:, 0].astype("<u2"), keeps[:, 1].astype("u1")
        return int(
            self.library.sim_run(
                addresses.ctypes.data_as(C.c_void_p), values.ctypes.data_as(C.c_void_p), len(keeps), rest_every
            )
        )

    def started(self) -> tuple[bytes, bytes]:
        """What the chip starts with, and what it starts with once more."""
        found = (C.create_string_buffer(BYTES), C.create_string_buffer(BYTES))
        self.library.sim_started(*found)
        return found[0].raw, found[1].raw

    def erases(self) -> list[int]:
        return list((C.c_uint32 * SECTORS).in_dll(self.library, "sim_erases"))


@pytest.fixture
def flash(tmp_path: Path) -> Iterator[Flash]:
    toolchain.needed("gcc")
    out = tmp_path / "flash.so"
    sources = [FIRMWARE / "door_flash.c", toolchain.HERE / "rp2040" / "flash_sim.c"]
    options = ["-std=c99", "-O2", *toolchain.WARNINGS, "-shared", "-fPIC", f"-I{FIRMWARE}"]
    toolchain.run(["gcc", *options, *sources, "-o", out])
    flash = Flash(C.CDLL(str(out)))
    yield flash
    assert flash.number("set_bits") == 0  # a program never asks flash to set a bit


def drawn(n: int, seed: int) -> np.ndarray:
    """Addresses and values, each another than the last at its address."""
    rng = np.random.default_rng(seed)
    return np.stack([rng.integers(0, BYTES, n), np.arange(n) % 251], axis=1)


def after(keeps: np.ndarray, before: bytes = b"\xff" * BYTES) -> bytes:
    kept = bytearray(before)
    for address, value in keeps.tolist():
        kept[address] = value
    return bytes(kept)


# How much was kept before, and how often the motor rests: a fresh chip; a sector that fills; one that is moved to when
# all have been used; and one without a rest, which erases within a keep.
@pytest.mark.parametrize(("kept_before", "rest_every"), [(0, 1), (495, 1), (8 * 520, 1), (690, 0), (8 * 704 + 690, 0)])
def test_a_cut_at_any_moment_leaves_what_was_kept_and_at_most_one_byte_more(
    kept_before: int, rest_every: int, flash: Flash
) -> None:
    before = drawn(kept_before, 1)
    assert flash.run(before, rest_every) == kept_before
    content, old = bytes(flash.content), after(before)
    keeps = drawn(40, 2)
    assert flash.run(keeps, rest_every) == 40
    operations = flash.number("operations")
    assert operations >= 40
    erased = sum(flash.erases())
    for cut_at in range(1, operations + 1):
        for torn in TORN:
            flash.put(content)
            n = flash.run(keeps, rest_every, cut_at, torn)
            first, again = flash.started()
            assert first in (after(keeps[:n], old), after(keeps[: n + 1], old)), (cut_at, torn)
            assert again == first, (cut_at, torn)
    assert erased >= 1


def test_ten_years_leave_every_sector_far_from_its_end(flash: Flash) -> None:
    year = MOST_PROGRAMS_A_DAY * 365
    # The bytes of the state, written again and again; a program a byte, the motor resting each second.
    keeps = np.stack([968 + np.arange(year) % 54, np.arange(year) // 54 % 251], axis=1)
    assert flash.run(keeps, 1) == year
    in_ten_years = 10 * max(flash.erases())
    assert max(flash.erases()) - min(flash.erases()) <= 1
    assert 100 < in_ten_years < 300
    assert in_ten_years * 100 < ENDURANCE


def test_a_record_that_was_half_written_is_passed_over(flash: Flash) -> None:
    flash.run(np.array([[5, 0x12]]), 1)
    content = bytearray(flash.content)
    (at,) = [n for n in range(1280, SECTOR_BYTES) if content[n] == 0x12]
    content[at] |= 0x21  # two bits not yet cleared
    flash.put(bytes(content))
    assert flash.started()[0] == b"\xff" * BYTES


# A number that was never written would be the highest of all, and the sector after it would never be believed; a copy
# in which a bit has turned.
@pytest.mark.parametrize(("at", "changed"), [(4, b"\xff\xff\xff\xff"), (256 + 5, b"\x13")])
def test_a_sector_whose_head_or_copy_is_not_right_is_not_believed(at: int, changed: bytes, flash: Flash) -> None:
    flash.run(np.array([[5, 0x12]]), 1)
    flash.run(drawn(600, 1), 1)  # moves on: sector 1 serves
    content = bytearray(flash.content)
    content[SECTOR_BYTES + at : SECTOR_BYTES + at + len(changed)] = changed
    flash.put(bytes(content))
    first, again = flash.started()
    assert first == again == after(drawn(600, 1)[:SERVED], after(np.array([[5, 0x12]])))
