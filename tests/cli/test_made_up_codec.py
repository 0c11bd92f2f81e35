"""A layout that is added to the registry is met by every command that packs or reads a table."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from sunsched.cli.app import app
from sunsched.table.layout import CODECS
from tests.support.made_up_codec import CODEC

ROOT = Path(__file__).parents[2]
LARCH = str(ROOT / "configs" / "larch_end.toml")


@pytest.fixture(autouse=True)
def registered(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[None]:
    """The layout in the registry, and a command whose help is written anew."""
    before = dict(CODECS)  # with its order, in which the smallest is sought
    CODECS[CODEC.name] = CODEC
    monkeypatch.delitem(sys.modules, "sunsched.cli.table_command", raising=False)
    monkeypatch.chdir(tmp_path)
    yield
    CODECS.clear()
    CODECS.update(before)


def sunsched(*words: str) -> Any:
    """A command in this process, which knows the layout."""
    return CliRunner().invoke(app, list(words))


def test_table_packs_it_and_readback_knows_it() -> None:
    words = ("table", LARCH, "--year", "2027", "--layout", "offsets", "--as", "c", "--as", "eeprom", "--room", "4000")
    made = sunsched(*words, "--json")
    assert made.exit_code == 0, made.stderr
    result = json.loads(made.stdout)
    assert (result["layout"], result["data_bytes"], result["decoder_bytes"], result["days_inexact"]) == (
        "offsets",
        1460,
        8,
        0,
    )
    assert "#define SUNSCHED_WITH_OFFSETS\n" in Path("larch_end_2027.h").read_text()
    for name in ("larch_end_2027.h", "larch_end_2027.hex", "larch_end_2027.bin"):
        read = sunsched("readback", name, LARCH)
        assert read.exit_code == 0, read.stderr
        assert "layout offsets: 1460 bytes of minutes" in read.stdout
    path = Path("larch_end_2027.bin")
    path.write_bytes(bytes([*path.read_bytes()[:700], 1, *path.read_bytes()[701:]]))
    assert sunsched("readback", str(path)).exit_code == 65


def test_an_image_of_it_is_refused_where_it_is_not_known() -> None:
    words = ("table", LARCH, "--year", "2027", "--layout", "offsets", "--as", "eeprom", "--room", "4000")
    assert sunsched(*words).exit_code == 0
    del CODECS[CODEC.name]
    refused = sunsched("readback", "larch_end_2027.bin")
    assert refused.exit_code == 65
    assert "9 is no layout" in refused.stderr


def test_the_smallest_is_sought_among_all_and_the_memory_is_the_boards() -> None:
    made = sunsched("table", LARCH, "--year", "2027", "--layout", "auto", "--as", "eeprom", "--json")
    assert json.loads(made.stdout)["layout"] == "curves"
    large = sunsched("table", LARCH, "--year", "2027", "--layout", "offsets", "--as", "eeprom")
    assert large.exit_code == 1
    assert "more than the room of 300" in large.stderr
    assert "an ATmega328P has 1024 bytes of EEPROM, of which its program has 300 for each table" in large.stderr


def test_batch_and_renew_take_it_where_it_is_the_only_one() -> None:
    CODECS.clear()
    CODECS[CODEC.name] = CODEC
    Path("sites.csv").write_text("name,latitude,longitude,zone\nHut,47.2,8.1,Europe/Zurich\n")
    batch = ("batch", "sites.csv", LARCH, "--out", "b", "--year", "2027", "--jobs", "1", "--as", "eeprom")
    refused = sunsched(*batch)
    assert refused.exit_code == 65
    assert "more than the room of 300" in Path("b/results.csv").read_text()
    renew = sunsched("renew", LARCH, "--out", "out", "--today", "2027-06-01", "--as", "eeprom")
    assert renew.exit_code == 1
    assert "more than the room of 300" in renew.stderr


def test_help_and_errors_name_it() -> None:
    assert "years, offsets or auto" in " ".join(sunsched("table", "--help").stdout.split())
    refused = sunsched("table", LARCH, "--year", "2027", "--layout", "none")
    assert refused.exit_code == 2 and "offsets" in refused.stderr
    assert sunsched("table", LARCH, "--years", "2027..2028", "--layout", "offsets").exit_code == 2


def test_the_board_is_named_only_where_its_room_is_too_small() -> None:
    polar = str(Path(LARCH).with_name("birch_hollow.toml"))
    refused = sunsched("table", polar, "--years", "2027..2028", "--as", "eeprom")
    assert refused.exit_code == 1
    assert "cannot hold these minutes exactly" in refused.stderr and "EEPROM" not in refused.stderr
