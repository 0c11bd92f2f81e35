"""The program played in a page beside the same program on this computer: `python -m tests.chip.play_proof [SITE ...]`.

The page's is WebAssembly, built once, with the site's settings and tables as data; this computer's is the folder that
`firmware` writes, with them compiled in. Both live the same days on the same light: log, EEPROM and every second's
outputs must agree, for every shipped site and every fault of `FAULTS`. The page runs in Chromium, from a file.
"""

from __future__ import annotations

import argparse
import base64
import datetime as dt
import sys
import tempfile
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.base.package_data import package_bytes
from sunsched.hardware.parts import LightCell
from sunsched.job.chip import flash_tables
from sunsched.job.chip.words import asked
from sunsched.job.play import program_of
from sunsched.plan.year import NO_MINUTE
from sunsched.report.play.page import site_values
from sunsched.study.evening_program import cell_counts
from tests.browser.browser import Browser
from tests.chip import emulated, sites, skies
from tests.trials.fault_list import all_faults

YEAR, DAY_S = 2027, 86_400
DATE = dt.date(2027, 3, 20)
DAYS = 3  # from noon; the fault begins after the first night, which has proven the clock
ONSET_S = DAY_S + 3600
OUTPUTS = ("drive", "duty", "door", "want", "reason", "time", "alarms")
Counts = NDArray[np.uint16]
Act = tuple[int, str, float | str]  # second, what, value


class Lived(NamedTuple):
    """What a program did: its log, each change of its outputs by the second, its EEPROM at the end."""

    log: str
    changes: list[list[int]]
    eeprom: bytes


@dataclass
class Days:
    """Light and events of the days that both live; seconds count from the first noon."""

    cell: LightCell
    start: dt.datetime  # the chip's clock at second 0
    close_s: list[int]
    open_s: list[int]
    counts: Counts
    acts: list[Act] = field(default_factory=list)
    has_clock: bool = True

    def of_lux(self, lux: float) -> int:
        """What the cell reads."""
        return int(cell_counts(self.cell, np.array([lux]))[0])

    def clock_line(self, at_s: int, by_min: int = 0) -> str:
        """The line that sets the clock to its own time at a second, or to another."""
        return f"t {self.start + dt.timedelta(seconds=at_s, minutes=by_min):%Y-%m-%d %H:%M:%S}\r"


Break = Callable[[Days], None]


def _act(*acts: tuple[int, str, float | str]) -> Break:
    return lambda days: days.acts.extend((ONSET_S + at, what, value) for at, what, value in acts)


def _reads(counts: int) -> Break:
    def apply(days: Days) -> None:
        days.counts[ONSET_S:] = counts

    return apply


def _covered(days: Days) -> None:
    lux = np.asarray(days.counts[ONSET_S:], np.float64)
    ramp = np.clip(np.arange(len(lux)) / 3600, 0, 1)
    days.counts[ONSET_S:] = np.floor(lux * (1 - 0.9 * ramp)).astype(np.uint16)


def _lit(lux: float, from_min: int | None = None, until_min: int = 0, every_s: int = 1, for_s: int = 1) -> Break:
    """A lamp around each closing, or for good; `every_s`, `for_s`: it flashes."""

    def apply(days: Days) -> None:
        lamp = days.of_lux(lux)
        for close_s in days.close_s:
            first, last = (
                (ONSET_S, len(days.counts)) if from_min is None else (close_s + 60 * from_min, close_s + 60 * until_min)
            )
            at = np.arange(max(first, 0), min(last, len(days.counts)))
            at = at[at % every_s < for_s]
            days.counts[at] = np.maximum(days.counts[at], lamp)

    return apply


def _storm(days: Days) -> None:
    close_s = days.close_s[1]
    part = slice(max(0, close_s - 90 * 60), close_s - 20 * 60)
    days.counts[part] = np.minimum(days.counts[part], days.of_lux(3.0))


