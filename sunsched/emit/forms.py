"""The output forms: what each is called, how its files end, what makes it and what reads it back.

Every text ends with the digest of itself (base/text_digest.py), by which it is proven and known as ours.

A new form is one file in `emit/`, which makes it and reads it back, and an entry here; see docs/adding.md. Places are
named and loaded when they are called, so that a list of forms costs no start-up.
"""

from __future__ import annotations

import importlib
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

from sunsched.base.errors import DamagedError, UsageError

if TYPE_CHECKING:
    from sunsched.emit.read_table import ReadTable


class Reading(NamedTuple):
    """How one kind of a form's files is known and read.

    kind   what such a file is called
    starts   its first bytes; in a text, spaces before them do not count
    holds   bytes that stand somewhere in it
    place   "module:function" that takes the file's bytes and returns a ReadTable, or raises DamagedError
    """

    kind: str
    place: str
    starts: bytes = b""
    holds: bytes = b""

    def matches(self, raw: bytes) -> bool:
        """Whether a file's bytes look like one of this kind."""
        return raw.lstrip().startswith(self.starts) and self.holds in raw


class Form(NamedTuple):
    """One output form.

    name   what `--as` takes
    words   what its files are called, in a list of kinds
    endings   of its files, without the point; the first is that of the plan's own file
    text   True if all its files are text (UTF-8), False if some hold bytes
    readings   at least one: a form that cannot be read back cannot be proved
    plain   "module:function" of (plan, stamp), which gives the file of one year; empty for a form of packed tables only
    packed   "module:function" of (plans, table, stamp), which gives the files of a packed table by name; empty for a
      form of plans only
    usual   made where no form is asked for
    """

    name: str
    words: tuple[str, ...]
    endings: tuple[str, ...]
    text: bool
    readings: tuple[Reading, ...]
    plain: str = ""
    packed: str = ""
    usual: bool = False


_ALL = (
    Form(
        name="c",
        words=("header",),
        endings=("h",),
        text=True,
        readings=(
            Reading("compact header", "sunsched.emit.c_compact:read", holds=b"door_image[]"),
            Reading("plain header", "sunsched.emit.c_header:read", holds=b"door_minutes[]"),
        ),
        plain="sunsched.emit.c_header:text",
        packed="sunsched.emit.c_compact:files",
        usual=True,
    ),
    Form(
        name="json",
        words=("JSON",),
        endings=("json",),
        text=True,
        readings=(Reading("JSON", "sunsched.emit.json_table:read", starts=b"{"),),
        plain="sunsched.emit.json_table:text",
        usual=True,
    ),
    Form(
        name="csv",
        words=("CSV",),
        endings=("csv",),
        text=True,
        readings=(Reading("CSV", "sunsched.emit.csv_table:read", starts=b"date,"),),
        plain="sunsched.emit.csv_table:text",
        usual=True,
    ),
    Form(
        name="eeprom",
        words=("Intel HEX", "raw image"),
        endings=("hex", "bin"),
        text=False,
        readings=(
            Reading("raw image", "sunsched.emit.eeprom_hex:read_raw", starts=b"\xd5"),
            Reading("Intel HEX", "sunsched.emit.eeprom_hex:read", starts=b":"),
        ),
        packed="sunsched.emit.eeprom_hex:files",
    ),
    Form(
        name="micropython",
        words=("MicroPython module",),
        endings=("py",),
        text=True,
        readings=(Reading("MicroPython module", "sunsched.emit.micropython:read", holds=b"\nIMAGE = ("),),
        packed="sunsched.emit.micropython:files",
    ),
    # The next form stands above this line.
)
FORMS: dict[str, Form] = {form.name: form for form in _ALL}
KEPT = "json"  # the form from which a renewal reads what it made before


def usual() -> tuple[str, ...]:
    """The forms that are made where none is asked for."""
    return tuple(form.name for form in FORMS.values() if form.usual)


def asked(names: Iterable[str]) -> tuple[str, ...]:
    """The names, each once. Raises UsageError for one that is no form."""
    unique = tuple(dict.fromkeys(names))
    for name in unique:
        if name not in FORMS:
            raise UsageError(f"--as is '{name}'; wanted one of {', '.join(FORMS)}")
    return unique


def plain_file(name: str, plan: Any, stamp: Any) -> bytes:
    """The file of one year's plan in a form."""
    return _as_bytes(_at(FORMS[name].plain)(plan, stamp))


def packed_files(name: str, plans: Any, table: Any, stamp: Any) -> dict[str, bytes]:
    """The files of a packed table in a form, by name."""
    files: Mapping[str, str | bytes] = _at(FORMS[name].packed)(plans, table, stamp)
    return {file: _as_bytes(content) for file, content in files.items()}


def read_back(raw: bytes) -> ReadTable:
    """The table in a file's bytes, whichever form it has. Raises DamagedError when it is of none, or not whole."""
    readings = [(form, reading) for form in FORMS.values() for reading in form.readings]
    # By its start first: a text may hold the words of another form, as a JSON table holds the site's name.
    for form, reading in sorted(readings, key=lambda one: not one[1].starts):
        if reading.matches(raw.removeprefix(_BYTE_ORDER_MARK)):
            return _proven(form, reading, raw)
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError:
        raise DamagedError("neither a table image nor text") from None
    *kinds, last = kinds_of_files()
    raise DamagedError(f"no table of ours: neither {', '.join(kinds)} nor {last}")


_BYTE_ORDER_MARK = b"\xef\xbb\xbf"


def _proven(form: Form, reading: Reading, raw: bytes) -> ReadTable:
    """A file read, and whether all of it is proven: a text by its digest, an image by its own checksum."""
    from sunsched.base.text_digest import proven
    from sunsched.emit.read_table import text_of

    whole = proven(raw) if form.text else None
    if whole is False:
        raise DamagedError("the digest of its text is not the one it carries: damaged, or changed since it was written")
    table: ReadTable = _at(reading.place)(raw)
    table = table._replace(kind=reading.kind, form=form.name)
    return table._replace(proof="digest" if whole else "", text=text_of(raw)) if form.text else table


def kinds_of_files() -> list[str]:
    """What the files of all forms are called."""
    return [word for form in FORMS.values() for word in form.words]


def forms_help() -> str:
    """Every form in words, with the kinds of its files where its name does not say them."""
    said = {
        form.name: form.name if form.plain else f"{form.name} ({list_words(form.words, 'and')})"
        for form in FORMS.values()
    }
    return list_words(said.values())


def list_words(names: Iterable[str], joint: str = "or") -> str:
    """Names as a list in words: 'c, json or csv'."""
    *first, last = names
    return f"{', '.join(first)} {joint} {last}" if first else last


def _at(place: str) -> Any:
    module, _, function = place.partition(":")
    return getattr(importlib.import_module(module), function)


def _as_bytes(content: str | bytes) -> bytes:
    return content.encode() if isinstance(content, str) else content
