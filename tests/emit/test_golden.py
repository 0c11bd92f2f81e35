"""Emitted files compared whole with those that were kept; the kept C is compiled and run."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from sunsched.emit import eeprom_hex
from sunsched.job import compact
from tests.chip import packed, sites, table_targets
from tests.emit.golden import FOLDER, GOLDENS, REWRITE
from tests.support import toolchain


@pytest.mark.parametrize("name", GOLDENS)
def test_what_is_emitted_is_what_was_kept(name: str) -> None:
    kept, emitted = (FOLDER / name).read_bytes(), GOLDENS[name]()
    if kept != emitted:
        was, now = (text.decode().splitlines() for text in (kept, emitted))
        pairs = [(n, *pair) for n, pair in enumerate(zip(was, now, strict=False), 1) if pair[0] != pair[1]]
        pytest.fail(
            f"{name} is emitted otherwise; {len(was)} lines kept, {len(now)} now, {len(pairs)} differ, the first: "
            f"{pairs[:1]}. If that is meant: {REWRITE}"
        )


def test_every_kept_file_is_read_by_a_test() -> None:
    assert {path.name for path in FOLDER.iterdir()} == set(GOLDENS)


def machines() -> list[str]:
    return ["host", "atmega328p", "attiny85"]


def lines_of(machine: str, source: Path, folder: Path, *options: str) -> list[str]:
    if machine == "host":
        return toolchain.run([toolchain.host_program([source], folder / "dump", *options)]).stdout.split()
    elf = toolchain.avr_program([source], folder / "dump.elf", machine, *options)
    return toolchain.simavr_output(elf, machine)


@pytest.mark.parametrize("machine", machines())
def test_the_kept_plain_header_says_what_the_plan_says(machine: str, tmp_path: Path) -> None:
    option = f'-DTABLE_HEADER="{FOLDER / "fig_yard_2028.h"}"'
    lines = lines_of(machine, toolchain.HERE / "dump_plain.c", tmp_path, option)
    assert lines[:-1] == sites.told_lines(sites.built("fig_yard", 2028).plan)
    assert lines[-1].startswith("#1")


@pytest.mark.parametrize("machine", machines())
def test_the_kept_packed_header_says_what_the_plan_says(machine: str, tmp_path: Path) -> None:
    case = packed.Case("larch_end", 2027, "curves")
    options = [f'-DTABLE_HEADER="{FOLDER / "larch_end_2027.h"}"', *table_targets.options(case)]
    assert table_targets.wrong(case, lines_of(machine, table_targets.SOURCE, tmp_path, *options)) == []


def test_the_kept_hex_is_the_kept_headers_image() -> None:
    header = (FOLDER / "larch_end_2027.h").read_text()
    image = header[header.index("door_image[]") :].split("};")[0]
    written = bytes(int(byte, 16) for byte in re.findall(r"\b0x([0-9A-F]{2})\b", image))
    assert eeprom_hex.raw_of((FOLDER / "larch_end_2027.hex").read_text()) == written


def test_a_packed_header_names_the_command_that_makes_it_again() -> None:
    assert "sunsched table larch_end.toml --year 2027 --layout curves\n" in (FOLDER / "larch_end_2027.h").read_text()
    many = packed.work(packed.Case("fig_yard", 2027, "years"))
    text = compact.files_of(many, "c")["fig_yard_2027.h"].decode()
    assert "sunsched table fig_yard.toml --years 2027..2047 --layout years --worst-error 1\n" in text