def _set_by(by_min: int, times: int) -> Break:
    def apply(days: Days) -> None:
        for n in range(times):
            days.acts.append((ONSET_S + 20 * n, "say", days.clock_line(ONSET_S + 20 * n, by_min)))

    return apply


def _cut_after_close(days: Days) -> None:
    days.acts.append((days.close_s[1] + 60, "power", 5400))


# Words of the fault list -> what breaks here. Its own worlds are minutes of the core, these are seconds of the program.
FAULTS: dict[str, Break] = {
    "healthy": lambda days: None,
    "storm ends 20 min before closing": _storm,
    "24 headlight flashes a night": _lit(80, -60, 60, 300, 20),
    "lamp 30 lux every evening": _lit(30, -40, 180),
    "lamp 200 lux day and night": _lit(200),
    "cell open (reads 0)": _reads(0),
    "cell shorted (reads 1023)": _reads(1023),
    "cell stuck at 300": _reads(300),
    "cell covered, 1/10 of the light": _covered,
    "clock set +60 min, insisted on": _set_by(60, 2),
    "clock set -60 min, question left": _set_by(-60, 1),
    "clock jumps +60 min": _act((0, "clock_by_s", 3600)),
    "clock stands still": _act((0, "clock_halted", 1)),
    "clock lost": _act((0, "clock_absent", 1)),
    "clock lost in a 30 min power cut": _act((0, "power", 1800), (1, "clock_absent", 1)),
    "power cut of 1-180 min from close +1 min": _cut_after_close,
    "battery low": _act((0, "battery_counts", 590)),
    "battery spent from 13:00 on": _act((0, "battery_counts", 300)),
    "lower switch never makes": _act((0, "bottom_switch", 1)),
    "lower switch always made": _act((0, "bottom_switch", 2)),
    "upper switch never makes": _act((0, "top_switch", 1)),
    "upper switch always made": _act((0, "top_switch", 2)),
    "plate jams half way, one evening": _act((0, "jam_mm", 175), (40_000, "jam_mm", 0)),
    "frozen to the sill all day": _act((0, "frozen", 1), (60_000, "frozen", 0)),
    "cord strung on backwards": _act((0, "cord_backwards", 1)),
    "motor wires reversed": _act((0, "wires_swapped", 1), (30_000, "hands", 4), (30_010, "hands", 0)),
}


def days_of(name: str, fault: str) -> Days:
    """The days of a shipped site in which a fault of `FAULTS` happens; a clear, a dull and a clear day."""
    built = sites.built(name, YEAR)
    plan, row = built.plan, built.plan.row(DATE)
    noon_s = int(plan.noon_min[row]) * 60
    kinds: tuple[skies.Kind, ...] = ("clear", "clear", "dull", "clear")
    counts = np.concatenate([_whole_day(name, row + n, kind) for n, kind in enumerate(kinds)])
    rows = [row + n for n in range(DAYS) if plan.close_min[row + n] != NO_MINUTE]
    day_s = [(of_row - row) * DAY_S - noon_s for of_row in rows]
    days = Days(
        cell=built.configuration.light_cell,
        start=dt.datetime.combine(DATE, dt.time()) + dt.timedelta(seconds=noon_s),
        close_s=[at + int(plan.close_min[of_row]) * 60 for at, of_row in zip(day_s, rows, strict=True)],
        open_s=[at + int(plan.open_min[of_row]) * 60 for at, of_row in zip(day_s, rows, strict=True)],
        counts=counts[noon_s : noon_s + DAYS * DAY_S].copy(),
        has_clock=built.configuration.clock.source == "rtc",
    )
    # what the program says of itself: its texts, tables and state
    days.acts.extend((ONSET_S - 60 + n, "say", asked(f"i{n:x}").decode()) for n in range(10))
    if not days.has_clock:
        days.acts.append((30, "say", days.clock_line(30)))
    FAULTS[fault](days)
    days.acts.sort(key=lambda act: act[0])
    return days


