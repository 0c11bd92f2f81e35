"""Power cut at every character of a load, and at moments of commits and of ring writes: what the chip holds then.

The whole: `python tests/chip/line/cuts.py` (repository's root on PYTHONPATH, and tests/chip and its folders; 20 s
of a core). tests/chip/test_line_cuts.py is a sample.
"""

from __future__ import annotations

import datetime as dt
import functools
import itertools
import random
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field

from sunsched.job.chip.words import Event, asked, event_of, in_order
from tests.chip.line import talking

SITE = "larch_end"
NOON = dt.datetime(2027, 11, 3, 12, 0)
RING_AT, PLACES, EVENT_BYTES, SLOT_BYTES = 608, 40, 9, 304


@dataclass
class Tally:
    """What the cuts left: how often the old tables, the new one; what was wrong."""

    cuts: int = 0
    old: int = 0
    new: int = 0
    wrong: list[str] = field(default_factory=list)

    def text(self) -> str:
        """In a line."""
        return f"{self.cuts} cuts: the old tables {self.old}, the new one {self.new}, anything else {len(self.wrong)}"


def old_eeprom() -> bytes:
    """A chip that has loaded the exact 2027 and runs by it, slot 1 empty."""
    chip = talking.Chip(talking.program(SITE), NOON)
    chip.run(2)
    chip.wake()
    for line in load_lines(talking.image(SITE, 2027), 0):
        assert chip.answer(line).startswith(line[0]), line
    chip.run(1)
    found = chip.eeprom()
    chip.free()
    return found


def load_lines(raw: bytes, slot: int) -> list[str]:
    """The lines of a load, its commit last."""
    writes = [f"w{slot}{at:03x}{raw[at : at + 8].hex()}" for at in range(0, len(raw), 8)]
    return [*writes, f"c{slot}{len(raw):03x}{int.from_bytes(raw[-2:], 'little'):04x}"]


@functools.cache
def _after(tables: bytes) -> tuple[tuple[str, str], str]:
    chip = talking.Chip(talking.program(SITE), NOON + dt.timedelta(minutes=5), tables.ljust(1024, b"\xff"))
    chip.run(1.6)
    chip.wake()
    slots = (chip.answer("i4")[4:], chip.answer("i5")[4:])
    serving = chip.answer("i6").split()[-1]
    chip.free()
    return slots, serving


def after(eeprom: bytes) -> tuple[tuple[str, str], str]:
    """A chip that starts with these tables: its two slots, and which serves today (a day of 2027).

    The same bytes start the same chip, so each state of the two slots is started once.
    """
    return _after(eeprom[: talking.TABLES_BYTES])


def judged(tally: Tally, where: str, eeprom: bytes, old: tuple[str, str], new: str) -> None:
    """Count one cut: today is served by slot 0 whatever happened, and slot 1 holds nothing or the whole new table."""
    tally.cuts += 1
    slots, serving = after(eeprom)
    if serving != "0" or slots[0] != old[0]:
        tally.wrong.append(f"{where}: {slots}, today served by {serving}")
    elif slots[1] == "-":
        tally.old += 1
    elif slots[1] == new:
        tally.new += 1
    else:
        tally.wrong.append(f"{where}: {slots}")


def characters(step: int = 1, first: int = 0) -> Tally:
    """Cut after every `step`-th character of a load of 2028, and at six moments while each line is worked on."""
    rng, tally, eeprom, raw = random.Random(7), Tally(), old_eeprom(), talking.image(SITE, 2028)
    old, serving = after(eeprom)
    assert serving == "0" and old[1] == "-"
    new = f"2028 2028 {raw[-2:][::-1].hex()} {len(raw):03x} 2"
    chip = talking.Chip(talking.program(SITE), NOON, eeprom)
    chip.run(2)
    chip.wake()
    n = 0
    for line in load_lines(raw, 1):
        for byte in asked(line):
            chip.say(bytes([byte]))
            n += 1
            if n % step == first % step:
                judged(tally, f"character {n}", chip.eeprom(), old, new)
        for _ in range(6):
            chip.run(rng.random() * 0.03)
            judged(tally, f"after character {n}", chip.eeprom(), old, new)
        chip.run(0.1)
    chip.free()
    return tally


def commits(moments: int) -> Tally:
    """Cuts at so many moments, evenly over the 60 ms in which a commit is weighed and written."""
    tally, eeprom, raw = Tally(), old_eeprom(), talking.image(SITE, 2028)
    old, _ = after(eeprom)
    new = f"2028 2028 {raw[-2:][::-1].hex()} {len(raw):03x} 2"
    chip = talking.Chip(talking.program(SITE), NOON, eeprom)
    chip.run(2)
    chip.wake()
    *writes, commit = load_lines(raw, 1)
    for line in writes:
        assert chip.answer(line).startswith("w")
    chip.say(asked(commit))
    for moment in range(moments):
        chip.run(0.06 / moments)
        judged(tally, f"commit, moment {moment}", chip.eeprom(), old, new)
    chip.free()
    return tally


