"""A form that is added to the registry is met by every command: help, table, readback, batch, renew."""

from __future__ import annotations

import json
import sys
import zipfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from typer.testing import CliRunner

from sunsched.base.text_digest import with_digest_line
from sunsched.cli.app import app
from sunsched.emit.forms import FORMS, kinds_of_files
from sunsched.emit.stamp import Stamp
from sunsched.plan.year import YearPlan
from tests.support import made_up_form
from tests.support.made_up_form import FORM

ROOT = Path(__file__).parents[2]
LARCH = str(ROOT / "configs" / "larch_end.toml")
COMMANDS = ("table", "batch", "renew", "readback")


@pytest.fixture(autouse=True)
def registered(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The form in the registry, and commands whose help is written anew."""
    monkeypatch.setitem(FORMS, FORM.name, FORM)
    for name in COMMANDS:
        monkeypatch.delitem(sys.modules, f"sunsched.cli.{name}_command", raising=False)
    monkeypatch.chdir(tmp_path)


def sunsched(*words: str) -> Any:
    """A command in this process, which knows the form."""
    return CliRunner().invoke(app, list(words))


def test_table_writes_it_and_replaces_its_own_file() -> None:
    for _ in range(2):
        made = sunsched("table", LARCH, "--year", "2027", "--as", "lines", "--json")
        assert made.exit_code == 0, made.stderr
        assert json.loads(made.stdout)["files"] == ["larch_end_2027.lines"]
        # as if another version had written it
        path = Path("larch_end_2027.lines")
        path.write_text(with_digest_line("made-up table of 2027, in older words\n", "{}"))
    assert sunsched("table", LARCH, "--year", "2027", "--as", "lines", "--out", "-").stdout.startswith("made-up table")
    many = sunsched("table", LARCH, "--year", "2027", "--as", "lines", "--as", "eeprom", "--out", "both")
    assert many.exit_code == 0, many.stderr
    assert {path.suffix for path in Path("both").iterdir()} == {".lines", ".hex", ".bin"}


def test_readback_reads_it_and_notices_a_change() -> None:
    assert sunsched("table", LARCH, "--year", "2027", "--as", "lines").exit_code == 0
    equal = sunsched("readback", "larch_end_2027.lines", LARCH)
    assert equal.exit_code == 0, equal.stderr
    assert equal.stdout.startswith("The made-up lines of 2027 is equal to a fresh plan on every day.\n")
    path = Path("larch_end_2027.lines")
    path.write_text(path.read_text().replace("1", "2", 3))
    damaged = sunsched("readback", "larch_end_2027.lines", LARCH)
    assert damaged.exit_code == 65
    Path("none").write_text("none")
    assert "MicroPython module nor made-up lines" in sunsched("readback", "none").stderr


@pytest.mark.parametrize("archive", [False, True])
def test_batch_makes_it(archive: bool) -> None:
    Path("sites.csv").write_text("name,latitude,longitude,zone\nHut,47.2,8.1,Europe/Zurich\n")
    words = ("batch", "sites.csv", LARCH, "--out", "b", "--year", "2027", "--jobs", "1", "--as", "lines")
    done = sunsched(*words, *(["--archive"] if archive else []))
    assert done.exit_code == 0, done.stderr
    names = zipfile.ZipFile("b/tables.zip").namelist() if archive else [str(p) for p in Path("b").rglob("*.lines")]
    assert [name.rpartition("/")[2] for name in names] == ["hut_2027.lines"]


def test_renew_makes_it_proves_it_and_mends_it() -> None:
    words = ("renew", LARCH, "--out", "out", "--today", "2027-06-01", "--as", "lines")
    made = sunsched(*words)
    assert made.exit_code == 0, made.stderr
    kept = Path("out/larch_end/larch_end_2027.lines")
    assert kept.is_file()
    assert (sunsched(*words).stdout, sunsched(*words).stderr) == ("", "")
    kept.write_text("damaged")
    assert "larch_end_2027.lines missing, damaged or changed by hand" in sunsched(*words).stderr
    assert sunsched("readback", str(kept), LARCH).exit_code == 0


def test_renew_refuses_it_where_it_says_another_minute(monkeypatch: pytest.MonkeyPatch) -> None:
    right = made_up_form.text

    def later(plan: YearPlan, stamp: Stamp) -> str:
        return right(replace(plan, close_min=plan.close_min + np.int16(1)), stamp)

    monkeypatch.setattr(made_up_form, "text", later)
    refused = sunsched("renew", LARCH, "--out", "out", "--today", "2027-06-01", "--as", "lines")
    assert refused.exit_code == 1
    assert "larch_end_2027.lines differs from the plan" in refused.stderr
    assert not Path("out/larch_end").exists()


@pytest.mark.parametrize("command", COMMANDS)
def test_help_names_it(command: str) -> None:
    words = "made-up lines" if command == "readback" else "lines"
    assert words in sunsched(command, "--help").stdout.replace("\n", " ")


def test_every_form_can_be_read_back_and_is_named_once() -> None:
    for form in FORMS.values():
        assert form.readings and form.endings and (form.plain or form.packed)
    kinds = kinds_of_files()
    assert len(set(kinds)) == len(kinds)
