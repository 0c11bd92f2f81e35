"""A file of sites, read row by row: name, latitude, longitude, zone, and any key by its dotted name.

One line is one row: a quote that is never closed costs that row and no other, and memory does not grow with the file.
Nothing in it is executed, and no text of it becomes a path (see `batch.py`).
"""

from __future__ import annotations

import copy
import difflib
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from sunsched.base import inputs
from sunsched.base.errors import ConfigError, DamagedError, Problem, UsageError
from sunsched.config import toml_file
from sunsched.config.configuration import Configuration
from sunsched.plan.rules import MOMENT_KEYS
from sunsched.plan.site import Site

MOST_LINE_BYTES = 100_000
DELIMITERS = (",", ";", "\t")
NEEDED = {"name": "site.name", "latitude": "site.latitude_deg", "longitude": "site.longitude_deg", "zone": "site.zone"}
# Columns whose cells are texts even where they look like numbers.
_TEXT_KEYS = ("name", "zone", "why", "from", "to", "not_before", "not_after")
_PART = re.compile(r"([a-z0-9_]+)((?:\[\d{1,3}\])*)")
_KEPT_VARIANTS = 256
_LONGEST_VALUE = 2000
# Rows are read one by one, but the whole is read once before the first for its digest.
LARGEST_BYTES = 500_000_000

Key = tuple[str | int, ...]


class RowError(Exception):
    """What is wrong with one row: the column it stands in ('' for the row as a whole) and words."""

    def __init__(self, column: str, words: str) -> None:
        self.column = column
        self.words = words
        super().__init__(f"{column}: {words}" if column else words)


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the file; `row` counts as a spreadsheet does, the heading being 1. `end` is the byte after it."""

    row: int
    content: bytes
    end: int


def lines(path: Path, from_byte: int = 0, row: int = 1) -> Iterator[Line]:
    """The lines after the first `row` - 1 ones, which end at `from_byte`; empty ones are passed over.

    A line too long to be a row is cut just past `MOST_LINE_BYTES`, which `cells_of` refuses.
    """
    with opened(path) as file:
        file.seek(from_byte)
        end = from_byte
        while content := file.readline(MOST_LINE_BYTES + 1):
            end += len(content)
            rest = content
            while not rest.endswith(b"\n") and (rest := file.readline(MOST_LINE_BYTES)):
                end += len(rest)
            if content.strip():
                yield Line(row, content, end)
            row += 1


def opened(path: Path) -> Any:
    """The file opened for reading bytes. Raises MissingFileError, or DamagedError for one of half a gigabyte."""
    if str(path) == inputs.STDIN:
        raise UsageError("SITES.csv is -; wanted a file, which is read more than once")
    return inputs.opened(path, "a CSV file of sites", LARGEST_BYTES)


@dataclass(frozen=True, slots=True)
class Columns:
    """The heading: what parts the cells, the columns' names, and the key that each sets."""

    delimiter: str
    names: tuple[str, ...]
    keys: tuple[Key, ...]

    def cells_of(self, content: bytes) -> list[str]:
        """The cells of a row. Raises RowError."""
        if len(content) > MOST_LINE_BYTES:
            raise RowError("", f"longer than {MOST_LINE_BYTES // 1000} kB")
        cells = _split(content, self.delimiter)
        if len(cells) != len(self.names):
            raise RowError("", f"{len(cells)} cells; wanted {len(self.names)}: {', '.join(self.names)}")
        return [cell.strip() for cell in cells]

    def column_of(self, key: str) -> str:
        """The column that sets a key written as errors write it, or '' where none does."""
        texts = [toml_key(parts) for parts in self.keys]
        return next((self.names[k] for k, text in enumerate(texts) if key == text or key.startswith(f"{text}.")), "")


def _split(content: bytes, delimiter: str) -> list[str]:
    try:
        text = content.decode("utf-8-sig").rstrip("\r\n")
        return next(inputs.csv_rows([text], delimiter, strict=True), [])
    except UnicodeDecodeError as error:
        raise RowError("", f"not UTF-8 at byte {error.start + 1} of the row") from None
    except ValueError as error:
        raise RowError("", str(error)) from None


def toml_key(parts: Key) -> str:
    """A key as errors write it: season[0].evening.later_min."""
    return "".join(f"[{part}]" if isinstance(part, int) else f".{part}" for part in parts).lstrip(".")


def columns(path: Path) -> tuple[Columns, Line]:
    """The heading of a file of sites, and its line. Raises DamagedError naming the column."""
    first = next(lines(path), None)
    if first is None:
        raise DamagedError(f"{path} is empty; wanted a heading with {', '.join(NEEDED)}")
    for delimiter in DELIMITERS:
        try:
            names = tuple(cell.strip() for cell in _split(first.content, delimiter))
        except RowError as error:
            raise DamagedError(f"{path}: row {first.row}: {error}") from None
        if "name" in names:
            break
    missing = [name for name in NEEDED if name not in names]
    if missing:
        raise DamagedError(f"{path}: row {first.row} has no column {', '.join(missing)}; wanted {', '.join(NEEDED)}")
    twice = [name for name in names if names.count(name) > 1]
    if twice:
        raise DamagedError(f"{path}: row {first.row} has the column '{twice[0]}' twice")
    return Columns(delimiter, names, tuple(_key_of(name, path) for name in names)), first


