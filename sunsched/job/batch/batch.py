"""Many sites in one go: rows in, tables and one line of results for each row out.

The results are written in the order of the rows, so that a run of one process and of eight give the same bytes. A
checkpoint says up to which row everything is on the disk; it is written before the first row, so a run that was broken
off at any moment goes on from there. What it says is checked first: tables that are gone are made again, results that
were changed are left alone. Nothing is kept in memory but the rows under way.

    DIR/results.csv                     a line for each row
    DIR/000002_larch_end/...            its tables: the row as a spreadsheet counts it, then the site's name in ASCII
    DIR/tables.zip                      instead of the folders, with `archive`
    DIR/.batch.json                     the checkpoint
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
from collections import deque
from collections.abc import Iterable, Iterator
from contextlib import ExitStack, suppress
from dataclasses import asdict, dataclass, replace
from itertools import islice
from pathlib import Path
from typing import Any, BinaryIO

from sunsched import __version__
from sunsched.base import inputs
from sunsched.base.civil_time import tzdata_release
from sunsched.base.errors import CannotWriteError, CheckError, DamagedError
from sunsched.base.plain_text import cell
from sunsched.config import toml_file
from sunsched.job import disk
from sunsched.job.batch import one_row
from sunsched.job.batch.one_row import Maker, Row, Task, start_worker, work
from sunsched.job.batch.sites_file import Line, columns, lines, opened
from sunsched.job.renewal.generations import locked

ROWS_AT_ONCE = 24  # three times as many as are planned together: sites of three zones, or of one, come out even
CHECKPOINT_ROWS = 128
_CHECKPOINT_BYTES = 10_000
RESULTS, ARCHIVE, CONTENTS, CHECKPOINT = "results.csv", "tables.zip", ".contents.part", ".batch.json"
RESULT_COLUMNS = ("row", "name", "result", "tables", "plan_sha256", "warnings", "column", "error")
_GOES_ON = "the same command goes on from here"


@dataclass(frozen=True, slots=True)
class Ask:
    """What is wanted of a batch."""

    sites: Path
    config: str
    out: Path
    year: int
    forms: tuple[str, ...]
    jobs: int = 1
    as_archive: bool = False
    force: bool = False


@dataclass(frozen=True, slots=True)
class State:
    """How far a batch has come: rows done, and how long each file was then. `job` names what was asked for."""

    job: str
    row: int
    sites_bytes: int
    results_bytes: int = 0
    results_sha256: str = hashlib.sha256().hexdigest()
    archive_bytes: int = 0
    contents_bytes: int = 0
    entries: int = 0
    good: int = 0
    bad: int = 0
    done: bool = False


class Batch:
    """One batch: opened, then run row by row. `remarks` says what was found missing and is made again."""

    def __init__(self, ask: Ask) -> None:
        self.ask = ask
        table = toml_file.table_of(ask.config)
        configuration = toml_file.validated(table, ask.config)
        self._columns, heading = columns(ask.sites)
        self.n_rows, digest = _counted(ask.sites)
        command = f"sunsched batch {ask.sites.name} {Path(ask.config).name} --year {ask.year}"
        out = None if ask.as_archive else ask.out
        self.remarks: list[str] = []
        self._task = Task(table, self._columns, ask.year, ask.forms, command, out, ask.force)
        said = [digest, configuration.as_written(), ask.year, ask.forms, ask.as_archive, __version__, tzdata_release()]
        job = hashlib.sha256(json.dumps(said, default=str).encode()).hexdigest()
        self._fresh = State(job, heading.row + 1, heading.end)
        self.state = self._fresh

    def run(self) -> Iterator[Row]:
        """Do what is left to do, row by row in the file's order.

        Raises CannotWriteError when the folder holds another batch or results that were changed (unless forced), or
        the disk is full; the same command then goes on where it stopped.
        """
        with locked(self.ask.out, "batch"):
            self.state = self._checked(self._found())
            yield from self._again(self._without_tables())
            if self.state.done:
                return
            if not self.state.results_bytes:
                # Before the first row, so that a run that ends at any moment can be gone on with.
                self._save(self.state)
            with _OpenFiles(self.ask.out, self.state, self.ask.as_archive) as files:
                if not self.state.results_bytes:
                    files.result(RESULT_COLUMNS)
                yield from self._rows(files)
                files.finish()
                self._keep(replace(self.state, done=True), files)
            (self.ask.out / CONTENTS).unlink(missing_ok=True)

    def _found(self) -> State:
        """How far the folder's batch has come; refuses another batch, and results of none."""
        path = self.ask.out / CHECKPOINT
        if not path.exists():
            if (self.ask.out / RESULTS).exists() and not self.ask.force:
                raise CannotWriteError(f"{self.ask.out / RESULTS} is not of a batch; --force replaces it")
            return self._fresh
        found = _read_state(path)
        if found is not None and found.job == self._fresh.job and not (self.ask.force and found.done):
            return found
        if not self.ask.force:
            what = "is damaged" if found is None else "has other sites, rules, year, forms or version"
            raise CannotWriteError(
                f"{self.ask.out} holds another batch ({path.name} {what}); wanted an empty folder, or --force"
            )
        return self._fresh

    def _checked(self, state: State) -> State:
        """The state if the files are as it says; the fresh one where they are gone. Refuses files that were changed."""
        files = [(RESULTS, state.results_bytes)]
        if self.ask.as_archive:
            files += [(ARCHIVE, state.archive_bytes)] + ([] if state.done else [(CONTENTS, state.contents_bytes)])
        if not state.results_bytes:
            return state
        for name, length in files:
            path = self.ask.out / name
            try:
                size = path.stat().st_size
            except FileNotFoundError:
                self.remarks.append(f"{path} is gone; the batch starts over")
                return self._fresh
            changed = size < length or (state.done and size != length)
            if name == RESULTS and not changed:
                changed = _sha256_of(path, length) != state.results_sha256
            if changed and not self.ask.force:
                raise CannotWriteError(f"{path} was changed since the batch wrote it; --force starts over")
            if changed:
                return self._fresh
        return state

    def _without_tables(self) -> set[int]:
        """The rows done whose tables are not all there any more."""
        if self.ask.as_archive or not self.state.results_bytes:
            return set()
        with (self.ask.out / RESULTS).open("rb") as file:
            content = io.TextIOWrapper(io.BytesIO(file.read(self.state.results_bytes)), encoding="utf-8", newline="")
        gone = set()
        for number, _, result, folder, *_ in islice(csv.reader(content), 1, None):
            names = one_row.file_names(folder, self.ask.year, self.ask.forms) if result == "ok" else []
            if not all(_has_content(self.ask.out / folder / name) for name in names):
                gone.add(int(number))
        if gone:
            self.remarks.append(f"the tables of {len(gone)} rows are gone, first of row {min(gone)}; made again")
        return gone

    def _again(self, rows: set[int]) -> Iterator[Row]:
        """Make the tables of rows again whose results stand already."""
        if rows:
            maker = Maker(self._task)
            # The heading is the line before the first row.
            left = lines(self.ask.sites, self._fresh.sites_bytes, self._fresh.row)
            yield from (maker.row(line) for line in left if line.row in rows)
            disk.sync_all(self.ask.out)

    def _rows(self, files: _OpenFiles) -> Iterator[Row]:
        since = 0
        for chunk, rows in self._outcomes():
            for row in rows:
                files.take(row)
            good = self.state.good + sum(row.good for row in rows)
            bad = self.state.bad + sum(not row.good for row in rows)
            self.state = replace(self.state, good=good, bad=bad, row=chunk[-1].row + 1, sites_bytes=chunk[-1].end)
            since += len(rows)
            if since >= CHECKPOINT_ROWS:
                self._keep(self.state, files)
                since = 0
            yield from rows

    def _outcomes(self) -> Iterator[tuple[list[Line], list[Row]]]:
        """Chunks of lines with their outcomes, in order, however many processes work at them."""
        left = lines(self.ask.sites, self.state.sites_bytes, self.state.row)
        chunks = iter(lambda: list(islice(left, ROWS_AT_ONCE)), [])
        if self.ask.jobs == 1:
            maker = Maker(self._task)
            yield from ((chunk, maker.rows(chunk)) for chunk in chunks)
            return
        from concurrent.futures import ProcessPoolExecutor
        from concurrent.futures.process import BrokenProcessPool

        with ProcessPoolExecutor(self.ask.jobs, initializer=start_worker, initargs=(self._task,)) as pool:
            under_way: deque[tuple[list[Line], Any]] = deque()
            try:
                for chunk in chunks:
                    under_way.append((chunk, pool.submit(work, chunk)))
                    if len(under_way) >= 4 * self.ask.jobs:
                        first, future = under_way.popleft()
                        yield first, future.result()
                while under_way:
                    first, future = under_way.popleft()
                    yield first, future.result()
            except BrokenProcessPool:
                raise CheckError(
                    "a worker process was ended from outside; the same command goes on from here"
                ) from None
            finally:
                for _, future in under_way:
                    future.cancel()

    def _keep(self, state: State, files: _OpenFiles) -> None:
        """Let everything reach the disk, then say so in the checkpoint."""
        self.state = replace(state, **files.lengths())
        self._save(self.state)

    def _save(self, state: State) -> None:
        path = self.ask.out / CHECKPOINT
        try:
            disk.sync_all(self.ask.out)
            disk.put_file(path, json.dumps(asdict(state)).encode())
            disk.sync_folder(self.ask.out)
        except OSError as error:
            raise CannotWriteError(f"{path}: {disk.reason(error)}; {_GOES_ON}") from None


