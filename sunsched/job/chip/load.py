"""A table on its way into a chip: made or read, checked against the chip, written, read back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from sunsched.base import inputs
from sunsched.base.errors import CapacityError, CheckError, UsageError
from sunsched.base.warned import Warned
from sunsched.base.years import coming_year
from sunsched.emit import eeprom_hex
from sunsched.job.chip.port import Line
from sunsched.job.chip.state import ChipState, Slot, state_of
from sunsched.job.chip.words import WRITE_BYTES
from sunsched.table.framing import crc16
from sunsched.table.image import MARK, ChipSettings, Image, of_bytes
from sunsched.table.layout import CODECS

Progress = Callable[[Iterable[int], int], Iterator[int]]
# A file of more than this is no table, whatever its name.
LARGEST_BYTES = 1 << 16


@dataclass(frozen=True, slots=True)
class Load:
    """An image and where it comes from. `site` is the configuration's name, None for a file."""

    raw: bytes
    image: Image
    site: str | None
    board: str | None
    error_min: int
    doubt: Warned | None = None  # a place that hardly belongs to its zone


@dataclass(frozen=True, slots=True)
class Loaded:
    """What was done: the slot, its new generation, from which byte on it was written, lines sent again."""

    slot: int
    generation: int
    begun_at: int
    sent_again: int
    state: ChipState


def load_of(path: str, year: int, worst_error_min: int, room_bytes: int) -> Load:
    """The image of a file (raw or Intel HEX), or made from a configuration for a year.

    An exact table that is too long for the room gets a minute of error, which `error_min` gives.
    """
    raw = _image_bytes(path)
    if raw is not None:
        image = of_bytes(raw)
        return Load(raw[: int.from_bytes(raw[3:5], "little")], image, None, None, 0)
    from sunsched.config import toml_file
    from sunsched.job.compact import compact
    from sunsched.plan.place import doubtful_place

    c = toml_file.read(path)
    for error_min in (worst_error_min, worst_error_min + 1):
        made = compact(c, (year,), "auto", error_min, None, path)
        if len(made.table.raw) <= room_bytes:
            break
    doubt = doubtful_place(c.site)
    return Load(made.table.raw, made.table.image, c.site.name, c.chip.board, made.table.worst_error_min, doubt)


def _image_bytes(path: str) -> bytes | None:
    """The image in a file; None if it looks like a configuration."""
    if path == "-":
        return None
    with inputs.opened(path, "a configuration or a table image") as file:
        raw = file.read(LARGEST_BYTES)
    if raw[:1] == bytes([MARK]):
        return raw
    return eeprom_hex.raw_of(raw.decode("ascii", "replace")) if raw[:1] == b":" else None


def check(load: Load, state: ChipState, force: bool, this_year: int) -> None:
    """Raise an error unless the table is this chip's: room, layout, clock, site, board, years.

    `force` lets another site's table and one whose years are over pass, never one that the chip cannot use.
    """
    image = load.image
    if len(load.raw) > state.room_bytes:
        raise CapacityError(
            f"the table takes {len(load.raw)} bytes, the chip has room for {state.room_bytes}: "
            "--layout auto makes it shorter, --worst-error 1 shorter still"
        )
    if image.layout is CODECS["plain"]:
        raise CapacityError("the table is of layout plain, which the chip's program does not read: use --layout auto")
    if image.keeps == "civil" or image.offset_min != state.offset_min:
        raise CheckError(
            f"the table is for a clock {image.offset_min} min from UTC ({image.keeps}), the chip's is "
            f"{state.offset_min} min all year: not this chip's table"
        )
    if load.board is not None and load.board != state.board:
        raise CheckError(f"chip.board is '{load.board}', this chip is '{state.board}'")
    if not force:
        _refuse_another_site(load, state)
        last = image.first_year + image.n_years - 1
        if last < this_year:
            raise CheckError(f"the table's last year, {last}, is over; --force loads it all the same")


