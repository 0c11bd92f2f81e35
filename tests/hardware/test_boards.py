"""The boards: what the registry says of each is what the shipped C and the configuration make of it."""

from __future__ import annotations

import re

import pytest
from pydantic import ValidationError

from sunsched.config.configuration import Configuration
from sunsched.hardware.boards import BOARDS, Board, names_with_program
from sunsched.hardware.pins import pins_on, refuse_pins_that_cannot
from tests.support import toolchain

SITE = {"latitude_deg": 47.3, "longitude_deg": 8.9, "zone": "Europe/Zurich"}


@pytest.mark.parametrize("name", names_with_program())
def test_a_program_needs_its_board_file_and_a_wiring_that_works(name: str) -> None:
    board = BOARDS[name]
    folder = toolchain.C_DIR.parent / "micropython" if board.language == "micropython" else toolchain.C_DIR
    assert (folder / board.program).is_file()
    refuse_pins_that_cannot(pins_on(board), board)


def test_the_programs_slots_hold_what_the_registry_says() -> None:
    text = (toolchain.C_DIR / "firmware" / "door_site.h").read_text(encoding="ascii")
    (at,) = re.findall(r"#define DOOR_IMAGE_ROOM (\d+)u", text)
    assert int(at) == BOARDS["atmega328p"].table_bytes


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
        ("pico_w", "for an RP2040 that speaks MicroPython say 'micropython-rp2040'"),
        ("stm32f103", "for an STM32 there is no door program; the table works there"),
        ("uno", "a board of that name has an ATmega328P: say 'atmega328p'"),
        ("atmega328", "nearest is 'atmega328p'"),
    ],
)
def test_another_board_is_told_what_works_there(asked: str, words: str) -> None:
    with pytest.raises(ValidationError) as raised:
        Configuration.model_validate({"site": SITE, "chip": {"board": asked}})
    assert words in str(raised.value)
    assert ("writes a C99 header" in str(raised.value)) == ("say 'a" not in words and "nearest" not in words)
