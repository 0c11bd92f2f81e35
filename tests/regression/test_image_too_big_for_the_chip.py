"""`renew --as eeprom` and `table --as eeprom` wrote images of 1,542 bytes for a chip with 1,024, and never said so."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from typer.testing import CliRunner

from sunsched.cli.app import app
from sunsched.hardware.boards import BOARDS
from sunsched.job.renewal.renewal import Ask, renew

LARCH = Path(__file__).parents[2] / "configs" / "larch_end.toml"


def config_for(folder: Path, board: str, more: str = "") -> Path:
    path = folder / f"{board}.toml"
    path.write_text(LARCH.read_text().replace('board = "atmega328p"', f'board = "{board}"') + more)
    return path


# Microchip, data sheets DS40002061 (ATmega328P: 1024 bytes of EEPROM) and 2586Q (ATtiny85: 512 bytes).
@pytest.mark.parametrize(("board", "room"), [("atmega328p", 1024), ("attiny85", 512)])
def test_images_are_the_smallest_and_too_big_ones_are_refused(board: str, room: int, tmp_path: Path) -> None:
    words = ["table", str(config_for(tmp_path, board)), "--year", "2027", "--as", "eeprom", "--out", str(tmp_path)]
    done = CliRunner().invoke(app, words)
    assert (done.exit_code, "layout curves" in done.stdout) == (0, True)
    image = tmp_path / "larch_end_2027.bin"
    assert 0 < image.stat().st_size <= room
    image.unlink()
    refused = CliRunner().invoke(app, [*words, "--layout", "plain"])
    assert refused.exit_code == 1
    assert f"more than the room of {BOARDS[board].table_bytes}; --layout auto would fit, 1" in refused.stderr
    assert f"{room} bytes of EEPROM" in refused.stderr
    assert not image.exists()
    # a memory chip beside the board: the keeper says its room
    assert CliRunner().invoke(app, [*words, "--layout", "plain", "--room", "4096"]).exit_code == 0


def test_a_room_too_small_names_the_smallest_layout_first(tmp_path: Path) -> None:
    words = ["table", str(LARCH), "--year", "2027", "--as", "c", "--layout", "plain", "--room", "500"]
    refused = CliRunner().invoke(app, [*words, "--out", str(tmp_path)])
    assert refused.exit_code == 1
    hint = refused.stderr.partition("the room of 500; ")[2]
    assert hint.startswith("--layout auto would fit, ")


def test_renewed_images_fit(tmp_path: Path) -> None:
    (fits,) = renew([str(LARCH)], Ask(tmp_path / "out", dt.date(2027, 6, 1), 60, ("json", "eeprom")))
    assert fits.status == "renewed"
    image = tmp_path / "out" / "larch_end" / "larch_end_2027.bin"
    assert 0 < image.stat().st_size <= BOARDS["atmega328p"].table_bytes
