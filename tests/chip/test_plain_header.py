"""The plain header of every shipped configuration: compiled everywhere, run on three emulated chips, day by day."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from sunsched.job import pipeline
from sunsched.table import facts
from tests.chip import sites
from tests.support import toolchain

HeaderOf = Callable[[str, int], Path]
SOURCE = toolchain.HERE / "dump_plain.c"
USE = '#include "{}"\nint16_t use(void);\nint16_t use(void) {{ return door_open_min(2u, 28u); }}\n'
CASES = [(name, year) for name in sites.SHIPPED for year in sites.YEARS]
# 14 months of 33 days are tried, of which a year has 365 or 366.
TRIED = 14 * 33


def test_there_are_shipped_configurations() -> None:
    assert len(sites.SHIPPED) >= 3


@pytest.fixture(scope="module")
def header(tmp_path_factory: pytest.TempPathFactory) -> HeaderOf:
    folder = tmp_path_factory.mktemp("headers")

    def path_of(name: str, year: int) -> Path:
        path = folder / f"{name}_{year}.h"
        path.write_bytes(pipeline.texts_of(sites.built(name, year), ["c"])["c"])
        return path

    return path_of


def include(path: Path) -> str:
    return f'-DTABLE_HEADER="{path}"'


@pytest.mark.parametrize("line", toolchain.MATRIX_NAMES)
def test_the_header_compiles_without_a_warning(line: str, header: HeaderOf, tmp_path: Path) -> None:
    for name in sites.SHIPPED:
        use = tmp_path / f"use_{name}.c"
        use.write_text(USE.format(header(name, 2027)))
        toolchain.compile_text(line, use, tmp_path / "use.o")


@pytest.mark.parametrize(("name", "year"), CASES)
def test_the_header_says_on_this_computer_what_the_plan_says(
    name: str, year: int, header: HeaderOf, tmp_path: Path
) -> None:
    program = toolchain.host_program([SOURCE], tmp_path / "dump", include(header(name, year)))
    compare(toolchain.run([program]).stdout.split(), name, year)


@pytest.mark.parametrize("mcu", ["atmega328p", "attiny85"])
@pytest.mark.parametrize(("name", "year"), CASES)
def test_the_header_says_on_an_emulated_avr_what_the_plan_says(
    name: str, year: int, mcu: str, header: HeaderOf, tmp_path: Path
) -> None:
    elf = toolchain.avr_program([SOURCE], tmp_path / "dump.elf", mcu, include(header(name, year)))
    compare(toolchain.simavr_output(elf, mcu), name, year)


@pytest.mark.parametrize(("name", "year"), CASES)
def test_the_header_says_on_an_emulated_cortex_m0_what_the_plan_says(
    name: str, year: int, header: HeaderOf, tmp_path: Path
) -> None:
    elf = toolchain.arm_program([SOURCE], tmp_path / "dump.elf", include(header(name, year)))
    compare(toolchain.qemu_output(elf), name, year)


def compare(lines: list[str], name: str, year: int) -> None:
    """All days as planned, checksum good, every impossible date refused."""
    plan = sites.built(name, year).plan
    wanted = sites.told_lines(plan)
    assert lines[:-1] == wanted
    assert lines[-1][:6] == f"#1{TRIED - plan.n_days:04x}"


@pytest.mark.parametrize(("name", "year"), CASES)
def test_solar_midnight_on_the_chip_is_the_suns_within_a_minute(name: str, year: int) -> None:
    plan = sites.built(name, year).plan
    midnight_min = facts.midnight_nodes(plan.midnight_min).at(np.arange(plan.n_days))
    assert np.abs(midnight_min - plan.midnight_min).max() <= 1


def test_a_changed_row_is_noticed_by_the_chips_checksum(header: HeaderOf, tmp_path: Path) -> None:
    path = header(sites.SHIPPED[0], 2027)
    text = path.read_text()
    # A row with minutes: that of a day shut has no digit but those of its comment.
    row = re.compile(r"\{ +(\d+), +(\d+) \}").search(text, text.index("static const int16_t door_minutes"))
    assert row is not None
    changed, digit = tmp_path / "changed.h", row.start(1)
    changed.write_text(text[:digit] + str((int(text[digit]) + 1) % 10) + text[digit + 1 :])
    elf = toolchain.avr_program([SOURCE], tmp_path / "dump.elf", "atmega328p", include(changed))
    assert toolchain.simavr_output(elf, "atmega328p")[-1].startswith("#0")
