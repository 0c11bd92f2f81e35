"""Where the system has no file locks, or no groups, the command says so in its own words and ends without a traceback.

On a file system without flock, an earlier filelock ends with a kind of RuntimeError, and a later one takes a
lock file in its place, with a warning (its documentation of UnixFileLock). Windows has no module `grp`.
"""

from __future__ import annotations

import errno
import os
import sys
from pathlib import Path

import filelock
import pytest

from sunsched.base.errors import CannotWriteError
from sunsched.job.chip import port
from sunsched.job.renewal.generations import locked


def test_a_folder_that_cannot_be_locked_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def none_here(*_: object, **__: object) -> None:
        raise RuntimeError("FileSystem does not appear to support flock")

    monkeypatch.setattr(filelock.FileLock, "acquire", none_here)
    with (
        pytest.raises(CannotWriteError, match="does not appear to support flock; wanted a folder"),
        locked(tmp_path, "run"),
    ):
        pytest.fail("the folder was held without a lock")


@pytest.mark.filterwarnings("ignore:flock not supported:UserWarning")
def test_a_file_system_without_flock_lets_no_two_runs_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    fcntl = pytest.importorskip("fcntl")

    def no_flock(*_: object) -> None:
        raise OSError(errno.ENOSYS, os.strerror(errno.ENOSYS))

    monkeypatch.setattr(fcntl, "flock", no_flock)
    held = 0
    for _ in range(2):  # the first run's lock does not outlive it
        try:
            with locked(tmp_path, "run"):
                held += 1
                with pytest.raises(CannotWriteError, match="another run is at work"), locked(tmp_path, "run"):
                    pytest.fail("two runs held one folder")
        except CannotWriteError as refused:
            assert "wanted a folder" in str(refused)
    assert held in (0, 2)


def test_a_port_without_a_group_names_the_usual_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "grp", None)  # for pathlib, which loads it when it is asked or
    monkeypatch.setattr(sys.modules[Path.group.__module__], "grp", None, raising=False)  # has loaded it already
    (tmp_path / "ttyUSB0").touch()
    refused = port._cannot_open(str(tmp_path / "ttyUSB0"), PermissionError(13, "Permission denied"))
    assert "sudo usermod -aG dialout $USER" in str(refused)
