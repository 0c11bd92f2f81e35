"""The machines and memories that a packed table is read on, what each answers, and which combinations cannot be."""

from __future__ import annotations

from pathlib import Path

from sunsched.emit import eeprom_hex
from sunsched.hardware.boards import BOARDS
from tests.chip import packed
from tests.chip.packed import Case
from tests.support import toolchain

SOURCE = toolchain.HERE / "dump_compact.c"
# Machine and memory: generated header with the image in flash or (host) memory; an image put into EEPROM afterwards
# from the Intel HEX that `table --as eeprom` writes; an image copied to RAM by the program.
TARGETS = ("host header", "host ram", "328p flash", "328p ram", "328p eeprom", "tiny85 flash", "tiny85 eeprom",
           "m0 flash", "m0 ram")  # fmt: skip
MCU = {"328p": "atmega328p", "tiny85": "attiny85"}
EEPROM_BYTES = {machine: BOARDS[name].eeprom_bytes for machine, name in MCU.items()}
# Microchip, data sheets DS40002061 (ATmega48A to 328P) and 2586Q (ATtiny25 to 85): bytes of SRAM.
SRAM_BYTES = {"328p": 2048, "tiny85": 512}


def cannot(case: Case, target: str) -> str | None:
    """Why a table cannot be on a target, or None.

    A plain image of a year, some 1500 bytes, fits neither EEPROM; a blocks image of a jagged year over 512 bytes
    does not fit an ATtiny85's. A tiny85's SRAM of 512 bytes is no place for a table, so that is no target.
    """
    machine, memory = target.split()
    size = len(packed.work(case).table.raw)
    if memory == "eeprom" and size > EEPROM_BYTES[machine]:
        return f"{size} bytes, the EEPROM has {EEPROM_BYTES[machine]}"
    return None


def options(case: Case) -> list[str]:
    """The years that are printed, and those just outside, which must be refused."""
    years = ",".join(f"{year}u" for year in case.shown)
    many = ["-DMANY_YEARS"] if len(case.years) > 1 else []
    return [f"-DYEARS={years}", f"-DOUTSIDE={case.years[0] - 1}u,{case.years[-1] + 1}u", *many]


def image_file(raw: bytes, folder: Path) -> str:
    """Bytes of an image as a C initializer, and the option that names its file."""
    path = folder / "image.inc"
    path.write_text(",".join(str(byte) for byte in raw) + "\n")
    return f'-DIMAGE_FILE="{path}"'


def program(case: Case, target: str, folder: Path, raw: bytes | None = None) -> Path:
    """The program that prints a table on a target; `raw` in place of the table's own image (not in flash)."""
    machine, memory = target.split()
    out = folder / "dump.elf"
    words = options(case)
    image = raw if raw is not None else packed.work(case).table.raw
    if memory == "eeprom":
        in_eeprom = [f"-DROOM={EEPROM_BYTES[machine]}u", "-DSUNSCHED_IMAGE_IN_EEPROM", *only(case)]
        empty = toolchain.avr_program([SOURCE], folder / "empty.elf", MCU[machine], *words, *in_eeprom)
        return toolchain.with_eeprom(empty, eeprom_hex.raw_of(eeprom_hex.text(image)), out)
    if memory == "ram" and machine != "328p":
        words += [image_file(image, folder), *only(case)]
    else:
        words += [f'-DTABLE_HEADER="{packed.header(case, folder)}"']
    if memory == "ram" and machine == "328p":
        words += ["-DSUNSCHED_IMAGE_IN_RAM"]
    if machine == "host":
        return toolchain.host_program([SOURCE], out, *words)
    if machine == "m0":
        return toolchain.arm_program([SOURCE], out, *words)
    return toolchain.avr_program([SOURCE], out, MCU[machine], *words)


def only(case: Case) -> list[str]:
    """The decoder of the table alone, as a generated header asks for it."""
    return [f"-DSUNSCHED_WITH_{case.layout.upper()}"]


def said(elf: Path, target: str) -> list[str]:
    """What the program prints."""
    machine = target.split()[0]
    if machine == "host":
        return toolchain.run([elf]).stdout.split()
    if machine == "m0":
        return toolchain.qemu_output(elf, 120)
    return toolchain.simavr_output(elf, MCU[machine], 120)


def wrong(case: Case, lines: list[str]) -> list[str]:
    """All that is wrong with what a target said of a table; empty if nothing."""
    days = [line for line in lines if not line.startswith("#")]
    remarks = [line for line in lines if line.startswith("#")]
    found = packed.faults(case, days)
    if days != packed.twin_lines(case):
        found.append("differs from the Python twin")
    # 14 months of 33 days are tried in each year printed; check good, and no table in one byte less room.
    refused = sum(14 * 33 - packed.days_of(year) for year in case.shown)
    beside = [packed.days_of(year) for year in (case.years[0] - 1, case.years[-1] + 1)]
    wanted = [f"#0001{refused:04x}" + "".join(f"{days:04x}" for days in beside), packed.told_words(case)]
    if remarks[:2] != wanted:
        found.append(f"says {remarks[:2]}, not {wanted}")
    return found
