"""Runs of the emulated chip: days of weather for a shipped configuration, and what must hold of each run."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import date_of
from sunsched.controller.decision import DoorDecision
from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.door_state import DayRow, Inputs, Outside
from sunsched.job import firmware_folder
from sunsched.plan.year import YearPlan
from sunsched.table import facts
from tests.chip import emulated, judge, sites, skies

DAY_S = 86_400
POWER_UP_S = 300
PIN_S = 0.02  # a step's own time: pins are written when it has ended
# Without a pulse the chip counts from its own crystal, 2 s after it has missed one, and the keeper types the time.
CRYSTAL_SLACK_S = 4
# What may make the program rightly disbelieve a falling light.
DOUBTFUL: frozenset[skies.Kind] = frozenset({"storm", "passing_lamps", "steady_lamp"})


def settings_of(name: str) -> DoorSettings:
    """The core's constants for a shipped configuration."""
    return firmware_folder.machine_of(sites.built(name, 2027)).settings


class ChipRun:
    """A run from solar noon of `first_row`, for as many days as `kinds` has: the weather of each chip date.

    On the last half day, before the last noon, the weather is clear; past the year's end its last row serves.
    """

    def __init__(
        self,
        name: str,
        year: int,
        first_row: int,
        kinds: list[skies.Kind],
        chip: bool = True,
        image: bytes = b"",
        compiled_year: int = 0,
    ) -> None:
        """image, compiled_year: a table renewed in EEPROM, and the year of the one in flash, if it is another."""
        built = sites.built(name, year)
        self.name, self.plan, self.kinds, self.first_row = name, built.plan, kinds, first_row
        self.configuration = built.configuration
        self.first_s = first_row * DAY_S + int(self.plan.noon_min[first_row]) * 60
        date = date_of(self.plan.first_day + first_row)
        self.life = emulated.Life(name, compiled_year or year, date, self.first_s - first_row * DAY_S, chip)
        if image:
            self.life.put_eeprom(image)
            self.life.power_cut()
        self.has_clock_chip = built.configuration.clock.source == "rtc"
        if not self.has_clock_chip:
            self.life.clock_fault(absent=True)
        self.counts = np.zeros((first_row + len(kinds) + 1) * DAY_S, np.uint16)
        self.slack_s = 0 if self.has_clock_chip else CRYSTAL_SLACK_S
        self.recorded: list[NDArray[Any]] = []
        self.twin: Twin | None = None
        self.twin_differences: list[str] = []

    def run(self, recorded: bool = False, twin: bool = False) -> None:
        """Live all days; `twin`: the Python twin takes every step too, until the first in which it differs."""
        self.twin = Twin(self.name, self.plan) if twin else None
        lived_s = self.first_s
        last_s = self.first_s + len(self.kinds) * DAY_S
        weather: list[skies.Kind] = [*self.kinds, "clear"]
        for n, kind in enumerate(weather):
            row = self.first_row + n
            self.counts[row * DAY_S : (row + 1) * DAY_S] = self._day(row, kind)
            until_s = min((row + 1) * DAY_S, last_s)
            if n == 0 and not self.has_clock_chip:
                self._run(lived_s, lived_s + 30, recorded)
                lived_s += 30
                minute, second = divmod(lived_s - row * DAY_S, 60)
                self.life.say(
                    f"t {date_of(self.plan.first_day + row)} {minute // 60:02}:{minute % 60:02}:{second:02}\r"
                )
            self._run(lived_s, until_s, recorded)
            lived_s = until_s

    def _day(self, row: int, kind: skies.Kind) -> NDArray[np.uint16]:
        return skies.day_counts(self.configuration, self.plan, min(row, self.plan.n_days - 1), kind)

    def _run(self, first_s: int, last_s: int, recorded: bool) -> None:
        record = self.life.run(self.counts[first_s:last_s], recorded or self.twin is not None)
        if recorded:
            self.recorded.append(record)
        if self.twin is not None and not self.twin_differences:
            self.twin_differences = [f"twin, from second {first_s} on: {one}" for one in self.twin.differences(record)]

    def faults(self) -> list[str]:
        """Days whose moves are not those that plan and light ask for, in words. Judged from noon to noon."""
        # what the program does at once, waking at noon, is no planned move
        first_s = self.first_s + POWER_UP_S
        moves = [move for move in judge.moves_of(self.life.events(), self.first_s) if move.at_s > first_s]
        doubtful = frozenset(self.first_row + n for n, kind in enumerate(self.kinds) if kind in DOUBTFUL)
        settings = settings_of(self.name)
        lit = frozenset(self.first_row + n for n, kind in enumerate(self.kinds) if kind == "steady_lamp")
        sight = judge.Sight(self.plan, settings, self.counts, self.slack_s, doubtful, lit, self.first_s)
        return judge.faults(sight, moves, range(self.first_row, self.first_row + len(self.kinds)))

    def differences(self) -> list[str]:
        """What chip and computer did differently, and what the chip's motor pins should never do."""
        life = self.life
        found = self._driven_amiss()
        if life.state.differing:
            found.append(f"motor: {life.state.differing} s, first at second {life.state.first_difference}")
        if abs(int(life.state.steps) - int(life.state.seconds)) > self.slack_s:
            found.append(f"the chip took {life.state.steps} steps in {life.state.seconds} s")
        if life.chip_log != life.host_log:
            found.append("logs: " + next(f"{a!r} {b!r}" for a, b in _pairs(life) if a != b))
        if life.memories_differ:
            found.append("EEPROM")
        return found

    def _driven_amiss(self) -> list[str]:
        drive, s = self.life.state.drive, settings_of(self.name)
        found = [f"both direction pins high, {drive.both} times"] if drive.both else []
        if 0 <= drive.least_turn_s < s.dead_s - PIN_S:
            found.append(f"turned round after {drive.least_turn_s} s; dead time {s.dead_s} s")
        for way, longest_s, most_s in (
            ("raised", drive.longest_raise_s, s.up_cutoff_s),
            ("lowered", drive.longest_lower_s, s.down_budget_s),
        ):
            if longest_s > most_s + PIN_S:
                found.append(f"{way} for {longest_s} s; cut-off {most_s} s")
        return found


