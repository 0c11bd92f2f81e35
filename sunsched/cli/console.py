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
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Any, ClassVar, TextIO, TypeVar

from sunsched.base.errors import CannotWriteError
from sunsched.base.plain_text import shown

if TYPE_CHECKING:
    from sunsched.base.warned import Warned
    from sunsched.report.text.answer import Answer

T = TypeVar("T")

MOST_COLUMNS, LEAST_COLUMNS = 80, 20  # every text holds the first; a narrower terminal down to the second
_YELLOW, _RED, _PLAIN = "\x1b[33m", "\x1b[31m", "\x1b[0m"


class _Manner:
    """How the run prints: set once from the command line. `notes` wait for the end of the run."""

    quiet = False
    notes: ClassVar[list[str]] = []


def be_quiet(quiet: bool = True) -> None:
    """Print only errors on standard error, or again everything."""
    _Manner.quiet = quiet


def data(text: str) -> None:
    """Print data on standard output, as UTF-8 whatever the machine's own encoding: the same input, the same bytes.

    Control characters in it are written out, so that no name or log gives orders to a terminal.
    """
    picture(shown(text))


def picture(text: str) -> None:
    """Print what may colour a terminal: text of our own only."""
    with _standard_output() as out:
        if isinstance(out, io.TextIOWrapper):
            out.reconfigure(encoding="utf-8")
        out.write(text if text.endswith("\n") else f"{text}\n")
        out.flush()


def data_bytes(content: bytes) -> None:
    """Write a file's bytes to standard output; on a terminal, as `data` does where they are text."""
    with contextlib.suppress(UnicodeDecodeError):
        if sys.stdout is not None and sys.stdout.isatty():
            data(content.decode().replace("\r\n", "\n"))
            return
    with _standard_output() as out:
        out.buffer.write(content)
        out.buffer.flush()


@contextlib.contextmanager
def _standard_output() -> Iterator[TextIO]:
    """Standard output; what cannot be written there (a full disk) is one message. A closed pipe takes no more."""
    if sys.stdout is None:
        raise CannotWriteError("standard output is closed; wanted somewhere to write")
    try:
        yield sys.stdout
    except BrokenPipeError:
        leave_pipe()
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
        _message(_for_reading(shown(text)))


def note(text: str) -> None:
    """A message that stands after all others: the answer comes first."""
    _Manner.notes.append(text)


def say_notes() -> None:
    """Say the notes that waited."""
    while _Manner.notes:
        say(_Manner.notes.pop(0))


def warn(text: str) -> None:
    """A warning on standard error, unless quiet."""
    if not _Manner.quiet:
        _message(f"{_coloured('warning:', _YELLOW)} {_for_reading(shown(text), len('warning: '))}")


def folded_warning(text: str) -> None:
    """A warning folded to 80 columns, or the terminal's where it is narrower."""
    warn("\n".join(folded(text, "", "  ", len("warning: "))))


SHOWN_WARNINGS = 3  # with what to do about each they fill half of an old terminal's lines


def warnings(found: Sequence[Warned], every: bool = False) -> None:
    """Warn of each of a list, the most harmful first, with what to do; unless `every`, of the first few, and how many.

    Folded to 80 columns, or the terminal's where it is narrower.
    """
    shown_here = found if every else found[:SHOWN_WARNINGS]
    for warned in shown_here:
        folded_warning(f"{warned.text}.")
        say("\n".join(folded(f"What to do: {warned.to_do}", "  ", "  ")))
    if len(found) > len(shown_here):
        say(f"{len(found)} warnings in all; --all shows every one")


def folded(text: str, head: str = "", later: str = "", taken: int = 0, whole_words: bool = False) -> list[str]:
    """The lines of a text no wider than 80 columns or the terminal; `taken` columns of the first are not free.

    whole_words   no word is broken, so that a path can be copied; one that is too long stands out of its line
    """
    columns = max(LEAST_COLUMNS, min(MOST_COLUMNS, width()))
    lines = textwrap.wrap(
        text,
        columns,
        initial_indent=" " * taken + head,
        subsequent_indent=later,
        break_long_words=not whole_words,
        break_on_hyphens=not whole_words,
    )
    return [line[taken:] if k == 0 else line for k, line in enumerate(lines)]


def answer(told: Answer) -> None:
    """The three lines of a command whose standard output is a file's content, or nothing: on standard error."""
    say("\n".join(told.lines()))


def error(text: str) -> None:
    """An error on standard error, quiet or not; each line of it is one error."""
    for line in text.split("\n"):
        _message(f"{_coloured('error:', _RED)} {_for_reading(shown(line), len('error: '))}")


def _for_reading(text: str, taken: int = 0) -> str:
    """A message as its reader takes it: folded for a terminal, for a file or a program a line each."""
    if not _is_terminal(sys.stderr):
        return text
    lines: list[str] = []
    for line in text.split("\n"):
        indent = line[: len(line) - len(line.lstrip())]
        lines += folded(line.strip(), indent, f"{indent}  ", 0 if lines else taken, whole_words=True) or [""]
    return "\n".join(lines)


def _message(line: str, end: str = "\n") -> None:
    """Write on standard error, if there is any: a message that nobody can read changes nothing else."""
    if sys.stderr is None:
        return
    with contextlib.suppress(OSError, ValueError):
        sys.stderr.write(f"{line}{end}")
        sys.stderr.flush()


def status(text: str) -> None:
    """The progress of long work, on one line of a terminal; an empty text clears it."""
    if not _Manner.quiet and _is_terminal(sys.stderr):
        _message(f"\r\x1b[K{shown(text)[: width() - 1]}", end="")


def width() -> int:
    """Columns of the terminal."""
    return shutil.get_terminal_size().columns


def shows_pictures() -> bool:
    """True when standard output is a terminal that shows more than ASCII."""
    encoding = (getattr(sys.stdout, "encoding", "") or "").lower()
    return _is_terminal(sys.stdout) and os.environ.get("TERM") != "dumb" and encoding.startswith("utf")


def colours() -> bool:
    """True when standard output takes colour."""
    return can_colour(sys.stdout)


def _is_terminal(stream: TextIO | None) -> bool:
    return stream is not None and stream.isatty()


def can_colour(stream: TextIO | None) -> bool:
    """True when a stream is a terminal that takes colour."""
    return _is_terminal(stream) and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def _coloured(text: str, colour: str) -> str:
    return f"{colour}{text}{_PLAIN}" if can_colour(sys.stderr) else text


def progress(items: Iterable[T], what: str, total: int | None = None) -> Iterator[T]:
    """The items, with a progress bar on standard error where that is a terminal."""
    if _Manner.quiet or not _is_terminal(sys.stderr):
        yield from items
        return
    from rich.console import Console
    from rich.progress import track

    yield from track(items, description=what, total=total, console=Console(stderr=True), transient=True)


def ask(question: str, default: str = "") -> str:
    """Ask on the terminal; an empty answer means the default."""
    _message(shown(f"{question} [{default}]: " if default else f"{question}: "), end="")
    line = sys.stdin.readline() if sys.stdin is not None else ""
    if not line:
        raise EOFError
    return line.strip() or default


def leave_pipe() -> None:
    """Let what is still to be printed go nowhere: its reader has gone, and the exit code is to be what it would be."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def pipe_was_closed() -> bool:
    """Whether the reader of standard output went while click printed, which wraps the stream then."""
    return type(sys.stdout).__name__ == "PacifyFlushWrapper"


def finish() -> None:
    """Hand over what was printed; raises CannotWriteError where it cannot be (a full disk)."""
    if sys.stdout is not None:
        with _standard_output() as out:
            out.flush()