def _refuse_another_site(load: Load, state: ChipState) -> None:
    settings = ChipSettings.of_bytes(load.image.settings)
    places = (state.latitude_cdeg, state.longitude_cdeg)
    if settings is None or (settings.latitude_cdeg, settings.longitude_cdeg) != places:
        where = "no place" if settings is None else _place(settings.latitude_cdeg, settings.longitude_cdeg)
        raise CheckError(
            f"the table is for {where}, the chip was built for {state.site}, {_place(*places)}; "
            "--force loads it all the same"
        )
    if load.site is not None and _plain(load.site) != _plain(state.site):
        raise CheckError(
            f"the configuration is of {load.site}, the chip was built for {state.site}; --force loads it all the same"
        )


def _place(latitude_cdeg: int, longitude_cdeg: int) -> str:
    return f"{latitude_cdeg / 100:.2f} {longitude_cdeg / 100:.2f}"


def _plain(name: str) -> str:
    """A name as far as the chip's ASCII holds it."""
    return "".join(ch for ch in name.casefold() if ch.isascii() and ch.isalnum())


def put(line: Line, state: ChipState, raw: bytes, progress: Progress | None = None) -> Loaded:
    """Write the image into the free slot, take it into use, read it back. Goes on where an earlier load broke off.

    Raises NoAnswerError, BrokenOffError, or CheckError if the chip holds something else in the end.
    """
    crc = int.from_bytes(raw[-2:], "little")
    for number, slot in enumerate(state.slots):
        if slot is not None and (slot.crc, slot.length) == (crc, len(raw)) and state.free_slot() != number:
            return _proven(line, Loaded(number, slot.generation, len(raw), line.again, state), raw)
    slot_number = state.free_slot()
    begun_at = _standing(line, slot_number, raw)
    steps: Iterable[int] = range(begun_at, len(raw), WRITE_BYTES)
    for at in steps if progress is None else progress(steps, len(range(begun_at, len(raw), WRITE_BYTES))):
        _write(line, slot_number, raw, at)
    answer = line.ask(f"c{slot_number:x}{len(raw):03x}{crc:04x}").split()
    return _proven(line, Loaded(slot_number, int(answer[1], 16), begun_at, line.again, state), raw)


def _standing(line: Line, slot: int, raw: bytes) -> int:
    """How many of the image's bytes the slot holds already, from its first on."""
    at = 0
    while at < len(raw):
        until = min(at + WRITE_BYTES, len(raw))
        if int(line.ask(f"a{slot:x}{until:03x}").split()[2], 16) != crc16(raw[:until]):
            return at
        at = until
    return at


def _write(line: Line, slot: int, raw: bytes, at: int) -> None:
    part = raw[at : at + WRITE_BYTES]
    for _ in range(3):
        answer = line.ask(f"w{slot:x}{at:03x}{part.hex()}").split()
        if int(answer[2], 16) == crc16(raw[: at + len(part)]):
            return
    raise CheckError(
        f"byte {at} of slot {slot} does not keep what is written: the chip's EEPROM is worn or damaged; "
        "the tables compiled in serve"
    )


def _proven(line: Line, loaded: Loaded, raw: bytes) -> Loaded:
    """Read the table back out of the chip, byte for byte, and the chip's word that it is in use."""
    found = b"".join(
        bytes.fromhex(line.ask(f"r{loaded.slot:x}{at:03x}").split()[2]) for at in range(0, len(raw), WRITE_BYTES)
    )
    state = state_of(line)
    slot: Slot | None = state.slots[loaded.slot]
    if found[: len(raw)] != raw or slot is None or slot.crc != int.from_bytes(raw[-2:], "little"):
        raise CheckError("the table read back out of the chip is not the one that was sent")
    return Loaded(loaded.slot, loaded.generation, loaded.begun_at, loaded.sent_again, state)


def plain(loaded: Loaded, load: Load) -> dict[str, Any]:
    """For JSON."""
    image = load.image
    return {
        "slot": loaded.slot,
        "generation": loaded.generation,
        "bytes": len(load.raw),
        "layout": image.layout.name,
        "years": [image.first_year, image.first_year + image.n_years - 1],
        "worst_error_min": load.error_min,
        "begun_at": loaded.begun_at,
        "lines_sent_again": loaded.sent_again,
    }


def parsed_year(year: int | None, today: dt.date) -> int:
    """The year asked for; else that of the days to come."""
    if year is not None:
        if not 2000 <= year <= 2052:
            raise UsageError(f"--year is {year}; wanted one of 2000 to 2052")
        return year
    return coming_year(today)
