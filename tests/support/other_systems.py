"""Windows and macOS as far as this machine can play them: functions taken away, or refusing as those systems do.

Sources: Python's documentation of `os` names for each function the systems that offer it (fchmod on Windows from 3.13
on; sync, fork, O_NOFOLLOW, O_NONBLOCK, sched_getaffinity, geteuid not at all); Microsoft's CreateFile refuses a folder
without FILE_FLAG_BACKUP_SEMANTICS (ERROR_ACCESS_DENIED, EACCES to Python), and MoveFileEx a file that is open without
FILE_SHARE_DELETE (ERROR_SHARING_VIOLATION, also EACCES).
"""

from __future__ import annotations

import errno
import os
import stat
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

WINDOWS_LACKS = ("fchmod", "sync", "fork", "sched_getaffinity", "geteuid", "getuid", "chown", "mkfifo", "pipe2")
# Not O_NONBLOCK: filelock has another way on Windows, and the one that runs here needs it.
WINDOWS_LACKS_FLAGS = ("O_NOFOLLOW", "O_DIRECTORY", "O_CLOEXEC")
MACOS_LACKS = ("sched_getaffinity", "pipe2", "posix_fallocate")


def as_windows(monkeypatch: pytest.MonkeyPatch) -> None:
    """Take away what Windows lacks; folders cannot be opened, hard links are refused as on FAT."""
    for name in (*WINDOWS_LACKS, *WINDOWS_LACKS_FLAGS):
        monkeypatch.delattr(os, name, raising=False)
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setattr(os, "open", _refusing_folders(os.open))
    monkeypatch.setattr(os, "link", _refused(errno.EPERM))


def as_macos(monkeypatch: pytest.MonkeyPatch) -> None:
    """Take away what macOS lacks: a call that lets folders change places, and syncfs."""
    for name in MACOS_LACKS:
        monkeypatch.delattr(os, name, raising=False)
    monkeypatch.setattr(sys, "platform", "darwin")


def held_open(monkeypatch: pytest.MonkeyPatch, path: Path) -> None:
    """Let a file be open in another program: on Windows it can be neither replaced, renamed nor removed then."""
    for name in ("replace", "rename", "unlink", "remove"):
        monkeypatch.setattr(os, name, _refusing_path(getattr(os, name), path))


def _refused(code: int) -> Callable[..., Any]:
    def call(*_: Any, **__: Any) -> Any:
        raise OSError(code, os.strerror(code))

    return call


def _refusing_folders(plain: Callable[..., int]) -> Callable[..., int]:
    def call(path: Any, *args: Any, **kwargs: Any) -> int:
        if not isinstance(path, int) and os.path.exists(path) and stat.S_ISDIR(os.stat(path).st_mode):
            raise PermissionError(errno.EACCES, "Permission denied", str(path))
        return plain(path, *args, **kwargs)

    return call


def _refusing_path(plain: Callable[..., Any], held: Path) -> Callable[..., Any]:
    def call(*paths: Any, **kwargs: Any) -> Any:
        # A folder cannot be renamed either while a file in it is open.
        if any(Path(path) == held or Path(path) in held.parents for path in paths[:2]):
            raise PermissionError(errno.EACCES, "The process cannot access the file", str(held))
        return plain(*paths, **kwargs)

    return call
