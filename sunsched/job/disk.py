"""Durable writing: the one place that asks the operating system to make, keep, move and remove files.

What systems can do differs, and each caller gets the most that there is:

    step                         Linux              macOS              Windows, memory cards (FAT)
    a file's bytes on the disk   fsync              fsync              fsync
    a folder's names             fsync              fsync              not offered: the file system's own journal
    all files at once            syncfs             sync               not offered: each file by itself
    a file over another          replace            replace            replace; refused while a program holds it open
    two folders change places    renameat2          not used           not offered: one steps aside for a moment
    a second name for a file     hard link          hard link          copied

Libraries were weighed: atomicwrites is no longer kept and replaces single files only; safer and similar ones do the
same. None of them puts several files in place together, changes folders, or says what is left after an error.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import os
import shutil
import sys
import tempfile
from pathlib import Path
from typing import BinaryIO

_AT_FDCWD, _RENAME_EXCHANGE = -100, 2
# What a system answers that cannot open or sync a folder, or make hard links; anything else is an error of the disk.
_NOT_OFFERED = frozenset(
    getattr(errno, name) for name in ("EACCES", "EPERM", "EISDIR", "EINVAL", "ENOTSUP", "EOPNOTSUPP", "EBADF", "ENOSYS")
)


def reason(error: Exception) -> str:
    """Why the system refused, in its words."""
    return (error.strerror if isinstance(error, OSError) else None) or str(error)


def make_file(path: Path, content: bytes) -> None:
    """A new file, its bytes on the disk. Raises FileExistsError for whatever has the name, a link included."""
    with path.open("xb") as file:
        file.write(content)
        _sync(file)


def make_beside(path: Path, content: bytes) -> Path:
    """The content in a new file beside `path`, on the disk and with the mode that a file there has; returns its name.

    Raises OSError and leaves nothing.
    """
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            _sync(file)
        # mkstemp gives 0600; the keeper's umask decides, as for any other file.
        os.chmod(name, _mode_of(path))
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    return Path(name)


def put_file(path: Path, content: bytes, on_disk: bool = True) -> None:
    """A file whole or not at all, over an older one of the same name; a link of that name is replaced, not followed.

    on_disk   False where one call for all files comes later (`sync_all`)
    """
    part = path.with_name(f".{path.name}.part")
    # What is left there is of a run that was killed; a link is taken away, never written through.
    part.unlink(missing_ok=True)
    try:
        with part.open("xb") as file:
            file.write(content)
            if on_disk:
                _sync(file)
        os.replace(part, path)
    except BaseException:
        part.unlink(missing_ok=True)
        raise


def keep(path: Path, backup: Path) -> None:
    """A second name for a file, or a copy where the file system has no hard links. Raises OSError, leaves nothing."""
    try:
        os.link(path, backup)
    except (OSError, AttributeError):
        try:
            shutil.copyfile(path, backup)
        except BaseException:
            backup.unlink(missing_ok=True)
            raise


def copy_folder(folder: Path, to: Path) -> None:
    """Everything in a folder, with its times; the keeper's own files and links are kept, not followed."""
    for path in folder.iterdir():
        if path.is_dir() and not path.is_symlink():
            (to / path.name).mkdir()
            copy_folder(path, to / path.name)
        else:
            shutil.copy2(path, to / path.name, follow_symlinks=False)


def remove_folder(folder: Path) -> None:
    """Remove a folder with all that is in it, if it is there."""
    if folder.exists():
        shutil.rmtree(folder)


def exchanged(one: Path, other: Path) -> bool:
    """Let two folders change names in one step; False where the system or the file system cannot."""
    if not sys.platform.startswith("linux"):
        return False
    swap = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None)
    return swap is not None and swap(_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(other), _RENAME_EXCHANGE) == 0


def sync_folder(folder: Path) -> None:
    """Bring a folder's names to the disk, where the system offers it."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError as error:
        if error.errno in _NOT_OFFERED:
            return
        raise
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in _NOT_OFFERED:
            raise
    finally:
        os.close(handle)


def can_sync_all() -> bool:
    """Whether one call can bring all files to the disk; where not, each has to be brought there by itself."""
    return sys.platform.startswith("linux") or hasattr(os, "sync")


def sync_all(folder: Path) -> None:
    """One call for all the files written since: asking for each by itself takes longer than making them."""
    sync = getattr(ctypes.CDLL(None), "syncfs", None) if sys.platform.startswith("linux") else None
    if sync is None:
        if hasattr(os, "sync"):
            os.sync()
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        sync(handle)
    finally:
        os.close(handle)


def _sync(file: BinaryIO) -> None:
    file.flush()
    os.fsync(file.fileno())


def _mode_of(path: Path) -> int:
    with contextlib.suppress(OSError):
        return path.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask
