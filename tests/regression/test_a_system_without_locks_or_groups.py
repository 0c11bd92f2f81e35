"""Where the system has no file locks, or no groups, the command says so in its own words and ends without a traceback.

filelock raises NotImplementedError where a file system has no flock (its documentation of UnixFileLock), pathlib the
same for the group of a file on Windows (Python's documentation of Path.group).
"""

from __future__ import annotations

from pathlib import Path

import filelock
import pytest

from sunsched.base.errors import CannotWriteError
from sunsched.job.chip import port
from sunsched.job.renewal.generations import locked


def test_a_folder_that_cannot_be_locked_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def none_here(*_: object, **__: object) -> None:
        raise NotImplementedError("FileSystem does not appear to support flock")

    monkeypatch.setattr(filelock.FileLock, "acquire", none_here)
    with (
        pytest.raises(CannotWriteError, match="does not appear to support flock; wanted a folder"),
        locked(tmp_path, "run"),
    ):
        pytest.fail("the folder was held without a lock")


def test_a_port_without_a_group_names_the_usual_one(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_groups(_: Path) -> str:
        raise NotImplementedError("Path.group() is unsupported on this system")

    monkeypatch.setattr(Path, "group", no_groups)
    refused = port._cannot_open("/dev/ttyUSB0", PermissionError(13, "Permission denied"))
    assert "sudo usermod -aG dialout $USER" in str(refused)
