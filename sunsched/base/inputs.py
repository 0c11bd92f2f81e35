"""Everything that comes from outside, bounded: files and streams in bytes, numbers in digits, JSON and CSV in depth.

Only regular files and standard input are read, the size of a file is asked for before its first byte, and no more
than the limit is ever taken into memory. A pipe that nobody writes to, a device without end or a disk image named by
mistake is refused by its name. The limits stand beside what they bound (`LARGEST_BYTES` of each reader).
"""

from __future__ import annotations

import csv
import json
import math
import os
import re
import stat
import sys
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any, BinaryIO

from sunsched.base.errors import DamagedError, MissingFileError, SunschedError

STDIN = "-"
# No number that anybody measures or sets has more digits; beyond 4300 Python itself refuses to read one.
MOST_DIGITS = 18
LONGEST_FIELD = 100_000
_WHOLE = re.compile(r"[+-]?[0-9]{1,18}")
_DECIMAL = re.compile(r"[+-]?([0-9]{1,18}(\.[0-9]{0,18})?|\.[0-9]{1,18})([eE][+-]?[0-9]{1,3})?")
csv.field_size_limit(LONGEST_FIELD)


def name_of(path: str | Path) -> str:
    """What an error calls an input."""
    return "standard input" if str(path) == STDIN else str(path) or "''"


def opened(
    path: str | Path,
    wanted: str,
    most_bytes: int | None = None,
    too_long: Callable[[str], SunschedError] = DamagedError,
    hint: str = "",
) -> BinaryIO:
    """A regular file opened for reading its bytes, or standard input for "-".

    wanted   what it should be, for the errors: "a light log"
    hint   what to say in place of `wanted` where there is no such file
    most_bytes   a file of more is refused unread with the error `too_long` makes; of a stream see `read_bytes`
    Raises MissingFileError where there is no such file, it is a folder, a pipe or a device, or may not be read.
    """
    name = name_of(path)
    if str(path) == STDIN:
        if sys.stdin is None:
            raise MissingFileError(f"{name} is closed; wanted {wanted} on it")
        return sys.stdin.buffer
    try:
        _refuse_irregular(os.stat(path), name, wanted)
        # Without a wait for the writer of a pipe that took the file's place since.
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        file = os.fdopen(handle, "rb")
    except FileNotFoundError:
        raise MissingFileError(f"{name}: there is no such file; wanted {hint or wanted}") from None
    except OSError as error:
        raise MissingFileError(f"{name}{_why(error)}; wanted {wanted}") from None
    except ValueError:
        raise MissingFileError(f"{name}: no file has such a name; wanted {wanted}") from None
    try:
        status = os.fstat(file.fileno())
        _refuse_irregular(status, name, wanted)
        if most_bytes is not None and status.st_size > most_bytes:
            raise too_long(f"{name} has {status.st_size} bytes; wanted {wanted}, at most {most_bytes} bytes")
    except SunschedError:
        file.close()
        raise
    return file


def read_bytes(
    path: str | Path,
    wanted: str,
    most_bytes: int,
    too_long: Callable[[str], SunschedError] = DamagedError,
    hint: str = "",
) -> bytes:
    """All bytes of a regular file or of standard input, at most `most_bytes`. Raises as `opened` does."""
    file = opened(path, wanted, most_bytes, too_long, hint)
    try:
        data = file.read(most_bytes + 1)
    except OSError as error:
        raise MissingFileError(f"{name_of(path)}{_why(error)}; wanted {wanted}") from None
    finally:
        if str(path) != STDIN:
            file.close()
    if len(data) > most_bytes:
        raise too_long(f"{name_of(path)} has more than {most_bytes} bytes; wanted {wanted}")
    return data


def _refuse_irregular(status: os.stat_result, name: str, wanted: str) -> None:
    if stat.S_ISDIR(status.st_mode):
        raise MissingFileError(f"{name} is a folder; wanted {wanted}")
    if not stat.S_ISREG(status.st_mode):
        raise MissingFileError(
            f"{name} is a pipe or a device; wanted {wanted} in a plain file, or - for standard input"
        )


def _why(error: OSError) -> str:
    if isinstance(error, IsADirectoryError):
        return " is a folder"
    if isinstance(error, PermissionError):
        return ": no permission to read it"
    return f": {error.strerror}"


def whole(text: str, low: int, high: int) -> int | None:
    """The whole number in a text of plain digits, None where there is none or it lies outside `low` to `high`."""
    if _WHOLE.fullmatch(text) is None:
        return None
    value = int(text)
    return value if low <= value <= high else None


def decimal(text: str) -> float | None:
    """The finite number in a text, of at most `MOST_DIGITS` digits on either side of the point; None otherwise."""
    if _DECIMAL.fullmatch(text) is None:
        return None
    value = float(text)
    return value if math.isfinite(value) else None


def json_of(data: bytes | str) -> Any:
    """The value of a JSON text. Raises ValueError for what is none, is nested too deeply, or has endless numbers."""
    try:
        return json.loads(data, parse_int=_json_whole, parse_float=_json_decimal, parse_constant=_json_decimal)
    except RecursionError:
        raise ValueError("nested too deeply") from None


def _json_whole(text: str) -> int:
    if len(text) <= MOST_DIGITS:
        return int(text)
    limit = 10**MOST_DIGITS
    value = whole(text, -limit, limit)
    if value is None:
        raise ValueError(f"a number of {len(text)} digits")
    return value


def _json_decimal(text: str) -> float:
    # Most of what is read are many short numbers: `json` has seen to their form, and these cannot be endless.
    if len(text) <= MOST_DIGITS + 1 and "." in text and "e" not in text and "E" not in text:
        return float(text)
    value = decimal(text)
    if value is None:
        raise ValueError(f"the number {text[:40]}")
    return value


def csv_rows(lines: Iterable[str], delimiter: str = ",", strict: bool = False) -> Iterator[list[str]]:
    """The rows of a CSV text. Raises ValueError for a field of more than `LONGEST_FIELD` characters, or bad quotes."""
    try:
        yield from csv.reader(lines, delimiter=delimiter, strict=strict)
    except csv.Error as error:
        raise ValueError(f"not CSV: {error}") from None
