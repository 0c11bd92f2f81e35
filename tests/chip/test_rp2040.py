"""The program on an emulated RP2040: some hours beside this computer, and what its board does between two steps.

The whole is `python -m tests.chip.rp2040_run`.
"""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sunsched.controller.c.firmware import uf2
from sunsched.emit import c_years, firmware
from sunsched.hardware.pins import pins_on
from sunsched.job import firmware_folder
from sunsched.job.chip import flash_tables
from sunsched.job.files import shipped_c
from tests.chip import rp2040_run, sites
from tests.chip.recording import Recording
from tests.support import toolchain

ROW = 86  # 28 March


@pytest.fixture(scope="module")
def day() -> Recording:
    """A day in a storm on this computer, the power cut while the door is up and two seconds into its closing."""
    plan = sites.built("larch_end", 2027).plan
    close_s = (int(plan.close_min[ROW]) - int(plan.noon_min[ROW])) * 60
    return Recording("larch_end", ROW, ["storm"], cuts_s=(9000, close_s + 2))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("door")


@pytest.fixture(scope="module")
def evening(day: Recording, folder: Path) -> rp2040_run.Lived:
    """From noon until an hour after the closing."""
    until_s = (int(day.plan.close_min[ROW]) - int(day.plan.noon_min[ROW])) * 60 + 3600
    n = int((np.cumsum(day.record["seconds"]) <= until_s).sum())
    return rp2040_run.compared("larch_end", day, folder, runs=slice(n))


@pytest.fixture(scope="module")
def moments(evening: rp2040_run.Lived, folder: Path) -> dict[str, Any]:
    assert evening.seconds
    return rp2040_run.emulated(folder / "plan.json", 60, "moments.mjs")


def test_every_second_is_decided_as_on_this_computer(evening: rp2040_run.Lived, folder: Path) -> None:
    assert evening.seconds > 20_000
    assert (evening.differing, evening.words) == (0, ())
    assert (folder / "log.txt").read_text("latin1").count(",start,") == 6  # event and reason, of three lives
    assert evening.erases <= 1  # of the last life: a chip that starts on flash that it knows
    assert evening.programs < 150
    assert evening.stack_bytes < 1024


def test_another_second_or_a_motor_that_rests_is_found(day: Recording, folder: Path, evening: rp2040_run.Lived) -> None:
    assert evening.seconds
    given = np.frombuffer((folder / "given.bin").read_bytes(), rp2040_run._GIVEN).copy()
    wanted = np.repeat(day.record, day.record["seconds"])[: len(given)]
    assert not rp2040_run._motor_apart(given, wanted).any()
    running = np.flatnonzero((given["motor"] != 0) & (np.roll(given["motor"], 1) != 0))
    given["motor"][running[0]] = 0
    assert np.flatnonzero(rp2040_run._motor_apart(given, wanted)).tolist() == [running[0]]


def test_the_motor_is_off_from_the_start_and_an_end_switch_cuts_it_at_once(moments: dict[str, Any]) -> None:
    # The emulator's states: 4 an input pulled down, 0 an output that is low.
    assert set(moments["motorAtStart"]) == {4, 0}
    assert moments["raising"] == [1, 1]
    assert moments["cutAfterMicroseconds"] < 100
    assert (moments["afterGlitch"], moments["atEnd"]) == (1, 0)
    assert moments["released"] == [0, 0]
    assert (moments["both"], moments["faults"]) == (0, 0)


def test_the_serial_line_answers(moments: dict[str, Any]) -> None:
    assert "# ready" in moments["line"]
    assert "# site Larch end" in moments["line"]
    assert "# sunsched" in moments["line"]


def test_without_a_pulse_the_crystals_own_seconds_are_counted(moments: dict[str, Any]) -> None:
    assert moments["minutesWithoutPulse"] == 3


def test_a_program_that_hangs_is_reset_after_four_seconds(moments: dict[str, Any]) -> None:
    assert moments["resetsBefore"] == 0
    assert 3 < moments["hungSeconds"] < 4.1  # since the step before


def test_the_second_stage_carries_the_checksum_that_the_boot_rom_asks_for(folder: Path, evening: Any) -> None:
    assert evening.seconds
    stage = (folder / "door.bin").read_bytes()[:256]
    crc = 0xFFFFFFFF
    # RP2040 data sheet, 2.8.1.3.1: polynomial 0x04c11db7, start 0xffffffff, no reflection, no final inversion.
    for byte in stage[:252]:
        crc ^= byte << 24
        for _ in range(8):
            crc = (crc << 1 ^ (0x04C11DB7 if crc & 0x80000000 else 0)) & 0xFFFFFFFF
    assert int.from_bytes(stage[252:], "little") == crc


def test_the_drives_file_holds_the_program_page_by_page(folder: Path, evening: Any) -> None:
    assert evening.seconds
    program, made = (folder / "door.bin").read_bytes(), (folder / "door.uf2").read_bytes()
    assert made == uf2.blocks(program)
    blocks = [made[at : at + 512] for at in range(0, len(made), 512)]
    # Microsoft, UF2 file format: magic numbers, flag 0x2000 with the family, 256 bytes of payload.
    assert all(block[:8] == b"UF2\n\x57\x51\x5d\x9e" and block[-4:] == b"\x30\x6f\xb1\x0a" for block in blocks)
    assert b"".join(block[32 : 32 + 256] for block in blocks)[: len(program)] == program
    assert [int.from_bytes(block[12:16], "little") for block in blocks] == [
        0x10000000 + 256 * n for n in range(len(blocks))
    ]


@pytest.mark.parametrize("parts", ["direction", "relays", "closed", "ds1307", "pcf8523", "pcf8563"])
def test_the_board_compiles_with_every_part_without_a_warning(parts: str, tmp_path: Path) -> None:
    toolchain.needed("arm-none-eabi-gcc")
    work = sites.built(f"larch_end+{parts}", 2027)
    made = flash_tables.flash_tables(work.configuration, (2027,), 0)
    board = rp2040_run.BOARD
    machine = dataclasses.replace(firmware_folder.machine_of(work), board=board, pins=pins_on(board))
    shipped = {file: shipped_c(file).decode("ascii") for file in firmware.shipped_names(board)}
    header = c_years.text(made.plans, made.tables, work.stamp)
    for file, text in firmware.texts(work.plan, header, work.stamp, machine, shipped, "door").items():
        (tmp_path / file).write_text(text)
    flags = re.findall(r"^CFLAGS = (.*)$", (tmp_path / "Makefile").read_text(), re.MULTILINE)[0].split()
    chip = ("door_board_rp2040.c", "door_start_rp2040.c", "door_flash.c", "door_board_drive.c")
    words = ["arm-none-eabi-gcc", *flags, *toolchain.WARNINGS, "-c", *chip]
    toolchain.run(words, folder=tmp_path)