def ring_of(eeprom: bytes) -> tuple[list[Event], int]:
    """The events in an EEPROM from the oldest to the newest, and the place of the next: read as LINE.md says."""
    now = NOON + dt.timedelta(days=1)
    places = [event_of(eeprom[RING_AT + EVENT_BYTES * n :][:EVENT_BYTES], now) for n in range(PLACES)]
    whole = [n for n, event in enumerate(places) if event is not None]
    run = list(itertools.takewhile(lambda n: _lap(places[n]) == _lap(places[whole[0]]), whole))
    following = (run[-1] + 1) % PLACES if run else 0
    return in_order(places, following), following


def _lap(event: Event | None) -> int:
    return -1 if event is None else event.lap


def next_by_chip(eeprom: bytes) -> int:
    """Where a chip that starts with this EEPROM will write next, by its own word before its first second."""
    chip = talking.Chip(talking.program(SITE), NOON, eeprom)
    chip.run(0.25)
    found = int(chip.answer("i9", 0.2).split()[2])
    chip.free()
    return found


def ring_writes(moments: int, eeprom: bytes = talking.ERASED) -> Iterator[tuple[bytes, bytes, bytes]]:
    """EEPROMs before an event, at a moment while it is written, and after it.

    The events are the keeper's: a button is pressed, over and over, more often than the ring has places.
    """
    chip = talking.Chip(talking.program(SITE), NOON, eeprom)
    chip.run(130)
    rng = random.Random(11)
    left, presses = moments, 0
    while left > 0:
        presses += 1
        before = chip.eeprom()
        held: list[bytes] = []
        chip.press(presses % 2)
        while len(held) < 400 and (not held or held[-1] == before):
            chip.run(0.01)  # until the first byte of the event is on its way
            held.append(chip.eeprom())
        for _ in range(9):
            chip.run(rng.random() * 0.007)
            held.append(chip.eeprom())
        chip.press(None)
        chip.run(40)
        for moment in held[-10:]:
            yield before, moment, chip.eeprom()
            left -= 1
            if left == 0:
                break
    chip.free()


def ring(moments: int, asked_every: int = 25) -> tuple[int, int, list[str]]:
    """Cuts in ring writes: how many, how many events the ring held at most, and what was lost or invented."""
    wrong: list[str] = []
    n = most = 0
    for n, (before, moment, whole) in enumerate(ring_writes(moments), 1):
        (old, _), (at, following), (full, _) = ring_of(before), ring_of(moment), ring_of(whole)
        most = max(most, len(full))
        fresh = _added(old, full)
        m = next((m for m in range(len(fresh) + 1) if _follows(old, at, fresh[:m])), None)
        if m is None:
            wrong.append(f"moment {n}: {at[-3:]} are not what happened after {old[-2:]}")
        elif len(at) < min(len(old) + m, PLACES - 1):
            wrong.append(f"moment {n}: {len(old)} events before and {m} new, {len(at)} left")
        wrong += [
            f"moment {n}: place {place} is half written and not marked so" for place in _half(before, moment, whole)
        ]
        if n % asked_every == 0 and next_by_chip(moment) != following:
            wrong.append(f"moment {n}: the chip goes on at {next_by_chip(moment)}, the page says {following}")
    return n, most, wrong


def _half(before: bytes, moment: bytes, whole: bytes) -> list[int]:
    """Places that hold neither the old event nor the new one, and whose check does not say so.

    A check of 8 bits would let one mixed event of 256 pass: none may come to be judged by it.
    """
    found = []
    for place in range(PLACES):
        old, now, new = (e[RING_AT + EVENT_BYTES * place :][:EVENT_BYTES] for e in (before, moment, whole))
        if now not in (old, new) and now[-1] != 0xFF:
            found.append(place)
    return found


def _added(old: list[Event], full: list[Event]) -> list[Event]:
    """What has come behind the old events."""
    for n in range(len(full) + 1):
        kept = full[: len(full) - n]
        if kept == old[len(old) - len(kept) :]:
            return full[len(full) - n :]
    return full


def _follows(old: list[Event], at: list[Event], fresh: list[Event]) -> bool:
    """Whether the events are the last of the old ones and then the fresh ones."""
    kept = at[: len(at) - len(fresh)]
    return at[len(kept) :] == fresh and kept == old[len(old) - len(kept) :]


def main() -> None:
    """The whole proof."""
    for name, tally in (("characters of a load", characters()), ("moments of a commit", commits(500))):
        print(f"{name}: {tally.text()}")
        for line in tally.wrong[:10]:
            print("  " + line)
    cuts, most, wrong = ring(500)
    print(f"ring writes: {cuts} cuts, up to {most} events held, lost or invented: {len(wrong)}")
    for line in wrong[:10]:
        print("  " + line)
    sys.exit(bool(wrong))


if __name__ == "__main__":
    main()
