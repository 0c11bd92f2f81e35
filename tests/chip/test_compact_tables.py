"""Packed tables on this computer and on three emulated chips, from flash, EEPROM and RAM: each day as planned.

A sample: every configuration in its smallest layout from an ATmega328P's flash, and a table of each layout on every
machine and memory. All tables everywhere is one command: `python -m tests.chip.table_proof`.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from sunsched.base.errors import CapacityError
from sunsched.table.framing import crc16
from tests.chip import packed, table_figures, table_targets
from tests.chip.packed import OF_LAYOUT, Case
from tests.support import toolchain

SMALLEST = [case for case in packed.CASES if case.layout == ("slopes" if "birch" in case.name else "curves")]
SAMPLE = [(case, "328p flash") for case in SMALLEST if case not in OF_LAYOUT]
SAMPLE += [(case, target) for case in OF_LAYOUT for target in table_targets.TARGETS]


@pytest.mark.parametrize(("case", "target"), SAMPLE, ids=str)
def test_a_chip_says_what_the_plan_says(case: Case, target: str, tmp_path: Path) -> None:
    """Minutes, days shut, facts and solar midnight of every day; impossible dates and other years refused."""
    reason = table_targets.cannot(case, target)
    if reason is not None:
        # Stated once, in table_targets.cannot: only plain images are this long.
        assert case.layout == "plain" and "the EEPROM has" in reason
        return
    lines = table_targets.said(table_targets.program(case, target, tmp_path), target)
    assert table_targets.wrong(case, lines) == []
    if target in table_figures.MEASURED:
        row = table_figures.measured(case, target, lines, tmp_path).row(case, target)
        kept = table_figures.kept_rows()[str(case), target]
        assert table_figures.still_true(kept, row), (
            f"kept {kept}, found {row}; python -m tests.chip.table_proof --write measures all anew"
        )


def test_a_figure_off_by_more_than_a_twentieth_is_noticed() -> None:
    kept = "| larch_end-2027-plain | 328p flash | 1542 | 1460 | 2000 | 0 | - | 30 |"
    assert table_figures.still_true(kept, kept.replace("2000", "2099"))
    assert not table_figures.still_true(kept, kept.replace("2000", "2101"))
    assert not table_figures.still_true(kept, kept.replace("| 0 |", "| 1 |"))
    assert not table_figures.still_true(kept, kept.replace("| - |", "| 9 |"))
    assert not table_figures.still_true(kept, kept.replace("328p flash", "328p ram"))


def test_the_sample_has_every_layout_and_every_configuration() -> None:
    assert {case.layout for case in OF_LAYOUT} == {case.layout for case in packed.CASES}
    assert {case.name for case in OF_LAYOUT} == {case.name for case in packed.CASES}
    assert set(OF_LAYOUT) <= set(packed.CASES)


def test_figures_are_kept_for_every_table_and_target() -> None:
    kept = table_figures.kept_rows()
    assert {name for name, _ in kept} == {str(case) for case in packed.CASES}
    for case in packed.CASES:
        on = {target for name, target in kept if name == str(case)}
        assert on <= set(table_figures.MEASURED)
        # From EEPROM where it fits: the image's length stands in the row itself.
        image = int(kept[str(case), "328p flash"].split("|")[3])
        fits = {f"{machine} eeprom" for machine, room in table_targets.EEPROM_BYTES.items() if image <= room}
        assert on == {target for target in table_figures.MEASURED if "eeprom" not in target} | fits


def test_a_chip_that_is_told_other_minutes_is_found_out() -> None:
    """The judge itself: one minute, one fact, one refused date changed in what a chip said."""
    case = OF_LAYOUT[1]
    lines = packed.twin_lines(case)
    refused = 14 * 33 - 365
    verdict = f"#0001{refused:04x}{365:04x}{366:04x}"
    good = [*lines, verdict, packed.told_words(case)]
    assert table_targets.wrong(case, good) == []
    for at in (3, 7, 9):
        digit = f"{int(lines[200][at], 16) ^ 1:x}"
        changed = [*good]
        changed[200] = lines[200][:at] + digit + lines[200][at + 1 :]
        assert any("2027" in fault for fault in table_targets.wrong(case, changed))
    assert table_targets.wrong(case, [*lines, "#0001" + verdict[5:].replace("6", "7"), packed.told_words(case)]) != []


def with_checksum(raw: bytes) -> bytes:
    return raw[:-2] + crc16(raw[:-2]).to_bytes(2, "little")


def damaged(raw: bytes) -> dict[str, tuple[bytes, str]]:
    """Images that are not to be used, and what sunsched_check has to say of each."""
    flipped = {f"bit {bit} of byte {at} flipped": raw[:at] + bytes([raw[at] ^ (1 << bit)]) + raw[at + 1 :]
               for at, bit in ((5, 0), (len(raw) // 2, 3), (len(raw) - 1, 7))}  # fmt: skip
    return {name: (image, "04") for name, image in flipped.items()} | {
        "erased memory": (b"\xff" * len(raw), "01"),
        "another mark": (with_checksum(b"\xd4" + raw[1:]), "01"),
        "longer than its memory": (with_checksum(raw[:3] + (4000).to_bytes(2, "little") + raw[5:]), "01"),
        "another revision": (with_checksum(raw[:1] + b"\x03" + raw[2:]), "02"),
        "a layout that is not compiled in": (with_checksum(raw[:2] + bytes([raw[2] & 0xF0 | 2]) + raw[3:]), "03"),
    }


@pytest.mark.parametrize("target", ["host ram", "328p eeprom", "tiny85 eeprom", "m0 ram"])
def test_a_damaged_image_is_noticed_and_named(target: str, tmp_path: Path) -> None:
    case = Case("east_terrace", 2028, "curves")
    for name, (image, verdict) in damaged(packed.work(case).table.raw).items():
        lines = table_targets.said(table_targets.program(case, target, tmp_path, image), target)
        assert next(line for line in lines if line.startswith("#"))[1:3] == verdict, name


@pytest.mark.parametrize("target", ["328p flash", "m0 flash"])
def test_a_changed_byte_in_a_header_is_noticed(target: str, tmp_path: Path) -> None:
    case = Case("east_terrace", 2028, "curves")
    header = packed.header(case, tmp_path)
    text = header.read_text()
    at = text.index("/* minutes */")
    at = text.index("0x", at) + 3
    digit = f"{int(text[at], 16) ^ 1:X}"
    words = table_targets.options(case)
    (tmp_path / "changed.h").write_text(text[:at] + digit + text[at + 1 :])
    words += [f'-DTABLE_HEADER="{tmp_path / "changed.h"}"']
    if target == "m0 flash":
        elf = toolchain.arm_program([table_targets.SOURCE], tmp_path / "dump.elf", *words)
    else:
        elf = toolchain.avr_program([table_targets.SOURCE], tmp_path / "dump.elf", "atmega328p", *words)
    lines = table_targets.said(elf, target)
    assert next(line for line in lines if line.startswith("#"))[1:3] == "04"


@pytest.mark.parametrize(("name", "layout"), [key for key in packed.CANNOT_PACK if key[1] == "years"])
def test_tables_that_cannot_be_are_refused_in_words(name: str, layout: str) -> None:
    with pytest.raises(CapacityError, match=packed.CANNOT_PACK[name, layout]):
        packed.packed(Case(name, packed.MANY[0], layout))