def _key_of(name: str, path: Path) -> Key:
    parts: list[str | int] = []
    for word in NEEDED.get(name, name).split("."):
        match = _PART.fullmatch(word)
        if match is None:
            raise DamagedError(f"{path}: column '{name}' is no key; wanted one such as evening.later_min")
        parts.append(match[1])
        parts += [int(number) for number in re.findall(r"\d+", match[2])]
    sections = list(Configuration.model_fields)
    if parts[0] not in sections or len(parts) < 2:
        near = difflib.get_close_matches(name, [*NEEDED, *sections], n=1, cutoff=0.5)
        hint = f" (nearest is '{near[0]}')" if near else ""
        raise DamagedError(f"{path}: column '{name}' is no key of a configuration{hint}")
    return tuple(parts)


@dataclass(slots=True)
class SiteReader:
    """Makes a configuration of each row: the rules of one TOML table, the site and overrides of the row.

    The [site] of the table is not used: another place has other hills.
    """

    table: Mapping[str, Any]
    columns: Columns
    _variants: dict[tuple[str, ...], tuple[Configuration, dict[str, Any]]] = field(default_factory=dict)

    def read(self, cells: list[str]) -> tuple[Configuration, dict[str, Any]]:
        """The configuration of a row's cells, and the same as plain settings. Raises RowError."""
        site_table: dict[str, Any] = {}
        others = [""] * len(cells)
        for k, (key, cell) in enumerate(zip(self.columns.keys, cells, strict=True)):
            if key[0] != "site":
                others[k] = cell
            elif not cell and key == ("site", "name"):
                raise RowError(self.columns.names[k], "is missing; wanted the site's name")
            elif cell:
                _set(site_table, key[1:], _value(key, cell), self.columns.names[k])
        configuration, settings = self._variant(tuple(others))
        try:
            site = Site.model_validate(site_table)
        except ValidationError as error:
            from sunsched.config.problems import problems_of

            raise self._error(problems_of(error, Site, ""), "site.") from None
        return (
            configuration.model_copy(update={"site": site}),
            {**settings, "site": site.model_dump(mode="python", exclude_none=True)},
        )

    def _variant(self, overrides: tuple[str, ...]) -> tuple[Configuration, dict[str, Any]]:
        """The rules with a row's overrides: checked once for each combination, not for each row."""
        known = self._variants.get(overrides)
        if known is not None:
            return known
        table = copy.deepcopy(dict(self.table))
        for key, cell, name in zip(self.columns.keys, overrides, self.columns.names, strict=True):
            if cell:
                _set(table, key, _value(key, cell), name)
        try:
            configuration = toml_file.validated(table, "")
        except ConfigError as error:
            raise self._error(error.problems, "") from None
        if len(self._variants) >= _KEPT_VARIANTS:
            self._variants.clear()
        self._variants[overrides] = found = (configuration, configuration.as_written())
        return found

    def row_error(self, error: ConfigError) -> RowError:
        """A year that is refused, as an error of its row."""
        return self._error(error.problems, "")

    def _error(self, problems: list[Problem] | tuple[Problem, ...], section: str) -> RowError:
        first = problems[0]
        key = f"{section}{first.key}"
        column = self.columns.column_of(key)
        words = f"is {first.got}; wanted {first.wanted}" + (f" ({first.hint})" if first.hint else "")
        more = f"; and {len(problems) - 1} more" if len(problems) > 1 else ""
        return RowError(column, (words if column else f"{key} {words}") + more)


def _value(key: Key, cell: str) -> Any:
    """A cell as TOML would have it: number, true or false, list, else text."""
    if key[-1] in _TEXT_KEYS:
        return cell
    if len(cell) > _LONGEST_VALUE:
        return cell
    try:
        value = toml_file.toml_of(f"v = {cell}")
    except (ValueError, RecursionError):
        return cell
    return value["v"] if len(value) == 1 and isinstance(value["v"], (int, float, bool, list)) else cell


def _set(table: dict[str, Any], key: Key, value: Any, column: str) -> None:
    place: Any = table
    for part, after in pairwise(key):
        empty: Any = [] if isinstance(after, int) else {}
        if isinstance(part, int):
            if not isinstance(place, list) or part >= len(place):
                raise RowError(column, f"there is no entry {part} in the configuration")
            place = place[part]
        elif isinstance(place, dict):
            place = place.setdefault(part, empty)
        else:
            raise RowError(column, "is no key of the configuration")
    last = key[-1]
    if not isinstance(place, dict) or isinstance(last, int):
        raise RowError(column, "is no key of the configuration")
    # A moment is said in one of three ways; the row's way replaces the configuration's.
    if last in MOMENT_KEYS:
        for other in MOMENT_KEYS:
            place.pop(other, None)
    place[last] = value
