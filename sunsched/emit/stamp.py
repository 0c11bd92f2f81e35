"""What every output states of its origin: version, command, zone data, settings, the plan's own digest.

Nothing here depends on the clock, the user or the machine, so the same input gives the same bytes.
"""

from __future__ import annotations

import hashlib
import os
import shlex
import unicodedata
from collections.abc import Mapping, Sequence
from pathlib import PurePath
from types import MappingProxyType
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import date_of
from sunsched.plan.year import YearPlan


class Stamp(NamedTuple):
    """The origin of an output.

    version   of the software that wrote it
    command   what to run to get the same text again, without paths of this machine
    tzdata   release of the IANA zone data
    plan_sha256   digest of the plan, see `plan_sha256`
    settings   the configuration as understood, every default filled in; plain data
    """

    version: str
    command: str
    tzdata: str
    plan_sha256: str
    settings: Mapping[str, Any] = MappingProxyType({})


def command_line(command: str, config: str, *options: str) -> str:
    """`sunsched COMMAND CONFIG OPTIONS...` quoted for a shell; a path is cut to the file's name.

    Outputs are the same on any machine, so they contain no folder of the machine.
    """
    name = PurePath(config).name
    words = ["sunsched", command, name if name not in ("", "-") else "CONFIG", *options]
    return " ".join(_quoted(word) for word in words)


def _quoted(word: str) -> str:
    """A word for a shell in printable ASCII, for it may have to stand in a C comment: other letters by their bytes."""
    if word.isascii() and word.isprintable():
        return shlex.quote(word)
    plain = "".join(
        f"\\{byte:03o}" if byte < 32 or byte > 126 or byte in b"'\\" else chr(byte) for byte in os.fsencode(word)
    )
    return f"$'{plain}'"


def plan_sha256(plan: YearPlan) -> str:
    """SHA-256 of what the chip gets: first day, clock, minutes and the four facts of each day.

    Reasons, warnings and the site's name are left out: two plans with the same digest move a door alike.
    """
    columns = (plan.open_min, plan.close_min, plan.midnight_min)
    return chip_data_sha256(plan.first_day, plan.chip.keeps, plan.chip_offset_min, columns, plan.fact_columns)


def chip_data_sha256(
    first_day: int, keeps: str, offset_min: int, columns: Sequence[NDArray[Any]], flags: Sequence[NDArray[np.bool_]]
) -> str:
    """The same digest from its parts: opening, closing and solar midnight (n,), then the four facts (n,)."""
    digest = hashlib.sha256()
    digest.update(f"{first_day} {len(columns[0])} {keeps} {offset_min}\n".encode())
    for column in columns:
        digest.update(np.asarray(column).astype("<i2").tobytes())
    for flag in flags:
        digest.update(np.packbits(flag).tobytes())
    return digest.hexdigest()


def file_stem(plan: YearPlan) -> str:
    """The name that a plan's files share, `larch_end_2027`: the site's stem, then the year."""
    return f"{site_stem(plan.site.name)}_{date_of(plan.first_day).year}"


_LONGEST_STEM = 60
# Names of devices on Windows, with any ending (Microsoft, "Naming Files, Paths, and Namespaces").
_DEVICES = frozenset(("con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(10))))


def site_stem(name: str) -> str:
    """A site's name in plain lower-case ASCII, as a file or folder of any system may be called.

    Where letters or digits were lost on the way, the name was cut, or a system keeps it for a device, eight digits of
    the whole name's SHA-256 follow: two such sites never share a stem, and one keeps its own for ever.
    """
    letters = unicodedata.normalize("NFKD", name)
    plain = letters.encode("ascii", "ignore").decode().lower()
    words = "_".join("".join(ch if ch.isalnum() else " " for ch in plain).split())
    lost = any(ch.isalnum() and not ch.isascii() for ch in letters)
    if words and not lost and len(words) <= _LONGEST_STEM and words not in _DEVICES:
        return words
    digest = hashlib.sha256(name.encode(errors="surrogatepass")).hexdigest()[:8]
    return f"{words[: _LONGEST_STEM - 9] or 'site'}_{digest}"
