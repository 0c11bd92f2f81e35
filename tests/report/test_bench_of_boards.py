"""The bench README and Makefile of each 8-bit board say that board's supply, divider, loader, adapter and fuses."""

from __future__ import annotations

import pytest

from sunsched.config import toml_file
from sunsched.config.configuration import Configuration
from sunsched.emit import firmware_notes
from sunsched.hardware.boards import BOARDS
from sunsched.job import pipeline
from sunsched.job.bench import Bench, bench_of
from sunsched.report.bench.readme import readme
from tests.conftest import ROOT

# What each README must say and must not.
SAID: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "atmega328p": (
        ("| ATmega328P, 16 MHz, 5 V,", "300 kohm", "1 kHz PWM", "EFUSE=0xFC", "below 3.8 V", "(the board's USB)"),
        ("serial adapter", "3.3 V"),
    ),
    "atmega328p-8mhz": (
        (
            *(
                "| ATmega328P, 8 MHz, 3.3 V,",
                "560 kohm",
                "0.5 kHz PWM",
                "EFUSE=0xFD",
                "below 2.4 V",
                "adapter for 3.3 V",
            ),
            *("such boards have no USB", "57600 baud; other boot loaders want, say, `BAUD=115200`"),
        ),
        ("300 kohm", "(the board's USB)"),
    ),
    "atmega1284p": (("| PB0 | 1 Hz", "| PA0 | between the cell", "HFUSE=0xD1"), ("PB0 (PB0)", "DS40002061")),
    "atmega644p": (
        ("| ATmega644P, 16 MHz, 5 V,", "| PB0 | 1 Hz", "EFUSE=0xFC", "below 3.8 V"),
        ("PB0 (PB0)", "No fuses"),
    ),
    "atmega2560": (("| D10 (PB4) | 1 Hz", "| A0 (PF0) |", "below 4.5 V"), ("serial adapter",)),
    "atmega32u4": (
        (
            "the program does not speak on the chip's own USB",
            "PORT=/dev/ttyACM0",
            "adapter for 5 V",
            "No fuses are advised",
        ),
        ("HFUSE=", "(the board's USB)"),
    ),
}
LOADERS = {"atmega328p": "arduino", "atmega2560": "wiring", "atmega32u4": "avr109"}


def bench(board: str) -> Bench:
    data = toml_file.read(str(ROOT / "configs" / "larch_end.toml")).as_written()
    data["chip"]["board"] = board
    data.pop("pins", None)
    return bench_of(pipeline.built(Configuration.model_validate(data), 2027), force=True)


@pytest.mark.parametrize("board", SAID)
def test_a_readme_says_what_the_board_is(board: str) -> None:
    text = " ".join(readme(bench(board), "command", "hut.toml", (2027, 2027)).split())
    wanted, unwanted = SAID[board]
    assert [words for words in wanted if words not in text] == []
    assert [words for words in unwanted if words in text] == []


@pytest.mark.parametrize("board", LOADERS)
def test_the_makefile_speaks_to_the_boards_loader(board: str) -> None:
    text = firmware_notes.makefile("made", ["door_main.c"], BOARDS[board])
    assert f"-p $(MCU) -c {LOADERS[board]} -P $(PORT)" in text
    assert f"MCU = {board}\n" in text