@cache
def _whole_day(name: str, row: int, kind: skies.Kind) -> Counts:
    built = sites.built(name, YEAR)
    return skies.day_counts(built.configuration, built.plan, row, kind)


def on_this_computer(name: str, days: Days) -> Lived:
    """The program with the site compiled in, by the bench of the emulated chip without its chip."""
    second = days.start.hour * 3600 + days.start.minute * 60 + days.start.second
    life = emulated.Life(name, YEAR, days.start.date(), second, chip=False)
    if not days.has_clock:
        life.clock_fault(absent=True)
    parts, at = [], 0
    for act_s, what, value in [*days.acts, (len(days.counts), "", 0.0)]:
        if act_s > at:
            parts.append(life.run(days.counts[at:act_s], recorded=True))
            at = act_s
        _on_life(life, what, value)
    record = np.concatenate(parts)
    table = np.stack([record[one].astype(np.int64) for one in OUTPUTS], axis=1)
    changed = np.flatnonzero(np.append(True, (table[1:] != table[:-1]).any(axis=1)))
    found = Lived(life.host_log, [[int(k), *map(int, table[k])] for k in changed], life.host_eeprom)
    life.end()
    return found


def _on_life(life: emulated.Life, what: str, value: Any) -> None:
    state = life.state
    moves: dict[str, Callable[[], object]] = {
        "": lambda: None,
        "top_switch": lambda: setattr(state.door, "top_stuck", int(value)),
        "bottom_switch": lambda: setattr(state.door, "bottom_stuck", int(value)),
        "wires_swapped": lambda: setattr(state.door, "wires_swapped", int(value)),
        "jam_mm": lambda: setattr(state.door, "jam_mm", value),
        "frozen": lambda: setattr(state.door, "frozen", int(value)),
        "cord_backwards": lambda: setattr(state.door, "paid_mm", 2.0 * state.door.cord_mm),
        "hands": lambda: setattr(state, "hand_pins", int(value)),
        "battery_counts": lambda: setattr(state, "battery_counts", int(value)),
        "clock_absent": lambda: life.clock_fault(absent=bool(value)),
        "clock_halted": lambda: life.clock_fault(halted=bool(value)),
        "clock_by_s": lambda: life.clocks_by(int(value)),
        "say": lambda: life.say(str(value)),
        "power": lambda: _cut(life, int(value)),
    }
    moves[what]()


def _cut(life: emulated.Life, seconds: int) -> None:
    life.clocks_by(seconds)
    life.power_cut()


# The bench's door: life_new in tests/chip/year/life.c.
BENCH_DOOR = {"travel": 350, "speed": 100.5, "cord": 884, "current": 0, "down": 1, "counts": 634}


@cache
def site_of(name: str) -> dict[str, Any]:
    """A shipped site as the page takes it, with the table that is compiled in on this computer."""
    work = sites.built(name, YEAR)
    program = program_of(work, flash_tables.flash_tables(work.configuration, (YEAR,), 0).tables)
    return {**site_values(program), "machine": BENCH_DOOR}


def _text(content: bytes) -> str:
    return base64.b64encode(content).decode("ascii")


LIVE = """
const [site, clockS, counts64, acts, done] = arguments;
(async () => {
  const raw = bytesOf(counts64), counts = new Uint16Array(raw.buffer);
  const door = await Door.of(await program, site);
  door.firstPowerUp(clockS);
  if (!acts.hasClock) door.break("clock_absent", 1);
  const outputs = ["drive", "duty", "door", "want", "reason", "time", "alarms"], changes = [];
  let log = "", last = "", next = 0;
  for (let second = 0; second < counts.length; second++) {
    for (; next < acts.list.length && acts.list[next][0] <= second; next++) {
      const [, what, value] = acts.list[next];
      if (what === "say") door.say(value);
      else if (what === "power") {
        door.powerOff();
        for (let k = 0; k < value; k++) door.second(counts[second]);
        door.powerUp();
      } else door.break(what, value);
    }
    door.second(counts[second]);
    const seen = door.look(), now = outputs.map((name) => seen[name]);
    if (now.join() !== last) { last = now.join(); changes.push([second, ...now]); }
    if (door.wrote) log += door.takeLog();
  }
  let bytes = "";
  for (const byte of door.eeprom()) bytes += String.fromCharCode(byte);
  done({ log, changes, eeprom: btoa(bytes) });
})().catch((error) => done({ error: String(error) }));
"""


