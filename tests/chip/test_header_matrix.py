"""The one-header reader where the high byte lies first; all machines: `python -m tests.chip.header_matrix`."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest

from tests.chip import header_matrix, packed
from tests.chip.header_matrix import BY_NAME, MACHINES
from tests.chip.packed import OF_LAYOUT, Case
from tests.support import toolchain

POWERPC = BY_NAME["powerpc"]


@pytest.fixture(autouse=True)
def _tools() -> None:
    toolchain.needed("powerpc-linux-gnu-gcc", "qemu-ppc")


def test_every_layout_is_read_right_where_the_high_byte_lies_first() -> None:
    found = header_matrix.tried(POWERPC, OF_LAYOUT, ["c99"])
    assert found.faults == ()
    assert (found.days, found.differing) == (4022, 0)


def test_a_reader_that_takes_two_bytes_as_a_word_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    header = packed.header

    def hasty(case: Case, folder: Path) -> Path:
        path = header(case, folder)
        reader = folder / "sunsched_table.h"
        text = reader.read_text(encoding="ascii")
        right = "return (uint16_t)(low | (high << 8));"
        assert right in text
        reader.write_text(text.replace(right, "return (uint16_t)((low << 8) | high);"), encoding="ascii")
        return path

    monkeypatch.setattr(packed, "header", hasty)
    found = header_matrix.tried(POWERPC, OF_LAYOUT[:1], ["c99"])
    assert found.differing > 300
    assert found.faults


def test_a_machine_that_is_not_as_said_does_not_compile(tmp_path: Path) -> None:
    for wrong in ({"big_endian": False}, {"int_bits": 16}, {"pointer_bits": 64}):
        machine = dataclasses.replace(POWERPC, **wrong)
        with pytest.raises(AssertionError, match="machine_is"):
            header_matrix.compiled(machine, OF_LAYOUT[0], "c99", tmp_path)


def test_the_page_has_every_machine_and_no_day_that_differs() -> None:
    text = header_matrix.PAGE.read_text(encoding="utf-8")
    table = text.split(header_matrix.BEGIN)[1].split(header_matrix.END)[0].splitlines()
    assert table[:2] == list(header_matrix.heading())
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in table[2:]]
    assert [row[0] for row in rows] == [machine.title for machine in MACHINES]
    for row, machine in zip(rows, MACHINES, strict=True):
        assert row[1] == f"{machine.int_bits}, {machine.pointer_bits}"
        assert row[2] == ("high first" if machine.big_endian else "low first")
        assert row[5:] == ([str(4022 * len(machine.standards)), "0"] if machine.run is not None else ["none", "-"])
