"""One site of a batch, from its row to the bytes of its tables: what the worker processes do.

A ZIP archive written from front to back, that can be broken off and gone on with.

Nothing is compressed and every date is 1980-01-01, so that the same files give the same bytes with any zlib. The list
of contents is kept in a file of its own until the end: memory does not grow with it.
Source of the layout: PKWARE APPNOTE 6.3.9, sections 4.3 and 4.4; ZIP64 where counts or offsets need it.
"""

from __future__ import annotations

import os
import shutil
import struct
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

from sunsched import __version__
from sunsched.base.errors import CannotWriteError, CapacityError, ConfigError, RangeError
from sunsched.config.configuration import Configuration
from sunsched.emit.forms import FORMS
from sunsched.emit.stamp import Stamp, file_stem, plan_sha256
from sunsched.job import disk
from sunsched.job.batch.sites_file import Columns, Line, RowError, SiteReader
from sunsched.job.files import refuse_foreign
from sunsched.job.pipeline import Built, plans_of
from sunsched.job.tables import year_files
from sunsched.plan.year import YearPlan

_LONG, _SHORT = 0xFFFFFFFF, 0xFFFF
_DATE = 0x21  # 1980-01-01
_UNIX, _MODE = 3 << 8, 0o100644 << 16
_PLAIN, _ZIP64 = 20, 45


def entry(name: str, content: bytes) -> tuple[bytes, bytes]:
    """A stored file: its local header with the content, and its central header without the offset."""
    raw = name.encode("ascii")
    crc = zlib.crc32(content)
    sizes = struct.pack("<LLLHH", crc, len(content), len(content), len(raw), 0)
    local = struct.pack("<4sHHHHH", b"PK\x03\x04", _PLAIN, 0, 0, 0, _DATE) + sizes + raw + content
    return local, raw + sizes


def central(record: bytes, offset: int) -> bytes:
    """The line of contents of an entry that starts at `offset`."""
    raw, sizes = record[:-16], record[-16:]
    extra = struct.pack("<HHQ", 1, 8, offset) if offset >= _LONG else b""
    need = _ZIP64 if extra else _PLAIN
    head = struct.pack("<4sHHHHHH", b"PK\x01\x02", need | _UNIX, need, 0, 0, 0, _DATE)
    tail = struct.pack("<HHHLL", 0, 0, 0, _MODE, min(offset, _LONG))
    return head + sizes[:14] + struct.pack("<H", len(extra)) + tail + raw + extra


def finish(archive: BinaryIO, contents: Path, count: int) -> None:
    """Append the list of contents and the end records to an archive that stands at its end."""
    start = archive.tell()
    with contents.open("rb") as file:
        shutil.copyfileobj(file, archive)
    size = archive.tell() - start
    if count >= _SHORT or start >= _LONG or size >= _LONG:
        at = archive.tell()
        archive.write(struct.pack("<4sQHHLLQQQQ", b"PK\x06\x06", 44, _ZIP64, _ZIP64, 0, 0, count, count, size, start))
        archive.write(struct.pack("<4sLQL", b"PK\x06\x07", 0, at, 1))
    numbers = (min(count, _SHORT), min(count, _SHORT), min(size, _LONG), min(start, _LONG))
    archive.write(struct.pack("<4sHHHHLLH", b"PK\x05\x06", 0, 0, *numbers, 0))


@dataclass(frozen=True, slots=True)
class Task:
    """What all rows of a batch share. `out` is the folder of the sites' folders; None for an archive."""

    table: dict[str, Any]
    columns: Columns
    year: int
    forms: tuple[str, ...]
    command: str
    out: Path | None
    force: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """What became of a row. `records` are archive entries (local part, central part) of its tables."""

    row: int
    name: str
    tables: str
    plan_sha256: str = ""
    warnings: tuple[str, ...] = ()
    column: str = ""
    error: str = ""
    records: tuple[tuple[bytes, bytes], ...] = ()

    @property
    def good(self) -> bool:
        """Whether its tables were made."""
        return not self.error


@dataclass(frozen=True, slots=True)
class _Read:
    """A row taken apart: its cells, its configuration, and that as the outputs state it."""

    cells: list[str]
    configuration: Configuration
    settings: dict[str, Any]


