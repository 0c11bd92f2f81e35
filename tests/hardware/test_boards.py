"""The boards: what the registry says of each is what the shipped C and the configuration make of it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from pydantic import ValidationError

from sunsched.config.configuration import Configuration
from sunsched.hardware.boards import AVR_PROGRAM, BOARDS, Board, names_with_program
from sunsched.hardware.pins import pins_on, refuse_pins_that_cannot
from tests.support import toolchain

AVRS = [board.name for board in BOARDS.values() if board.program == AVR_PROGRAM]
VARIANTS = Path("/usr/share/arduino/hardware/arduino/avr/variants")
SITE = {"latitude_deg": 47.3, "longitude_deg": 8.9, "zone": "Europe/Zurich"}


@pytest.mark.parametrize("name", names_with_program())
def test_a_program_needs_its_board_file_and_a_wiring_that_works(name: str) -> None:
    board = BOARDS[name]
    folder = toolchain.C_DIR.parent / "micropython" if board.language == "micropython" else toolchain.C_DIR
    files = [name for name in (board.program, board.chip_header, *board.parts) if name]
    assert [name for name in files if not (folder / name).is_file()] == []
    refuse_pins_that_cannot(pins_on(board), board)


@pytest.mark.parametrize("name", AVRS)
def test_the_programs_slots_hold_what_the_registry_says(name: str) -> None:
    text = (toolchain.C_DIR / "firmware" / "door_site.h").read_text(encoding="ascii")
    (at,) = re.findall(r"#define DOOR_IMAGE_ROOM (\d+)u", text)
    assert int(at) == BOARDS[name].table_bytes


# What is printed beside a pin: arduino-core-avr 1.8, pins_arduino.h of three common boards.
@pytest.mark.parametrize(
    ("name", "variant"),
    [
        ("atmega328p", "standard"),
        ("atmega328p-8mhz", "standard"),
        ("atmega2560", "mega"),
        ("atmega32u4", "leonardo"),
    ],
)
def test_the_names_beside_the_pins_are_those_of_common_boards(name: str, variant: str) -> None:
    toolchain.needed_folder(VARIANTS, "arduino-core-avr")
    printed = printed_names((VARIANTS / variant / "pins_arduino.h").read_text(encoding="utf-8"))
    board = BOARDS[name]
    pins = {words: pin for pin, words in [*board.pins.items(), *board.own_pins.values()] if words[1:].isdigit()}
    assert pins == {words: printed[words] for words in pins}
    assert len(pins) >= 20


def printed_names(text: str) -> dict[str, str]:
    """D4 or A0 -> PD4, from the lists of a pins_arduino.h."""
    plain = re.sub(r"//.*|/\*.*?\*/", "", text)

    def listed(name: str, word: str) -> list[str]:
        return re.findall(word, re.findall(rf"{name}\[\] = \{{(.*?)\}};", plain, re.S)[0])

    ports, bits = listed("port_PGM", r"\bP([A-L])\b"), listed("bit_mask_PGM", r"_BV\(\s*(\d)\s*\)")
    pins = [f"P{port}{bit}" for port, bit in zip(ports, bits, strict=True)]
    first = int(re.findall(r"#define PIN_A0\s+\((\d+)\)", plain)[0])
    return {f"D{n}": pin for n, pin in enumerate(pins)} | {f"A{n}": pin for n, pin in enumerate(pins[first:])}


# Which bit of a fuse does what: avr-libc's header of the chip. Brown-out levels 100 and 101: data sheets, from memory.
@pytest.mark.parametrize("name", [name for name in AVRS if BOARDS[name].fuses])
def test_the_fuses_advised_keep_the_eeprom_and_leave_jtag_off(name: str, tmp_path: Path) -> None:
    toolchain.needed("avr-gcc")
    _, high, extended = BOARDS[name].fuses
    level = {4.3: "FUSE_BODLEVEL0 & FUSE_BODLEVEL1", 2.7: "FUSE_BODLEVEL1"}[BOARDS[name].brown_out_v[0]]
    source = tmp_path / "fuses.c"
    source.write_text(
        f"#include <avr/io.h>\n#define IS(fuse, bits) (((fuse) == (unsigned char)(bits)) ? 1 : -1)\n"
        f"typedef char high[IS({high}, FUSE_BOOTSZ0 & FUSE_BOOTSZ1 & FUSE_SPIEN & FUSE_EESAVE)];\n"
        f"typedef char extended[IS({extended}, {level})];\n"
    )
    toolchain.run(["avr-gcc", f"-mmcu={BOARDS[name].chip}", "-c", source, "-o", tmp_path / "fuses.o"])


@pytest.mark.parametrize("name", AVRS)
def test_a_switch_on_a_pin_that_cannot_wake_the_chip_is_refused(name: str) -> None:
    board = BOARDS[name]
    own = pins_on(board).model_dump(exclude_none=True)
    other = next((pin for pin in board.pins if pin not in board.wake_pins and pin not in own.values()), None)
    for key in ("pulse", "top_switch", "bottom_switch"):
        if other is not None:
            with pytest.raises(ValueError, match=f"{key} on a pin whose change wakes the chip"):
                refuse_pins_that_cannot(pins_on(board, {key: other}), board)
        assert own[key] in board.wake_pins


@pytest.mark.parametrize("name", AVRS)
def test_the_pins_that_wake_the_chip_are_those_whose_ports_its_header_watches(name: str) -> None:
    header = (toolchain.C_DIR / BOARDS[name].chip_header).read_text(encoding="ascii")
    ports = set(re.findall(r"\bDOOR_WATCHED_([A-L])\b", header))
    assert ports
    assert {*BOARDS[name].wake_pins} == {f"P{port}{n}" for port in ports for n in range(8)}


def test_a_board_is_one_of_the_registry(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = {"site": SITE, "chip": {"board": "chip9"}}
    with pytest.raises(ValidationError, match=r"one of 'atmega328p', 'atmega328p-8mhz', .*'attiny85'"):
        Configuration.model_validate(asked)
    monkeypatch.setitem(BOARDS, "chip9", Board("chip9", "Chip 9", 256, 4096, 1_000_000))
    assert Configuration.model_validate(asked).chip.on.title == "Chip 9"


def test_pins_of_a_board_without_a_program_are_refused() -> None:
    with pytest.raises(ValidationError, match="there is no program for 'attiny85'"):
        Configuration.model_validate({"site": SITE, "chip": {"board": "attiny85"}, "pins": {"pulse": "PB1"}})


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ("esp32", "for an ESP32 that speaks MicroPython say 'micropython-esp32'"),
        ("ESP32-C3", "for an ESP32 that speaks MicroPython say 'micropython-esp32'"),
        ("pico_w", "for an RP2040 say 'rp2040' (the program in C), or 'micropython-rp2040' if it speaks MicroPython"),
        ("stm32f103", "for an STM32 there is no door program; the table works there"),
        ("uno", "a board of that name has an ATmega328P: say 'atmega328p'"),
        ("mega", "a board of that name has an ATmega2560: say 'atmega2560'"),
        ("AVR128DA28", "for an AVR128DA there is no door program; the table works there"),
        ("attiny84", "for an ATtiny there is no door program; the table works there"),
        ("atmega328", "nearest is 'atmega328p'"),
    ],
)
def test_another_board_is_told_what_works_there(asked: str, words: str) -> None:
    with pytest.raises(ValidationError) as raised:
        Configuration.model_validate({"site": SITE, "chip": {"board": asked}})
    assert words in str(raised.value)
    has_program = any(word in words for word in ("say 'a", "say 'rp", "nearest"))
    assert ("writes a C99 header" in str(raised.value)) != has_program
