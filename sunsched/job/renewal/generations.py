"""A site's folder of tables, replaced as a whole: the live one, the one before it, and one being made.

    DIR/larch_end            the live tables: plain files at stable names, to be read or copied at any time
    DIR/larch_end.previous   the folder that was live before
    DIR/.larch_end.next      a folder being made and proved; nothing reads it
    DIR/.larch_end.old-1     what was `.previous` before and could not be removed; nothing reads it
    DIR/.larch_end.untold    the generation that took over and that nobody was told of yet

Several files cannot be renamed in one step, but two folders can change places in one (renameat2 with
RENAME_EXCHANGE, Linux): whoever opens the live name sees all of the old or all of the new, whatever is killed
when. A journal of single renames would leave a mixture between a kill and the next run; a link to the live folder
would show readers a link where they expect a file, and memory cards' file systems have none.

Where folders cannot change places the live one steps aside first and the new one takes its name: for a moment the
name may be missing, and after a kill in that moment `recover` puts it back. Nothing is ever half written.

A folder being made is complete when its record names a generation: one more than the live one's before they change
places, one less after. So a leftover says by itself what was interrupted, and the run after it can say so.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import count
from pathlib import Path

from sunsched.base.errors import CannotWriteError, SunschedError
from sunsched.job import disk

LOCK_NAME = ".sunsched.lock"


class SiteFolder:
    """The folders of one site under `out`. `generation_of` reads the generation of a complete folder.

    remarks   what could not be tidied up, one sentence each; the live tables are whole whatever stands there
    """

    def __init__(self, out: Path, stem: str, generation_of: Callable[[Path], int | None]) -> None:
        self.out = out
        self.stem = stem
        self.live = out / stem
        self.previous = out / f"{stem}.previous"
        self.next = out / f".{stem}.next"
        self.untold = out / f".{stem}.untold"
        self.remarks: list[str] = []
        self._generation_of = generation_of
        for folder in (self.live, self.previous, self.next):
            try:
                wrong = folder.is_symlink() or (folder.exists() and not folder.is_dir())
            except OSError as error:
                raise CannotWriteError(f"{folder}: {disk.reason(error)}; wanted a folder of tables") from None
            if wrong:
                raise CannotWriteError(f"{folder} is a link or a file; wanted a folder of tables, or nothing")

    @property
    def interrupted(self) -> bool:
        """Whether an earlier run left something to tidy up."""
        return (
            self.next.exists()
            or (self.previous.exists() and not self.live.exists())
            or bool(self._old() or self.untold.exists())
        )

    def _old(self) -> list[Path]:
        if not self.out.is_dir():
            return []
        return [path for path in self.out.iterdir() if path.name.startswith(f".{self.stem}.old-")]

    def recover(self) -> bool:
        """Finish or undo what an interrupted run left behind; True when tables took over that nobody was told of.

        To be called under the lock. Raises CannotWriteError where the live tables cannot be put back, or a leftover
        stands in the way of the next ones.
        """
        try:
            return self._recover()
        except OSError as error:
            raise CannotWriteError(f"{self.live}: {disk.reason(error)}; {self.state()}") from None

    def _recover(self) -> bool:
        made, live = self._generation_of(self.next), self._generation_of(self.live)
        took_over = self.untold.exists() and self.untold.read_bytes() == _generation_text(live)
        if not self.live.exists():
            # Killed while the live folder had stepped aside; a made folder was proved before that.
            before = self._generation_of(self.previous)
            if made is not None and before is not None and made > before:
                os.rename(self.next, self.live)
                took_over = True
            elif self.previous.exists():
                os.rename(self.previous, self.live)
        elif made is not None and live is not None and made < live:
            took_over = True
            self._put_aside(self.next)
        self._tidied(self.next)
        for old in sorted(self._old()):
            if self.previous.exists():
                self._tidied(old)
            else:
                os.rename(old, self.previous)
        if not took_over:
            self.untold.unlink(missing_ok=True)
        disk.sync_folder(self.out)
        return took_over

    def make(
        self,
        files: Mapping[str, bytes],
        prove: Callable[[Path], None],
        anew: Sequence[str] = (),
        until_told: bool = False,
    ) -> None:
        """Make the next folder of what the live one holds with `files` over it, prove it, and let it take over.

        With `until_told` a mark stays that the keeper has to be told, for whoever tells to remove.
        Folders named in `anew` are not taken over from the live one: nothing of theirs stays but what is written.
        `prove` gets the finished folder and raises what it finds. Raises CannotWriteError that says what is live;
        whatever is raised before the new folder took over, the live one is as it was and nothing else is left. What
        cannot be tidied up after that is no error, but a remark.
        """
        try:
            self.next.mkdir()
            if self.live.exists():
                disk.copy_folder(self.live, self.next)
            for name in anew:
                disk.remove_folder(self.next / name)
                (self.next / name).mkdir()
            for name, content in files.items():
                # A copied link or a hard name would lead the bytes elsewhere: the new file takes the name afresh.
                (self.next / name).unlink(missing_ok=True)
                disk.make_file(self.next / name, content)
            prove(self.next)
            disk.sync_folder(self.next)
            if until_told:
                disk.put_file(self.untold, _generation_text(self._generation_of(self.next)))
            self._take_over()
        except OSError as error:
            self._tidied(self.next)
            raise CannotWriteError("; ".join([f"{self.live}: {disk.reason(error)}", self.state()])) from None
        except SunschedError:
            self._tidied(self.next)
            raise

    def state(self) -> str:
        """What is on the disk after an error, in words."""
        if not self.live.exists():
            return f"the tables lie in {self.previous} for the moment, the next run puts them back"
        return "; ".join(["nothing was changed, the tables there are whole", *self.remarks])

    def _take_over(self) -> None:
        if not self.live.exists():
            os.rename(self.next, self.live)
        elif disk.exchanged(self.next, self.live):
            # The new tables are live from here on: nothing that follows may say otherwise.
            self._put_aside(self.next)
        else:
            self._make_room()
            os.rename(self.live, self.previous)
            try:
                os.rename(self.next, self.live)
            except OSError:
                os.rename(self.previous, self.live)
                raise
        try:
            disk.sync_folder(self.out)
        except OSError as error:
            self.remarks.append(f"{self.out}: {disk.reason(error)}; a power cut now may bring the tables before back")
        for old in self._old():
            self._tidied(old)

    def _put_aside(self, folder: Path) -> None:
        """Let a folder that was live become the one before; what cannot be done is a remark."""
        try:
            self._make_room()
            os.rename(folder, self.previous)
        except OSError as error:
            self.remarks.append(
                f"{self.previous} cannot be replaced ({disk.reason(error)}); the tables before lie in {folder}"
            )

    def _make_room(self) -> None:
        """Give the generation before a name under which it can be removed, now or by another run."""
        if self.previous.exists():
            names = (self.out / f".{self.stem}.old-{number}" for number in count(1))
            os.rename(self.previous, next(name for name in names if not name.exists()))

    def _tidied(self, folder: Path) -> None:
        """Remove a folder that nothing reads; what cannot be removed is a remark."""
        if folder == self.next and any(str(folder) in remark for remark in self.remarks):
            return
        try:
            disk.remove_folder(folder)
        except OSError as error:
            self.remarks.append(f"{folder} is left over and cannot be removed ({disk.reason(error)}); nothing needs it")


def _generation_text(generation: int | None) -> bytes:
    return f"generation {generation}\n".encode()


@contextlib.contextmanager
def locked(out: Path, what: str) -> Iterator[None]:
    """Hold the folder against a second run; the system lets go when the process ends, however it ends.

    Raises CannotWriteError at once when another run holds it or the folder cannot be written.
    """
    from filelock import FileLock, Timeout

    lock = FileLock(out / LOCK_NAME)
    try:
        out.mkdir(parents=True, exist_ok=True)
        if (out / LOCK_NAME).is_symlink():
            raise CannotWriteError(f"{out / LOCK_NAME} is a link; wanted a file of this tool, or nothing")
        lock.acquire(timeout=0)
    except Timeout:
        raise CannotWriteError(f"{out}: another run is at work there; this {what} changed nothing") from None
    except (OSError, ValueError, RuntimeError) as error:  # the last from filelock, where no lock can be had
        raise CannotWriteError(f"{out}: {disk.reason(error)}; wanted a folder to write tables into") from None
    try:
        yield
    finally:
        lock.release()
