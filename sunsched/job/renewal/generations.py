"""A site's folder of tables, replaced as a whole: the live one, the one before it, and one being made.

    DIR/larch_end            the live tables: plain files at stable names, to be read or copied at any time
    DIR/larch_end.previous   the folder that was live before
    DIR/.larch_end.next      a folder being made and proved; nothing reads it

Several files cannot be renamed in one step, but two folders can change places in one (renameat2 with
RENAME_EXCHANGE, Linux): whoever opens the live name sees all of the old or all of the new, whatever is killed
when. A journal of single renames would leave a mixture between a kill and the next run; a link to the live folder
would show readers a link where they expect a file, and memory cards' file systems have none.

Where folders cannot change places the live one steps aside first and the new one takes its name: for a moment the
name may be missing, and after a kill in that moment `recover` puts it back. Nothing is ever half written.

A folder being made is complete when its record names a generation: one more than the live one's before they change
places, one less after. So a leftover says by itself what was interrupted.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import shutil
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path

from sunsched.base.errors import CannotWriteError, SunschedError

_AT_FDCWD, _RENAME_EXCHANGE = -100, 2
LOCK_NAME = ".sunsched.lock"


class SiteFolder:
    """The three folders of one site under `out`. `generation_of` reads the generation of a complete folder."""

    def __init__(self, out: Path, stem: str, generation_of: Callable[[Path], int | None]) -> None:
        self.out = out
        self.live = out / stem
        self.previous = out / f"{stem}.previous"
        self.next = out / f".{stem}.next"
        self._generation_of = generation_of
        for folder in (self.live, self.previous, self.next):
            if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
                raise CannotWriteError(f"{folder} is a link or a file; wanted a folder of tables, or nothing")

    @property
    def interrupted(self) -> bool:
        """Whether an earlier run left something to tidy up."""
        return self.next.exists() or (self.previous.exists() and not self.live.exists())

    def recover(self) -> None:
        """Finish or undo what an interrupted run left behind. To be called under the lock."""
        made, live = self._generation_of(self.next), self._generation_of(self.live)
        if not self.live.exists():
            # Killed while the live folder had stepped aside; a made folder was proved before that.
            before = self._generation_of(self.previous)
            if made is not None and before is not None and made > before:
                os.rename(self.next, self.live)
            elif self.previous.exists():
                os.rename(self.previous, self.live)
        elif made is not None and live is not None and made < live:
            _remove(self.previous)
            os.rename(self.next, self.previous)
        _remove(self.next)
        _sync(self.out)

    def make(self, files: Mapping[str, bytes], prove: Callable[[Path], None], anew: Sequence[str] = ()) -> None:
        """Make the next folder of what the live one holds with `files` over it, prove it, and let it take over.

        Folders named in `anew` are not taken over from the live one: nothing of theirs stays but what is written.
        `prove` gets the finished folder and raises what it finds. Raises CannotWriteError; whatever is raised,
        the live folder is as it was and nothing else is left.
        """
        try:
            self.next.mkdir()
            if self.live.exists():
                _copy(self.live, self.next)
            for name in anew:
                _remove(self.next / name)
                (self.next / name).mkdir()
            for name, content in files.items():
                _write(self.next / name, content)
            prove(self.next)
            _sync(self.next)
            self._take_over()
        except OSError as error:
            _remove(self.next)
            raise CannotWriteError(
                f"{self.live}: {error.strerror}; nothing was changed, the tables there are whole"
            ) from None
        except SunschedError:
            _remove(self.next)
            raise

    def _take_over(self) -> None:
        if not self.live.exists():
            os.rename(self.next, self.live)
        elif exchanged(self.next, self.live):
            _sync(self.out)
            _remove(self.previous)
            os.rename(self.next, self.previous)
        else:
            _remove(self.previous)
            os.rename(self.live, self.previous)
            os.rename(self.next, self.live)
        _sync(self.out)


def exchanged(one: Path, other: Path) -> bool:
    """Let two folders change names in one step; False where the system or the file system cannot."""
    if not sys.platform.startswith("linux"):
        return False
    swap = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None)
    return swap is not None and swap(_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(other), _RENAME_EXCHANGE) == 0


def _copy(folder: Path, to: Path) -> None:
    """Everything in a folder, with its times; the keeper's own files and links are kept, not followed."""
    for path in folder.iterdir():
        if path.is_dir() and not path.is_symlink():
            (to / path.name).mkdir()
            _copy(path, to / path.name)
        else:
            shutil.copy2(path, to / path.name, follow_symlinks=False)


def _write(path: Path, content: bytes) -> None:
    # A copied link or a hard name would lead the bytes elsewhere: the new file takes the name afresh.
    path.unlink(missing_ok=True)
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_NOFOLLOW", 0)
    with os.fdopen(os.open(path, flags, 0o666), "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def _remove(folder: Path) -> None:
    if folder.exists():
        shutil.rmtree(folder)


def _sync(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextlib.contextmanager
def locked(out: Path, what: str) -> Iterator[None]:
    """Hold the folder against a second run; the system lets go when the process ends, however it ends.

    Raises CannotWriteError at once when another run holds it or the folder cannot be written.
    """
    from filelock import FileLock, Timeout

    try:
        out.mkdir(parents=True, exist_ok=True)
        if (out / LOCK_NAME).is_symlink():
            raise CannotWriteError(f"{out / LOCK_NAME} is a link; wanted a file of this tool, or nothing")
        lock = FileLock(out / LOCK_NAME)
        with lock.acquire(timeout=0):
            yield
    except Timeout:
        raise CannotWriteError(f"{out}: another run is at work there; this {what} changed nothing") from None
    except OSError as error:
        raise CannotWriteError(f"{out}: {error.strerror}; wanted a folder to write tables into") from None
