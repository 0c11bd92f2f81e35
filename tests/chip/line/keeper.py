"""Three years of a keeper: what is loaded when, and whether every move is that of the plan valid on its day.

The whole, second by second: `python tests/chip/line/keeper.py` (the program on this computer: 1 to 2 min of a core;
`--chip`: the emulated chip beside it, 40 min or more). tests/chip/test_keeper_years.py: the days around each change.
"""

from __future__ import annotations

import datetime as dt
import functools
import sys
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from sunsched.base.civil_time import day_number
from sunsched.config import toml_file
from sunsched.config.configuration import Configuration
from sunsched.controller.words import Want
from sunsched.job import compact, firmware_folder, pipeline
from sunsched.job.chip import flash_tables
from sunsched.job.chip.words import asked
from sunsched.plan.year import NO_MINUTE, YearPlan
from tests.chip import emulated, sites

FIRST, LAST = dt.date(2027, 10, 1), dt.date(2030, 9, 30)
ORDER = ("2028-02-13", "2028-03-20")
# What the keeper does, at 10:00 by the chip: a table made in November and loaded in December, an order in February, a
# year forgotten (2029), the next one not, and an EEPROM that forgets everything and keeps nothing.
LOADS = {
    dt.date(2027, 12, 10): (2028, False),
    dt.date(2028, 2, 12): (2028, True),
    dt.date(2029, 12, 10): (2030, False),
}
DEAD = dt.date(2030, 3, 1)
FLASH_ERROR_MIN = 1


@functools.cache
def configuration(ordered: bool) -> Configuration:
    """Larch end by the clock alone, without its order of 2027; `ordered`: with that of 2028."""
    text = (sites.CONFIGS / "larch_end.toml").read_text()
    head, _, tail = text.partition("[[kept_in]]\n")
    order = f'[[kept_in]]\nfrom = "{ORDER[0]}"\nto = "{ORDER[1]}"\nwhy = "housing order"\n' if ordered else ""
    lines = (head + order + tail[tail.index("\n[warn]") :]).splitlines()
    text = "\n".join(line for line in lines if not line.startswith("cell_"))
    path = Path(tempfile.mkdtemp(prefix="keeper_")) / "larch_end.toml"
    path.write_text(text)
    return toml_file.read(str(path))


@functools.cache
def plan(year: int, ordered: bool) -> YearPlan:
    """The fresh plan of a year."""
    return pipeline.plan_of(configuration(ordered), year)


@functools.cache
def image(year: int, ordered: bool) -> bytes:
    """The exact table of a year."""
    return compact.compact(configuration(ordered), (year,), "auto").table.raw


@functools.cache
def folder() -> Path:
    """The program that the keeper has put on the chip in 2027, for 21 years."""
    place = Path(tempfile.mkdtemp(prefix="door_")) / "door"
    place.mkdir()
    work = pipeline.built(configuration(False), 2027)
    made = flash_tables.flash_tables(configuration(False), range(2027, 2048))
    for path, content in firmware_folder.files_of(work, made, place).items():
        path.write_bytes(content)
    emulated.made(place)
    return place


@functools.cache
def bench() -> Any:
    """The emulator's bench with that program."""
    return emulated.bench_of(folder())


class KeptLife(emulated.Life):
    """A life of the keeper's program, begun on a date at midnight."""

    def __init__(self, date: dt.date, chip: bool) -> None:
        self.library = bench()
        self.head = self.library.life_new(str(folder() / "door.elf").encode(), self.clock_seconds(date) - 1)
        self.state.alone = int(not chip)
        self.chip_log = self.host_log = ""

    def load(self, raw: bytes) -> None:
        """The lines of a load, as a host types them."""
        self.say("\r")
        self.say("\r")
        self._take_logs()
        slot = int(self._free())
        for at in range(0, len(raw), 8):
            self.say(asked(f"w{slot}{at:03x}{raw[at : at + 8].hex()}").decode())
        before = len(self.host_log)
        self.say(asked(f"c{slot}{len(raw):03x}{int.from_bytes(raw[-2:], 'little'):04x}").decode())
        self._take_logs()
        assert f"# c {slot} " in self.host_log[before:], self.host_log[before:]

    def _free(self) -> bool:
        """Whether slot 1 is the one to write: slot 0 serves today."""
        before = len(self.host_log)
        self.say(asked("i6").decode())
        self._take_logs()
        return " 0 " in self.host_log[before:].split("proven")[-1]


def valid(day: dt.date) -> tuple[YearPlan, int]:
    """The plan that holds on a day, and how far the chip may be from it [minutes]."""
    loaded = [date for date, (year, _) in LOADS.items() if date <= day and year == day.year]
    if day.year == 2027 or not loaded or day >= DEAD:
        return plan(day.year, day.year == 2028 and bool(loaded) and LOADS[loaded[-1]][1]), FLASH_ERROR_MIN
    return plan(day.year, LOADS[max(loaded)][1]), 0


