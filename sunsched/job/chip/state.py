"""What a chip says of itself: program, site, tables, time, door, alarms, resets."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict, dataclass
from typing import Any

from sunsched.base.errors import NoAnswerError
from sunsched.job.chip.port import Line
from sunsched.job.chip.words import REVISION

RESETS = ("power_ups", "brown_outs", "hangs", "buttons", "starts_lost", "glitches")


@dataclass(frozen=True, slots=True)
class Slot:
    """A table in EEPROM that is in use."""

    first_year: int
    last_year: int
    crc: int
    length: int
    generation: int

    def covers(self, year: int) -> bool:
        """Whether the table serves days of a year."""
        return self.first_year <= year <= self.last_year


@dataclass(frozen=True, slots=True)
class ChipState:
    """Everything `iN` tells (LINE.md).

    when   the chip's own time, None if it has none; serving   `flash`, `0`, `1` or `none`
    flash_crc, plan   of the tables compiled in
    """

    version: str
    board: str
    room_bytes: int
    places: int
    site: str
    latitude_cdeg: int
    longitude_cdeg: int
    offset_min: int
    first_year: int
    last_year: int
    flash_crc: int
    plan: str
    slots: tuple[Slot | None, Slot | None]
    when: dt.datetime | None
    time_by: str
    proven: bool
    serving: str
    door: str
    move: str
    reason: str
    counts: int
    alarms: tuple[str, ...]
    resets: dict[str, int]

    def plain(self) -> dict[str, Any]:
        """For JSON."""
        return asdict(self) | {"when": self.when.isoformat(sep=" ") if self.when else None}

    def free_slot(self) -> int:
        """The slot that a new table goes to: LINE.md, "A load"."""
        if self.serving in ("0", "1"):
            return 1 - int(self.serving)
        one, two = self.slots
        if one is None or two is None:
            return 0 if one is None else 1
        return 0 if (two.generation - one.generation) % 256 < 128 else 1


def state_of(line: Line) -> ChipState:
    """Ask the chip for all of it. Raises NoAnswerError for another program, or another revision of the line."""
    try:
        revision, _, version, board, room, places = _answer(line, 0).split()
    except (ValueError, NoAnswerError):
        raise NoAnswerError(
            f"{line.name}: something answers, but not a door program with this line; "
            "upload the program: sunsched firmware CONFIG --out DIR"
        ) from None
    if int(revision) != REVISION:
        raise NoAnswerError(
            f"{line.name}: the program uses revision {revision} of the line, this software {REVISION}; "
            "upload the program anew"
        )
    place, flash, time = _answer(line, 2).split(), _answer(line, 3).split(), _answer(line, 6).split()
    door = _answer(line, 7).split()
    return ChipState(
        version,
        board,
        int(room),
        int(places),
        _answer(line, 1),
        int(place[0]),
        int(place[1]),
        int(place[2]),
        int(flash[0]),
        int(flash[1]),
        int(flash[2], 16),
        flash[3],
        (_slot(_answer(line, 4)), _slot(_answer(line, 5))),
        None if time[0] == "-" else dt.datetime.strptime(f"{time[0]} {time[1]}", "%Y-%m-%d %H:%M:%S"),
        time[2],
        time[3] == "proven",
        time[4],
        door[0],
        door[1],
        door[2],
        int(door[3]),
        () if door[4] == "-" else tuple(door[4].split("+")),
        dict(zip(RESETS, map(int, _answer(line, 8).split()), strict=True)),
    )


def _answer(line: Line, number: int) -> str:
    return line.ask(f"i{number}")[2:]


def _slot(text: str) -> Slot | None:
    if text == "-":
        return None
    first, last, crc, length, generation = text.split()
    return Slot(int(first), int(last), int(crc, 16), int(length, 16), int(generation))


def state_text(state: ChipState) -> str:
    """The state in lines; the first is the answer."""
    when = f"{state.when:%Y-%m-%d %H:%M:%S}" if state.when else "no time known"
    alarms = f"ALARM: {', '.join(state.alarms)}" if state.alarms else "no alarm"
    proven = "proven by the light" if state.proven else "not yet proven by the light"
    lines = [
        f"{state.site}: door {state.door}, {alarms}",
        f"  time    {when} by {state.time_by.replace('_', ' ')}, {proven}; UTC{state.offset_min / 60:+g} h all year",
        f"  wanted  {state.move}, because: {state.reason}; light {state.counts}",
        f"  today   served by {_serving(state)}",
        f"  flash   {state.first_year} to {state.last_year}, plan {state.plan}",
    ]
    for number, slot in enumerate(state.slots):
        lines.append(f"  slot {number}  {'empty' if slot is None else _years(slot)}")
    lines.append(f"  resets  {', '.join(f'{name} {count}' for name, count in state.resets.items())}")
    lines.append(f"  program sunsched {state.version}, {state.board}, {state.room_bytes} bytes for a table")
    return "\n".join(lines)


def _serving(state: ChipState) -> str:
    return {"flash": "the tables compiled in", "none": "no table: the light alone"}.get(
        state.serving, f"slot {state.serving}"
    )


def _years(slot: Slot) -> str:
    years = str(slot.first_year) if slot.first_year == slot.last_year else f"{slot.first_year} to {slot.last_year}"
    return f"{years}, {slot.length} bytes, generation {slot.generation}"