def _pairs(life: emulated.Life) -> list[tuple[str, str]]:
    chip, host = life.chip_log.splitlines(), life.host_log.splitlines()
    longest = max(len(chip), len(host))
    return list(zip(chip + [""] * (longest - len(chip)), host + [""] * (longest - len(host)), strict=True))


class Twin:
    """The Python twin fed with the inputs that the chip's step had, second by second."""

    COLUMNS = ("drive", "duty", "door", "want", "reason", "time", "own_day", "own_min", "alarms")
    INPUTS: tuple[str, ...] = ("clock_day", "clock_min", "light_counts", "clock_valid", "clock_set")
    INPUTS += ("top", "bottom", "hand", "keep_shut", "battery")

    def __init__(self, name: str, plan: YearPlan) -> None:
        self.decision = DoorDecision(settings_of(name), reader(plan))

    def differences(self, record: NDArray[Any]) -> list[str]:
        """The first second, if any, in which the twin's outputs are not those recorded."""
        inputs = [record[name].tolist() for name in self.INPUTS]
        outputs = [record[name].tolist() for name in self.COLUMNS]
        for second, (given, done) in enumerate(zip(zip(*inputs, strict=True), zip(*outputs, strict=True), strict=True)):
            out = self.decision.step(Inputs(*given))
            twin = tuple(int(getattr(out, name)) for name in self.COLUMNS)
            if twin != done:
                return [f"second {second}: {dict(zip(self.COLUMNS, zip(twin, done, strict=True), strict=True))}"]
        return []


def reader(plan: YearPlan) -> Any:
    """What door_rows.c gives for a day of a table of one year: the row, its facts and solar midnight as packed."""
    year = date_of(plan.first_day).year
    block = facts.fact_block([plan])
    midnight = facts.block_midnight_min(block, plan.n_days)
    bits = facts.block_facts(block, plan.first_day, plan.n_days)

    def row_of(day: int) -> DayRow | Outside | None:
        date = date_of(day + emulated.FIRST_DAY)
        if date.year != year:
            return None if date.year < year - 1 else Outside()
        row = plan.row(date)
        return DayRow(int(plan.open_min[row]), int(plan.close_min[row]), int(midnight[row]), int(bits[row]))

    return row_of