@dataclass
class Lived:
    """Days judged, days shut by an order, the furthest a move was from its plan, and what was wrong."""

    days: int = 0
    shut: int = 0
    worst_min: int = 0
    exact_days: int = 0
    wrong: list[str] | None = None


def live(first: dt.date, last: dt.date, chip: bool, wrong: list[str], lived: Lived) -> None:
    """Live from midnight to midnight, doing what the keeper does on the way; judge every move but the first day's.

    The chip has before it what was loaded before `first`.
    """
    life = KeptLife(first, chip)
    day = first
    begin = [date for date in LOADS if date < first]
    life.run(np.full(30, 500, np.uint16))
    for date in begin if first < DEAD else []:
        year, ordered = LOADS[date]
        life.load(image(year, ordered))
    lived_s = 30
    while day <= last:
        rest_s = (day - first).days * 86_400
        ten = rest_s + 36_000
        if day in LOADS and day != first:
            life.run(np.full(ten - lived_s, 500, np.uint16))
            lived_s = ten
            year, ordered = LOADS[day]
            life.load(image(year, ordered))
        if day == DEAD:
            life.run(np.full(ten - lived_s, 500, np.uint16))
            lived_s = ten
            life.put_eeprom(b"\xff" * 1024)
            life.power_cut()
        life.run(np.full(rest_s + 86_400 - lived_s, 500, np.uint16))
        lived_s = rest_s + 86_400
        day += dt.timedelta(days=1)
    _judge(life, first, last, wrong, lived)
    if chip and life.state.differing:
        wrong.append(f"chip and computer differ in {life.state.differing} s")
    life.end()


def _judge(life: KeptLife, first: dt.date, last: dt.date, wrong: list[str], lived: Lived) -> None:
    moves: dict[dt.date, list[tuple[int, int]]] = {}
    want = -1
    for event in life.events():
        if int(event["want"]) == want:
            continue
        want = int(event["want"])
        minute, day = int(event["at_s"]) // 60 % 1440, first + dt.timedelta(days=int(event["at_s"]) // 86_400)
        moves.setdefault(day, []).append((minute, want))
    day = first + dt.timedelta(days=1)
    while day <= last:
        found = moves.get(day, [])
        if day == DEAD:  # the restart at ten makes moves of its own
            found = [one for one in found if not 598 <= one[0] <= 610]
        _day(day, found, wrong, lived)
        day += dt.timedelta(days=1)


def _day(day: dt.date, found: list[tuple[int, int]], wrong: list[str], lived: Lived) -> None:
    fresh, error_min = valid(day)
    row = day_number(day) - fresh.first_day
    opens, closes = int(fresh.open_min[row]), int(fresh.close_min[row])
    lived.days += 1
    ups = [minute for minute, want in found if want == int(Want.UP)]
    downs = [minute for minute, want in found if want == int(Want.DOWN)]
    if opens == NO_MINUTE:
        lived.shut += 1
        if ups:
            wrong.append(f"{day}: opened at minute {ups} on a day that is kept in")
        return
    if len(ups) != 1 or len(downs) != 1:
        wrong.append(f"{day}: moves {found}; planned {opens} and {closes}")
        return
    off = max(abs(ups[0] - opens), abs(downs[0] - closes))
    lived.worst_min = max(lived.worst_min, off)
    lived.exact_days += error_min == 0
    if off > error_min:
        wrong.append(f"{day}: {ups[0]} and {downs[0]}; planned {opens} and {closes}, allowed {error_min} min")


# Days around each change, for a sample; the first is not judged.
AROUND = (
    (dt.date(2027, 12, 9), dt.date(2027, 12, 12)),
    (dt.date(2027, 12, 30), dt.date(2028, 1, 2)),
    (dt.date(2028, 2, 10), dt.date(2028, 2, 16)),
    (dt.date(2028, 3, 18), dt.date(2028, 3, 23)),
    (dt.date(2028, 12, 30), dt.date(2029, 1, 2)),
    (dt.date(2029, 2, 11), dt.date(2029, 2, 15)),
    (dt.date(2029, 12, 30), dt.date(2030, 1, 2)),
    (dt.date(2030, 2, 27), dt.date(2030, 3, 3)),
)


def lived_spans(spans: Iterable[tuple[dt.date, dt.date]], chip: bool) -> Lived:
    """All spans, one life each."""
    wrong: list[str] = []
    lived = Lived(wrong=wrong)
    for first, last in spans:
        live(first, last, chip, wrong, lived)
    return lived


def main() -> None:
    """The whole three years."""
    lived = lived_spans([(FIRST, LAST)], "--chip" in sys.argv[1:])
    print(
        f"{lived.days} days: {lived.shut} kept in, {lived.exact_days} by an exact table, "
        f"worst minute {lived.worst_min}; wrong {len(lived.wrong or [])}"
    )
    for line in (lived.wrong or [])[:20]:
        print("  " + line)
    sys.exit(bool(lived.wrong))


if __name__ == "__main__":
    main()
