"""All printing: data on standard output, messages on standard error.

No other file prints or imports rich; rich is imported only where a terminal shows a
progress bar. Colour is for terminals and obeys NO_COLOR.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import shutil
import sys
from collections.abc import Iterable, Iterator
from typing import Any, TextIO, TypeVar

from sunsched.base.errors import CannotWriteError

T = TypeVar("T")

_YELLOW, _RED, _PLAIN = "\x1b[33m", "\x1b[31m", "\x1b[0m"


class _Manner:
    """How the run prints: set once from the command line."""

    quiet = False


def be_quiet() -> None:
    """Print only errors on standard error."""
    _Manner.quiet = True


def data(text: str) -> None:
    """Print data on standard output, as UTF-8 whatever the machine's own encoding: the same input, the same bytes."""
    with _standard_output() as out:
        if isinstance(out, io.TextIOWrapper):
            out.reconfigure(encoding="utf-8")
        out.write(text if text.endswith("\n") else f"{text}\n")
        out.flush()


def data_bytes(content: bytes) -> None:
    """Write bytes to standard output."""
    with _standard_output() as out:
        out.buffer.write(content)
        out.buffer.flush()


@contextlib.contextmanager
def _standard_output() -> Iterator[TextIO]:
    """Standard output; what cannot be written there (a full disk) is one message. A closed pipe is let through."""
    if sys.stdout is None:
        raise CannotWriteError("standard output is closed; wanted somewhere to write")
    try:
        yield sys.stdout
    except BrokenPipeError:
        raise
    except OSError as error:
        # The rest of the buffer would be written again, and fail again, when the process ends.
        leave_pipe()
        raise CannotWriteError(f"standard output: {error.strerror}") from None


def data_json(value: Any) -> None:
    """Print a value as JSON on standard output."""
    data(json.dumps(value, ensure_ascii=False, indent=1))


def table(head: Iterable[str], rows: Iterable[Iterable[Any]], words: Iterable[int] = (0,)) -> str:
    """Rows under a heading, columns padded; the columns in `words` to the left, the others to the right."""
    left = set(words)
    lines = [[str(cell) for cell in head], *([str(cell) for cell in row] for row in rows)]
    widths = [max(len(line[k]) for line in lines) for k in range(len(lines[0]))]
    texts = [
        "  ".join(c.ljust(w) if k in left else c.rjust(w) for k, (c, w) in enumerate(zip(line, widths, strict=True)))
        for line in lines
    ]
    return "\n".join(text.rstrip() for text in texts) + "\n"


def say(text: str) -> None:
    """A message on standard error, unless quiet."""
    if not _Manner.quiet:
        sys.stderr.write(f"{text}\n")


def warn(text: str) -> None:
    """A warning on standard error, unless quiet."""
    if not _Manner.quiet:
        sys.stderr.write(f"{_coloured('warning:', _YELLOW)} {text}\n")


def verdicts(states: Iterable[tuple[str, str]]) -> bool:
    """Warn of every verdict (name, state) that does not hold; True where one fails."""
    every = list(states)
    for name, state in every:
        if state != "holds":
            warn(f"{name}: {state}")
    return any(state == "fails" for _, state in every)


def error(text: str) -> None:
    """An error on standard error, quiet or not; each line of it is one error."""
    for line in text.splitlines():
        sys.stderr.write(f"{_coloured('error:', _RED)} {line}\n")


def status(text: str) -> None:
    """The progress of long work, on one line of a terminal; an empty text clears it."""
    if not _Manner.quiet and sys.stderr.isatty():
        sys.stderr.write(f"\r\x1b[K{text[: width() - 1]}")
        sys.stderr.flush()


def width() -> int:
    """Columns of the terminal."""
    return shutil.get_terminal_size().columns


def shows_pictures() -> bool:
    """True when standard output is a terminal that shows more than ASCII."""
    encoding = (sys.stdout.encoding or "").lower()
    return sys.stdout.isatty() and os.environ.get("TERM") != "dumb" and encoding.startswith("utf")


def colours() -> bool:
    """True when standard output takes colour."""
    return can_colour(sys.stdout)


def can_colour(stream: TextIO) -> bool:
    """True when a stream is a terminal that takes colour."""
    return stream.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def _coloured(text: str, colour: str) -> str:
    return f"{colour}{text}{_PLAIN}" if can_colour(sys.stderr) else text


def progress(items: Iterable[T], what: str, total: int | None = None) -> Iterator[T]:
    """The items, with a progress bar on standard error where that is a terminal."""
    if _Manner.quiet or not sys.stderr.isatty():
        yield from items
        return
    from rich.console import Console
    from rich.progress import track

    yield from track(items, description=what, total=total, console=Console(stderr=True), transient=True)


def ask(question: str, default: str = "") -> str:
    """Ask on the terminal; an empty answer means the default."""
    sys.stderr.write(f"{question} [{default}]: " if default else f"{question}: ")
    sys.stderr.flush()
    line = sys.stdin.readline() if sys.stdin is not None else ""
    if not line:
        raise EOFError
    return line.strip() or default


def leave_pipe() -> None:
    """Make a closed pipe end quietly: nothing more can be written."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
