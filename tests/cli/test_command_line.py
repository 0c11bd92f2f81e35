"""A forked command line prints, writes and ends as a fresh interpreter does."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.support.command_line import ROOT, sunsched, sunsched_bytes

FIG = (ROOT / "configs" / "fig_yard.toml").read_bytes()


@pytest.mark.parametrize(
    "words",
    [
        ("--help",),
        ("--version",),
        ("tabel",),
        ("table", "-", "--year", "2027", "--out", "OUT", "--json"),
        ("table", "-", "--year", "2027", "--as", "csv", "--out", "-", "--quiet"),
        ("settings", "nowhere.toml"),
        ("sample", "--ask"),
        ("battery", "-", "--year", "2027", "--weather-years", "2"),
    ],
    ids=lambda words: " ".join(words[:2]),
)
def test_both_starts_give_the_same(words: tuple[str, ...], tmp_path: Path) -> None:
    env = {"COLUMNS": "70", "NO_COLOR": "1", "TZ": "Asia/Tokyo"}
    found = []
    for kind in ("forked", "fresh"):
        folder = tmp_path / kind
        folder.mkdir()
        if kind == "forked":
            done = sunsched_bytes(*words, stdin=FIG, cwd=folder, **env)
        else:
            line = [sys.executable, "-m", "sunsched", *words]
            surroundings = {**os.environ, "PYTHONPATH": str(ROOT), **env}
            done = subprocess.run(line, input=FIG, cwd=folder, env=surroundings, capture_output=True, timeout=120)
        files = {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
        found.append((done.returncode, done.stdout, done.stderr, files))
    assert found[0] == found[1]
    assert found[0][1] or found[0][2]


def test_the_test_itself_stays_as_it_was(tmp_path: Path) -> None:
    before = Path.cwd(), dict(os.environ), sys.argv, sys.stdout
    assert sunsched("--quiet", "settings", "no.toml", cwd=tmp_path, COLUMNS="30").returncode == 66
    assert (Path.cwd(), dict(os.environ), sys.argv, sys.stdout) == before


def test_a_traceback_is_seen_and_ends_with_1(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken() -> None:
        raise RuntimeError("broken on purpose")

    monkeypatch.setattr("sunsched.__main__.main", broken)
    done = sunsched("--help")
    assert done.returncode == 1 and "RuntimeError: broken on purpose" in done.stderr


def test_what_an_interpreter_reads_at_its_start_is_refused() -> None:
    with pytest.raises(ValueError, match="start one"):
        sunsched("--help", PYTHONIOENCODING="ascii")