class _OpenFiles:
    """The files that a batch appends to, cut back to where the checkpoint says they were whole."""

    def __init__(self, out: Path, state: State, as_archive: bool) -> None:
        self._out = out
        self._stack = ExitStack()
        self._lengths = {key: getattr(state, key) for key in ("results_bytes", "archive_bytes", "contents_bytes")}
        self._entries = state.entries
        self._digest = hashlib.sha256()
        self._results = self._opened(RESULTS, state.results_bytes)
        self._archive = self._opened(ARCHIVE, state.archive_bytes) if as_archive else None
        self._contents = self._opened(CONTENTS, state.contents_bytes) if as_archive else None
        self._results.seek(0)
        while block := self._results.read(1 << 20):
            self._digest.update(block)

    def __enter__(self) -> _OpenFiles:
        return self

    def __exit__(self, *_: object) -> None:
        # The write that met a full disk has reported it.
        with suppress(OSError):
            self._stack.close()

    def _opened(self, name: str, length: int) -> BinaryIO:
        path = self._out / name
        flags = os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)
        try:
            if path.is_symlink():
                raise CannotWriteError(f"{path} is a link; wanted a file of this batch, or nothing")
            file = self._stack.enter_context(os.fdopen(os.open(path, flags, 0o666), "r+b"))
            file.truncate(length)
            file.seek(length)
        except OSError as error:
            raise CannotWriteError(f"{path}: {disk.reason(error)}; wanted a file to write") from None
        return file

    def take(self, row: Row) -> None:
        """Append a row's result, and its tables where they go into the archive."""
        if self._archive is not None and self._contents is not None:
            for local, record in row.records:
                self._append(self._contents, one_row.central(record, self._lengths["archive_bytes"]), "contents_bytes")
                self._append(self._archive, local, "archive_bytes")
                self._entries += 1
        result = "error" if row.error else "ok"
        told = (row.name, result, row.tables, row.plan_sha256, " | ".join(row.warnings), row.column, row.error)
        self.result((row.row, *(cell(text) for text in told)))

    def result(self, cells: Iterable[Any]) -> None:
        """Append a line to the results."""
        line = io.StringIO(newline="")
        csv.writer(line).writerow(cells)
        content = line.getvalue().encode(errors="replace")
        self._append(self._results, content, "results_bytes")
        self._digest.update(content)

    def _append(self, file: BinaryIO, content: bytes, key: str) -> None:
        try:
            file.write(content)
        except OSError as error:
            raise CannotWriteError(f"{self._out}: {disk.reason(error)}; {_GOES_ON}") from None
        self._lengths[key] += len(content)

    def lengths(self) -> dict[str, Any]:
        """How long each file is now, everything handed to the system."""
        try:
            for file in (self._results, self._archive, self._contents):
                if file is not None and not file.closed:
                    file.flush()
        except OSError as error:
            raise CannotWriteError(f"{self._out}: {disk.reason(error)}; {_GOES_ON}") from None
        return {**self._lengths, "entries": self._entries, "results_sha256": self._digest.hexdigest()}

    def finish(self) -> None:
        """Close the archive with its list of contents."""
        self.lengths()
        if self._archive is None:
            return
        try:
            one_row.finish(self._archive, self._out / CONTENTS, self._entries)
            self._archive.flush()
            self._lengths["archive_bytes"] = self._archive.tell()
        except OSError as error:
            raise CannotWriteError(f"{self._out}: {disk.reason(error)}; {_GOES_ON}") from None


def _read_state(path: Path) -> State | None:
    """The checkpoint in a file, None where it is damaged."""
    try:
        told = inputs.json_of(inputs.read_bytes(path, "a batch's checkpoint", _CHECKPOINT_BYTES))
        state = State(**told)
    except (DamagedError, ValueError, TypeError):
        return None
    fresh = State("", 0, 0)
    right = all(type(getattr(state, key)) is type(value) for key, value in asdict(fresh).items())
    return state if right and all(value >= 0 for value in asdict(state).values() if isinstance(value, int)) else None


def _has_content(path: Path) -> bool:
    try:
        return path.stat().st_size > 0
    except OSError:
        return False


def _sha256_of(path: Path, length: int) -> str:
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while length and (block := file.read(min(length, 1 << 20))):
            digest.update(block)
            length -= len(block)
    return digest.hexdigest()


def _counted(path: Path) -> tuple[int, str]:
    """How many rows a file has, about, and the SHA-256 of its bytes."""
    digest = hashlib.sha256()
    count = 0
    with opened(path) as file:
        while block := file.read(1 << 20):
            digest.update(block)
            count += block.count(b"\n")
    return count, digest.hexdigest()