def in_a_page(browser: Browser, name: str, days: Days) -> Lived:
    """The program with the site as data, in the page that `bare_page` has opened."""
    clock_s = emulated.Life.clock_seconds(days.start.date()) + (days.start.hour * 60 + days.start.minute) * 60
    acts = {"list": days.acts, "hasClock": days.has_clock}
    counts = _text(days.counts.astype("<u2").tobytes())
    found = browser.driver.execute_async_script(LIVE, site_of(name), clock_s - 1, counts, acts)
    assert "error" not in found, found["error"]
    return Lived(found["log"], found["changes"], base64.b64decode(found["eeprom"]))


def bare_page(folder: Path) -> Path:
    """A page with the program and nothing to see, under the policy of the real one."""
    wasm = _text(package_bytes("sunsched.report.play", "door.wasm"))
    script = package_bytes("sunsched.report.play", "door.js").decode()
    policy = "default-src 'none'; script-src 'unsafe-inline' 'wasm-unsafe-eval'"
    path = folder / "bare.html"
    path.write_text(
        f'<!doctype html><meta charset="utf-8"><meta http-equiv="Content-Security-Policy" content="{policy}">'
        f'<title>Play</title><script>{script}\nconst program = WebAssembly.compile(bytesOf("{wasm}"));</script>'
    )
    return path


def difference(host: Lived, page: Lived) -> str:
    """The first thing in which they differ, in words; empty if none."""
    if host.log != page.log:
        lines = zip(host.log.splitlines(), page.log.splitlines(), strict=False)
        return f"log: {next((pair for pair in lines if pair[0] != pair[1]), 'one is longer')}"
    if host.changes != page.changes:
        rows = zip(host.changes, page.changes, strict=False)
        return f"outputs: {next((pair for pair in rows if pair[0] != pair[1]), 'one has more')}"
    return "EEPROM" if host.eeprom != page.eeprom else ""


def proof(names: Iterable[str], faults: Iterable[str], browser: Browser) -> list[str]:
    """What differs, a line each; prints a line for each site."""
    wrong = []
    for name in names:
        began, lines = time.perf_counter(), 0
        for fault in faults:
            days = days_of(name, fault)
            host, page = on_this_computer(name, days), in_a_page(browser, name, days)
            lines += host.log.count("\n")
            differs = difference(host, page)
            if differs:
                wrong.append(f"{name}, {fault}: {differs}")
        print(f"{name}: {lines} lines of log, {time.perf_counter() - began:.0f} s")
    return wrong


def main() -> int:
    """Every fault at the sites asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", default=sites.SHIPPED, help="shipped configurations; default: all")
    parser.add_argument("--fault", action="append", help="one of the faults; default: all")
    asked = parser.parse_args()
    assert set(FAULTS) <= {fault.words for fault in all_faults()}
    with tempfile.TemporaryDirectory() as folder:
        browser = Browser(Path(folder) / "profile")
        try:
            browser.open(bare_page(Path(folder)))
            faults = asked.fault or list(FAULTS)
            wrong = proof(asked.names, faults, browser)
        finally:
            browser.close()
    seconds = len(asked.names) * len(faults) * DAYS * DAY_S
    print(f"{len(asked.names)} sites, {len(faults)} faults, {seconds} s lived; {len(wrong)} differ", *wrong, sep="\n")
    return int(bool(wrong))


if __name__ == "__main__":
    sys.exit(main())
