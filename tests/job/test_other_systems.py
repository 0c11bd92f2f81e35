"""Every command that writes, on systems that lack what Linux has: the same bytes, and true words where one refuses."""

from __future__ import annotations

import multiprocessing
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from sunsched.base.errors import CannotWriteError
from sunsched.emit.stamp import site_stem
from sunsched.job import files
from sunsched.job.batch.batch import Ask, Batch
from sunsched.job.renewal import renewal
from tests.job.renewals import ROOT, config_in, contents, run
from tests.support.made_sites import written
from tests.support.other_systems import as_macos, as_windows, held_open
from tests.support.own_files import ours
from tests.support.unprivileged import exit_code_of

TODAY = "2027-06-01"
SYSTEMS = pytest.mark.parametrize("system", [as_windows, as_macos])
System = Callable[[pytest.MonkeyPatch], None]

# Every command that writes a file, in a folder with hut.toml and nights.csv; each is run twice, over its own files.
WRITERS = (
    ["table", "hut.toml", "--year", "2027", "--as", "c", "--as", "json", "--as", "csv", "--as", "eeprom", "--out", "t"],
    ["report", "hut.toml", "--year", "2027", "--out", "report.html"],
    ["chart", "hut.toml", "--year", "2027", "--out", "chart.svg"],
    ["handover", "hut.toml", "--from", "2027-03-01", "--to", "2027-03-07", "--out", "s.txt", "--ics", "s.ics"],
    ["handover", "hut.toml", "--from", "2027-03-01", "--to", "2027-03-07", "--out", "s.csv"],
    ["handover", "hut.toml", "--from", "2027-03-01", "--to", "2027-03-07", "--out", "s.html"],
    ["firmware", "hut.toml", "--years", "2027..2027", "--out", "door", "--force"],
    ["schema", "--out", "schema.json"],
    ["battery", "hut.toml", "--year", "2027", "--weather-years", "20", "--chart", "battery.svg"],
    ["sample", "-o", "sample.toml"],
    ["angle", "hut.toml", "nights.csv", "--write", "new.toml"],
    ["renew", "hut.toml", "--out", "renewed", "--today", TODAY, "--ahead", "0"],
    ["batch", "sites.csv", "hut.toml", "--out", "b", "--year", "2027", "--jobs", "1", "--as", "json"],
)


def hut_in(folder: Path) -> None:
    """The files that the commands read, with the line ends that an editor on Windows leaves."""
    folder.mkdir()
    written(folder, 3, 0)
    shutil.copy(ROOT / "configs" / "larch_end.toml", folder / "hut.toml")
    (folder / "nights.csv").write_text("".join(f"2027-03-{day:02d},18:2{day % 10}\n" for day in range(1, 10)))
    for path in folder.iterdir():
        path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))