class Maker:
    """Makes the tables of rows. Each worker process has one."""

    def __init__(self, task: Task) -> None:
        self._task = task
        self._reader = SiteReader(task.table, task.columns)

    def rows(self, lines: list[Line]) -> list[Row]:
        """The outcome of each line. A bad row is an outcome; CannotWriteError stops the batch.

        Rows with the same rules are planned together, which takes half the time.
        """
        read = [self._read(line) for line in lines]
        alike: dict[int, list[int]] = {}
        for place, found in enumerate(read):
            if isinstance(found, _Read):
                # Rows with the same overrides share one validated configuration but for the site.
                alike.setdefault(id(found.configuration.chip), []).append(place)
        plans: dict[int, YearPlan | ConfigError | RangeError] = {}
        for places in alike.values():
            configurations = [found.configuration for place in places if isinstance(found := read[place], _Read)]
            plans.update(zip(places, plans_of(configurations, self._task.year), strict=True))
        return [
            found if isinstance(found, Row) else self._outcome(line.row, found, plans[place])
            for place, (line, found) in enumerate(zip(lines, read, strict=True))
        ]

    def row(self, line: Line) -> Row:
        """Make one row's tables and write them, or keep them for the archive."""
        return self.rows([line])[0]

    def _read(self, line: Line) -> _Read | Row:
        cells: list[str] = []
        try:
            cells = self._task.columns.cells_of(line.content)
            return _Read(cells, *self._reader.read(cells))
        except (RowError, ConfigError, RangeError) as error:
            return self._refused(line.row, cells, error)

    def _outcome(self, row: int, found: _Read, plan: YearPlan | ConfigError | RangeError) -> Row:
        try:
            if not isinstance(plan, YearPlan):
                raise plan
            return self._made(row, found, plan)
        except (ConfigError, RangeError, CapacityError) as error:
            return self._refused(row, found.cells, error)

    def _refused(self, row: int, cells: list[str], error: Exception) -> Row:
        if isinstance(error, ConfigError):
            error = self._reader.row_error(error)
        if isinstance(error, RowError):
            return Row(row, self._name(cells), "", column=error.column, error=error.words)
        return Row(row, self._name(cells), "", error=str(error))

    def _name(self, cells: list[str]) -> str:
        return cells[self._task.columns.names.index("name")] if cells else ""

    def _made(self, row: int, found: _Read, plan: YearPlan) -> Row:
        task, configuration = self._task, found.configuration
        digest = plan_sha256(plan)
        work = Built(configuration, plan, Stamp(__version__, task.command, plan.tzdata, digest, found.settings))
        warnings = tuple(warned.text for warned in plan.warnings)
        stem = file_stem(plan)
        files = year_files(work, task.forms)
        # The row's number makes the folder's name unique without remembering all others.
        folder = f"{row:06d}_{stem.rpartition('_')[0]}"
        done = Row(row, configuration.site.name, folder, digest, warnings)
        if task.out is None:
            records = tuple(entry(f"{folder}/{name}", content) for name, content in files.items())
            return Row(row, done.name, folder, digest, warnings, records=records)
        _write(task.out / folder, files, task.force)
        return done


def _write(folder: Path, files: dict[str, bytes], force: bool = False) -> None:
    """Write a site's files; a link put in their way is refused, not followed, and a file of someone else left alone."""
    try:
        new = not folder.is_symlink() and not folder.exists()
        folder.mkdir(exist_ok=True)
        if folder.is_symlink():
            raise CannotWriteError(f"{folder} is a link; wanted a folder, or nothing")
        for name, content in files.items():
            path = folder / name
            if not new and path.is_symlink():
                raise CannotWriteError(f"{path} is a link; wanted a file of this batch, or nothing")
            if not new and not force:
                refuse_foreign(path, content)
            disk.put_file(path, content, on_disk=not disk.can_sync_all())
    except OSError as error:
        raise CannotWriteError(f"{folder}: {disk.reason(error)}; the same command goes on from here") from None


def file_names(folder: str, year: int, forms: tuple[str, ...]) -> list[str]:
    """The names of the plans' files in a site's folder."""
    return [f"{folder.partition('_')[2]}_{year}.{ending}" for form in forms for ending in FORMS[form].endings]


_maker: list[Maker] = []


def start_worker(task: Task) -> None:
    """Make ready a worker process."""
    import multiprocessing
    import threading

    _maker[:] = [Maker(task)]
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> None:
    """End this process when its parent has ended, however that was: it would wait for work for ever."""
    from multiprocessing.connection import wait

    wait([sentinel])
    os._exit(1)


def work(lines: list[Line]) -> list[Row]:
    """What a worker process is asked to do."""
    return _maker[0].rows(lines)
