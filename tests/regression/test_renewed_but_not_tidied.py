"""`renew` said "nothing was changed" after it had changed the tables, where the older generation could not be removed.

The keeper never got the message to load the new header, and the next run said nothing.
"""

from __future__ import annotations

import errno
import os
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from sunsched.cli import renew_command
from sunsched.cli.app import app
from sunsched.job.renewal import renewal
from tests.job.renewals import config_in, run

TODAY = "2027-06-01"


@pytest.fixture
def hut(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two generations of tables, and a configuration that makes a third."""
    monkeypatch.setattr(renewal, "_faults", lambda *_: [])
    for minutes in (15, 20, 25):
        config = config_in(tmp_path, changes={"later_min = 15": f"later_min = {minutes}"})
        if minutes < 25:
            run(config, tmp_path / "out", TODAY)
    return tmp_path


def ran(hut: Path) -> tuple[int, str]:
    """Exit code and all that the command says."""
    result = CliRunner().invoke(
        app, ["renew", str(hut / "larch_end.toml"), "--out", str(hut / "out"), "--today", TODAY]
    )
    return result.exit_code, result.output


def live_is_new(hut: Path) -> bool:
    return "morning.later_min = 25" in (hut / "out" / "larch_end" / "larch_end_2027.h").read_text()


def test_a_generation_that_cannot_be_removed(hut: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plain = shutil.rmtree

    def refused(folder: Path, *args: object, **kwargs: object) -> None:
        if ".next" not in str(folder):
            raise OSError(errno.EPERM, os.strerror(errno.EPERM))
        plain(folder)

    monkeypatch.setattr(shutil, "rmtree", refused)
    code, said = ran(hut)
    assert live_is_new(hut)
    assert "nothing was changed" not in said
    assert "put the new table on the chip" in said
    assert "left over and cannot be removed (Operation not permitted)" in " ".join(said.split())
    assert code == 0
    # The run after it says again what is left over, and changes nothing.
    code, said = ran(hut)
    assert (code, "left over and cannot be removed" in " ".join(said.split())) == (0, True)
    assert "later_min = 20" in (hut / "out" / "larch_end.previous" / "larch_end_2027.h").read_text()
    monkeypatch.undo()
    assert ran(hut) == (0, "")
    assert sorted(path.name for path in (hut / "out").iterdir() if path.is_dir()) == ["larch_end", "larch_end.previous"]


def test_a_generation_that_cannot_even_be_moved(hut: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plain = os.rename

    def refused(source: Path, target: Path) -> None:
        if "previous" in f"{source}{target}":
            raise OSError(errno.EPERM, os.strerror(errno.EPERM))
        plain(source, target)

    monkeypatch.setattr(os, "rename", refused)
    for _ in range(2):
        code, said = ran(hut)
        assert live_is_new(hut)
        flat = " ".join(said.split())
        assert "nothing was changed" not in flat
        assert "put the new table on the chip" in flat
        assert "the tables before lie in" in flat
        assert code == 0
    monkeypatch.undo()
    assert ran(hut)[0] == 0
    assert ran(hut) == (0, "")


@pytest.mark.skipif(os.geteuid() != 0 or shutil.which("chattr") is None, reason="needs root and chattr")
def test_an_immutable_file_of_the_keeper(hut: Path) -> None:
    import subprocess

    path = hut / "out" / "larch_end.previous" / "kept.txt"
    path.write_text("mine")
    if subprocess.run(["chattr", "+i", str(path)], capture_output=True).returncode:
        # This file system has no such mark; the two tests above stand for it.
        return
    try:
        code, said = ran(hut)
        assert (code, live_is_new(hut)) == (0, True)
        assert "put the new table on the chip" in said and "nothing was changed" not in said
    finally:
        subprocess.run(["chattr", "-R", "-i", str(hut / "out")], check=True)


def test_killed_before_it_could_say_so(hut: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def killed(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(renew_command, "_tell", killed)
        CliRunner().invoke(app, ["renew", str(hut / "larch_end.toml"), "--out", str(hut / "out"), "--today", TODAY])
    assert live_is_new(hut)
    code, said = ran(hut)
    assert (code, "put the new table on the chip" in " ".join(said.split())) == (0, True)
    assert ran(hut) == (0, "")
