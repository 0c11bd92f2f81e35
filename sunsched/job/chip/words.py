"""Lines of the serial line and bytes of the chip's memory, as sunsched/controller/LINE.md describes them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from sunsched.controller.words import Alarm, Door, Want, Why
from sunsched.table.framing import crc16

REVISION = 1
IMAGE_ROOM_BYTES = 300  # of an ATmega328P's slot; the chip says its own
WRITE_BYTES = 8
EVENT_BYTES = 9
EVENTS = ("start", "quarter", "move", "ended", "alarm", "clock", "table")
_EPOCH = dt.datetime(2000, 1, 1)
_LAP_MIN = 1 << 24
_NO_TIME = 0xFFFFFF
REFUSALS = {
    "1": "the slot is in use",
    "2": "the image is longer than the slot",
    "3": "the bytes in the slot are no whole image that the program reads",
    "4": "the image is for a clock with another offset from UTC, or with summer time",
}


def asked(text: str) -> bytes:
    """A line for the chip, with its checksum and the CR that ends it."""
    body = text.encode("ascii")
    return body + f"{crc16(body):04x}\r".encode("ascii")


def answered(line: bytes) -> str | None:
    """The text of a whole answer without `# ` and checksum; None for any other line."""
    head, _, check = line.rpartition(b" ")
    if not head.startswith(b"# ") or len(check) != 4:
        return None
    if f"{crc16(head + b' '):04x}".encode("ascii") != check:
        return None
    return head[2:].decode("ascii", "replace")


@dataclass(frozen=True, slots=True)
class Event:
    """One event of the ring. `at` is the chip's own time, to the minute; None where it had none."""

    event: str
    at: dt.datetime | None
    door: str
    move: str
    reason: str
    alarms: int
    counts: int
    lap: int

    def log_line(self, begun: bool = True) -> str:
        """The event as a line of the door's log (LOG.md)."""
        when = "," if self.at is None else f"{self.at:%Y-%m-%d,%H:%M:%S}"
        return (
            f"{when},{self.event},{self.counts},{self.door},{self.move},{self.reason},{alarms_text(self.alarms, begun)}"
        )


def alarms_text(alarms: int, begun: bool = True) -> str:
    """The alarms in the log's words, joined by `+`."""
    found = []
    for alarm in Alarm:
        if alarm & alarms:
            word = (alarm.name or "").lower()
            found.append(("expired" if begun else "not_begun") if alarm == Alarm.NO_TABLE else word)
            if alarm == Alarm.CELL and alarms & (Alarm.CLOCK_LOST | Alarm.NO_TABLE):
                found.append("no_witness")
    return "+".join(found)


def event_of(raw: bytes, now: dt.datetime) -> Event | None:
    """The event of 9 bytes; None if they are not whole. `now`: the time that tells which 32 years are meant."""
    if len(raw) != EVENT_BYTES or raw[8] != _check(raw[:8]):
        return None
    minutes = int.from_bytes(raw[:3], "little")
    try:
        words = (EVENTS[raw[3] & 7], _word(Door(raw[3] >> 3 & 7)), _word(Why(raw[4] & 31)))
        move = {Want.DOWN: "lower", Want.UP: "raise", Want.STAY: "stay"}[Want(raw[3] >> 6)]
    except (IndexError, ValueError):
        return None
    at = None if minutes == _NO_TIME else _nearest(minutes, now)
    alarms = int.from_bytes(raw[5:7], "little")
    return Event(words[0], at, words[1], move, words[2], alarms, raw[7] * 4, raw[4] >> 7)


def _word(member: Door | Why) -> str:
    return member.name.lower()


def _check(data: bytes) -> int:
    crc = crc16(data)
    check = crc >> 8 ^ crc & 0xFF
    return 0xFE if check == 0xFF else check


def _nearest(minutes: int, now: dt.datetime) -> dt.datetime:
    """The time of so many minutes since 2000, modulo 2^24, that is nearest to now."""
    since = (now - _EPOCH) // dt.timedelta(minutes=1)
    laps = max(0, round((since - minutes) / _LAP_MIN))
    return _EPOCH + dt.timedelta(minutes=minutes + laps * _LAP_MIN)


def in_order(places: list[Event | None], following: int) -> list[Event]:
    """The events of the ring from the oldest to the newest; `following` is the place of the next one."""
    turned = places[following:] + places[:following]
    return [event for event in turned if event is not None]
