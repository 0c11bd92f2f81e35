"""The serial port, opened with pyserial: which one it is, what may be wrong with it, lines out and lines in."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from sunsched.base.errors import BrokenOffError, MissingFileError, NoAnswerError
from sunsched.job.chip.words import REFUSALS, answered, asked

BAUD = 9600
ANSWER_S = 2.0
TRIES = 6
READY_S = 10.0  # a reset board is up within 2 s (common practice), and a busy one answers within a second
OnLine = Callable[[str], None]


class Line:
    """Lines to the chip and from it. `on_line` gets every line that is no answer: the door's log, remarks."""

    def __init__(self, port: Any, name: str, on_line: OnLine | None = None) -> None:
        self.port, self.name, self.on_line = port, name, on_line
        self.again = 0  # lines that had to be sent more than once
        self._rest = b""

    def wake(self) -> None:
        """Send an empty line until the program says `# ready`. Raises NoAnswerError."""
        until = time.monotonic() + READY_S
        while time.monotonic() < until:
            self._write(b"\r")
            for line in self.lines(0.7):
                if line == b"# ready":
                    return
        raise NoAnswerError(
            f"{self.name}: nothing answers; is the board powered, is it the right port, does its program run, "
            "and is no other program using the line?"
        )

    def ask(self, text: str) -> str:
        """The answer to a line, without `# `, its letter and its checksum. Raises NoAnswerError, or Refused."""
        for attempt in range(TRIES):
            self.again += attempt > 0
            self._write(asked(text))
            for line in self.lines(ANSWER_S):
                found = answered(line)
                if found is None:
                    if line.startswith(b"# what"):
                        break  # it came damaged: once more
                    continue
                if found.startswith("! "):
                    raise RefusedError(text, found[2:])
                if found.startswith(_echo(text)):
                    return found[2:]
            else:
                self._write(b"\r")  # asleep, or in the middle of a line that noise has begun
                list(self.lines(0.2))
        raise NoAnswerError(f"{self.name}: no answer to '{text}', sent {TRIES} times; the door goes on as it is")

    def lines(self, seconds: float) -> Iterator[bytes]:
        """Whole lines as they come, until so many seconds have passed without one."""
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            head, found, rest = self._rest.partition(b"\n")
            if found:
                self._rest = rest
                line = head.strip(b"\r")
                if self.on_line is not None and answered(line) is None:
                    self.on_line(line.decode("ascii", "replace"))
                yield line
                continue
            self._rest += self._read()

    def send(self, text: str) -> None:
        """A line for a person, as typed."""
        self._write(text.encode("ascii") + b"\r")

    def _write(self, data: bytes) -> None:
        with self._unbroken():
            self.port.write(data)

    def _read(self) -> bytes:
        with self._unbroken():
            return bytes(self.port.read(max(1, self.port.in_waiting)))

    @contextlib.contextmanager
    def _unbroken(self) -> Iterator[None]:
        from serial import SerialException

        try:
            yield
        except (SerialException, OSError) as error:
            raise BrokenOffError(
                f"{self.name}: the line broke off ({error}); the door keeps the tables it has. "
                "Plug the board in and run the command again: it goes on where it was"
            ) from None


def _echo(text: str) -> str:
    """How the answer to a line begins: letter, slot, place; an answer that comes late is to another line."""
    if text[0] in "arw":
        return f"{text[0]} {text[1]} {text[2:5]} "
    return f"e {text[1:3]} " if text[0] == "e" else f"{text[0]} {text[1]}"


class RefusedError(NoAnswerError):
    """The chip has understood a line and refuses it; `code` is LINE.md's."""

    def __init__(self, text: str, code: str) -> None:
        self.code = code
        super().__init__(f"the chip refuses '{text}': {REFUSALS.get(code, f'reason {code}')}")


@contextlib.contextmanager
def opened(name: str | None, on_line: OnLine | None = None) -> Iterator[Line]:
    """The port asked for, or the only one there is; the board is awake. Errors say what is missing."""
    from serial import Serial, SerialException

    place = name or _only_port()
    try:
        port = Serial(place, BAUD, timeout=0.05, write_timeout=5, exclusive=True)
    except (SerialException, OSError) as error:
        raise _cannot_open(place, error) from None
    with port:
        line = Line(port, place, on_line)
        line.wake()
        yield line


def ports() -> list[tuple[str, str]]:
    """Serial ports that may have a board: place, and what the computer says it is."""
    from serial.tools.list_ports import comports

    return [(port.device, port.description) for port in comports() if port.vid is not None]


def _only_port() -> str:
    found = ports()
    if len(found) == 1:
        return found[0][0]
    if not found:
        raise MissingFileError("no serial port with a board is there; plug it in, or name one with --port")
    listed = ", ".join(f"{place} ({what})" for place, what in found)
    raise MissingFileError(f"{len(found)} serial ports are there: {listed}; name one with --port")


def _cannot_open(place: str, error: Exception) -> MissingFileError:
    number = getattr(error, "errno", None)
    if number == 13 or "Permission" in str(error):
        return MissingFileError(
            f"{place}: no permission to use it; join its group: sudo usermod -aG {_group(place)} $USER, "
            "then log in again"
        )
    if number == 2 or not Path(place).exists():
        there = ", ".join(port for port, _ in ports()) or "none"
        return MissingFileError(f"{place}: no such port; ports with a board: {there}")
    if number in (11, 16) or "exclusive" in str(error) or "lock" in str(error):
        return MissingFileError(f"{place}: another program uses the port; close it and try again")
    return MissingFileError(f"{place}: cannot be opened as a serial port ({error})")


def _group(place: str) -> str:
    try:
        return Path(place).group()
    except (KeyError, OSError, RuntimeError):  # the last from pathlib on Windows, which knows no groups
        return "dialout"