@pytest.fixture(scope="module")
def here(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """What the commands write on this system."""
    folder = tmp_path_factory.mktemp("systems") / "hut"
    hut_in(folder)
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        assert [words for words in WRITERS if exit_code_of(words) != 0] == []
    return contents(folder)


@SYSTEMS
def test_every_command_writes_what_it_writes_here(
    system: System, here: dict[str, bytes], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "hut"
    hut_in(folder)
    monkeypatch.chdir(folder)
    monkeypatch.setattr(renewal, "_faults", lambda *_: [])
    with monkeypatch.context() as patch:
        system(patch)
        for words in WRITERS:
            for _ in range(2):
                # A configuration is its keeper's, unless the very same is written again.
                assert exit_code_of(words) == 0, words
    there = contents(folder)
    assert sorted(here) == sorted(there)
    assert len(here) > 50
    assert [name for name in here if here[name] != there[name]] == []


def test_a_file_that_is_open_elsewhere_is_left_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first, last = tmp_path / "a.h", tmp_path / "b.h"
    first.write_bytes(ours("old a"))
    last.write_bytes(ours("old b"))
    as_windows(monkeypatch)
    held_open(monkeypatch, last)
    with pytest.raises(CannotWriteError, match=r"b\.h: The process cannot access the file; nothing was changed"):
        files.write_all({first: ours("new a"), last: ours("new b")})
    assert (first.read_bytes(), last.read_bytes()) == (ours("old a"), ours("old b"))
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.h", "b.h"]


def test_what_cannot_be_put_back_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first, last = tmp_path / "a.h", tmp_path / "b.h"
    first.write_bytes(ours("old a"))
    last.write_bytes(ours("old b"))
    plain, calls = os.replace, []

    def once(source: Path, target: Path) -> None:
        calls.append(target)
        if len(calls) > 1:
            raise PermissionError(13, "Permission denied")
        plain(source, target)

    monkeypatch.setattr(os, "replace", once)
    with pytest.raises(CannotWriteError) as caught:
        files.write_all({first: ours("new a"), last: ours("new b")})
    assert "nothing was changed" not in str(caught.value)
    assert f"{first} could not be put back" in str(caught.value)
    (backup,) = tmp_path.glob(".a.h.*.old")
    assert str(backup) in str(caught.value)
    assert backup.read_bytes() == ours("old a")
    assert first.read_bytes() == ours("new a")


@SYSTEMS
def test_a_renewal_whose_tables_are_open_changes_nothing(
    system: System, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(renewal, "_faults", lambda *_: [])
    config = config_in(tmp_path)
    out = tmp_path / "out"
    run(config, out, TODAY)
    before = contents(out / "larch_end")
    config_in(tmp_path, changes={"later_min = 15": "later_min = 20"})
    with monkeypatch.context() as patch:
        system(patch)
        held_open(patch, out / "larch_end" / "larch_end_2027.h")
        (outcome,) = run(config, out, TODAY)
        assert (outcome.exit_code, "nothing was changed, the tables there are whole" in outcome.error) == (73, True)
        assert contents(out / "larch_end") == before
        patch.undo()
    (outcome,) = run(config, out, TODAY)
    assert (outcome.status, outcome.remarks) == ("renewed", ())
    assert contents(out / "larch_end.previous") == before


def test_workers_that_are_started_anew_make_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Windows and macOS start processes anew instead of forking them."""
    sites, rules, _ = written(tmp_path, 40, 4)
    monkeypatch.setenv("PYTHONPATH", str(ROOT))
    default = multiprocessing.get_start_method()
    trees = []
    for method in (default, "spawn"):
        multiprocessing.set_start_method(method, force=True)
        try:
            out = tmp_path / method
            list(Batch(Ask(sites, str(rules), out, 2027, ("json",), 2)).run())
        finally:
            multiprocessing.set_start_method(default, force=True)
        trees.append({name: text for name, text in contents(out).items() if not name.startswith(".")})
    assert len(trees[0]) == 37
    assert trees[0] == trees[1]


@pytest.mark.parametrize("name", ["CON", "nul", "Aux", "com1", "LPT9", "Con."])
def test_no_stem_is_a_device(name: str) -> None:
    stem = site_stem(name)
    assert stem.split(".")[0] not in ("con", "nul", "aux", "com1", "lpt9")
    assert not stem.endswith((".", " "))


def test_on_a_console_of_another_code_page(tmp_path: Path) -> None:
    text = (ROOT / "configs" / "larch_end.toml").read_text().replace("Larch end", "Łąka 丘")
    (tmp_path / "hut.toml").write_text(text, encoding="utf-8")
    env = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "cp1252", "PYTHONUTF8": "0"}
    for words in (["settings", "hut.toml"], ["table", "hut.toml", "--year", "2027"], ["day", "hut.toml", "2027-03-01"]):
        done = subprocess.run([sys.executable, "-m", "sunsched", *words], cwd=tmp_path, env=env, capture_output=True)
        assert done.returncode == 0, done.stderr
        assert "Łąka".encode() in done.stdout
