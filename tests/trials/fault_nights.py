"""What the door does when something is broken: worlds of nine days with a fault in them, and how they are judged.

The program itself is run by whoever calls (`DoorRunner`): the compiled core in the trials, the Python twin elsewhere.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import DAY_MIN
from sunsched.controller.door_settings import DoorSettings
from sunsched.controller.words import Why
from sunsched.study.weather import Floats, Ints
from tests.trials.door_world import BIRDS, DAYS, DoorYear

LEAD_DAYS, FAULT_DAYS = 5, 9
NO_CLOCK, NO_JAM, NO_FAULT, NO_RESET = -1, -1, 255, 255
WORLD_MINUTE = np.dtype(
    [
        ("clock", "i4"), ("counts", "i2"), ("jam_mm", "i2"), ("slip_mm", "i2"), ("power", "u1"), ("clock_set", "u1"),
        ("hand", "u1"), ("keep_shut", "u1"), ("battery", "u1"), ("frozen", "u1"), ("top_fault", "u1"),
        ("bottom_fault", "u1"), ("reversed", "u1"), ("broken", "u1"), ("wedge_mm", "i2"), ("glitch", "u1"),
        ("brown_out", "u1"), ("stuck_on", "u1"), ("reset_s", "u1"), ("top_blip_s", "u1"), ("bottom_blip_s", "u1"),
        ("bottom_breaks_s", "u1"),
    ],
    align=True,
)  # fmt: skip
World = NDArray[Any]  # of WORLD_MINUTE
History = NDArray[Any]  # plate_mm, shift_min, alarms, want, reason, door, time of each minute
BIRD_GAP_SHARE, FOX_GAP_MM = 0.5, 50  # the plate's height at which a bird gets in, a predator gets in: assumed
WAITS_MIN = 90  # a bird before a shut door tries for so long: assumed
LIMIT_MIN = 16  # a door not up by then after the true opening has locked the birds in
BEFORE_OPEN_MIN = 12  # an exposure ends so long before the next planned opening


class DoorRunner(Protocol):
    """A door's program with its machine, between two minutes."""

    def copy(self) -> DoorRunner:
        """The same state once more."""
        ...

    def run(self, world: World, own_ppm: int) -> History:
        """Live through all minutes of `world` but its last, which closes the light of the one before."""
        ...

    def machine_facts(self) -> dict[str, float]:
        """What the machine has been through since power-up."""
        ...


RunnerOf = Callable[[DoorSettings], DoorRunner]


def healthy_world(year: DoorYear, from_min: int, until_min: int, years_on: int = 0) -> World:
    """The minutes from..until, and one more, with nothing broken.

    A negative `from_min` takes the end of the same year for the time before it. `years_on`: the clock is so many
    years ahead, where the table's rows and the weather are the same again.
    """
    world = np.zeros(until_min - from_min + 1, WORLD_MINUTE)
    first_min = (year.place.first_day + years_on * DAYS) * DAY_MIN
    world["clock"] = first_min + np.arange(from_min, until_min + 1)
    this_year = year.counts(max(0, from_min), until_min + 1)
    year_min = DAYS * DAY_MIN
    world["counts"] = np.append(year.counts(year_min + from_min, year_min), this_year) if from_min < 0 else this_year
    world["power"] = 1
    world["jam_mm"] = world["wedge_mm"] = NO_JAM
    world["reset_s"] = NO_RESET
    world["top_fault"] = world["bottom_fault"] = NO_FAULT
    return world


@dataclass
class Nights:
    """Nine days from one midnight, with what a fault may change. Indices are minutes from that midnight."""

    year: DoorYear
    day: int
    world: World
    rng: np.random.Generator
    own_ppm: int = 0
    reset_machine: bool = False

    @classmethod
    def of(cls, year: DoorYear, day: int, rng: np.random.Generator, years_on: int = 0) -> Nights:
        """The nine days from midnight of `day` (row of the year)."""
        start = day * DAY_MIN
        return cls(year, day, healthy_world(year, start, start + FAULT_DAYS * DAY_MIN, years_on), rng)

    def close(self, night: int = 0) -> int:
        """Planned closing of an evening."""
        return int(self.year.place.close_min[self.day + night]) - self.day * DAY_MIN

    def opening(self, night: int = 0) -> int:
        """Planned opening of the morning after it."""
        return int(self.year.place.open_min[self.day + night + 1]) - self.day * DAY_MIN

    def light_log(self) -> Floats:
        """The cell's light, for faults that change it."""
        start = self.day * DAY_MIN
        return self.year.cell_log[start : start + len(self.world)].copy()

    def noise(self) -> NDArray[np.int16]:
        """The cell's noise [counts]."""
        start = self.day * DAY_MIN
        return self.year.noise[start : start + len(self.world)]


Apply = Callable[[Nights], int]


@dataclass(frozen=True)
class Fault:
    """A fault: its words and what it does to the nights; `apply` returns the minute at which it begins.

    group       light, clock, long run, power, machine or pair
    lead_days   days lived from power-up to the midnight before the first evening
    before      what it does to those days
    """

    words: str
    group: str
    apply: Apply
    lead_days: int = LEAD_DAYS
    before: Callable[[World], None] | None = None

    @property
    def years_on(self) -> int:
        """A long run may begin before the table's first date, which the program would refuse: a year later then."""
        return int(self.lead_days > LEAD_DAYS)

    def run_up(self, year: DoorYear, day: int) -> World:
        """From power-up at noon to midnight of `day`."""
        from_min = (day - self.lead_days) * DAY_MIN + DAY_MIN // 2
        world = healthy_world(year, from_min, day * DAY_MIN, self.years_on)
        if self.before is not None:
            self.before(world)
        return world


def both(first: Fault, second: Fault, words: str = "") -> Fault:
    """Two faults at once."""

    def apply(nights: Nights) -> int:
        return max(first.apply(nights), second.apply(nights))

    return Fault(words or f"{first.words} AND {second.words}", "pair", apply)


@dataclass(frozen=True)
class Verdict:
    """One start of one fault, judged. Arrays have one entry a night, from the first evening on.

    out           birds shut out
    open_dark_min minutes the door stood open after the last bird was in
    left_open     the door was open at the middle of the night
    locked_min    minutes it stayed shut beyond the true opening
    last_in_after_min   when the last bird would go in, after the planned closing
    """

    out: Ints
    open_dark_min: Ints
    left_open: Ints
    locked_min: Ints
    last_in_after_min: Ints
    first_reason: str
    first_close_after_min: float
    alarm_after_h: float
    alarms: int
    machine: dict[str, float] = field(default_factory=dict)


def judge(
    nights: Nights, history: History, healthy: History, onset: int, travel_mm: float, n_nights: int = 7
) -> Verdict:
    """Judge what the program did in the nights with a fault, beside the same nights without it."""
    bird_open = history["plate_mm"] < BIRD_GAP_SHARE * travel_mm
    fox_open = history["plate_mm"] < travel_mm - FOX_GAP_MM
    per_night = np.array([_night(nights, k, bird_open, fox_open) for k in range(n_nights)])
    fresh = np.flatnonzero((history["alarms"] & ~healthy["alarms"])[onset:])
    after = np.flatnonzero(~fox_open[nights.close() - 120 : nights.opening()])
    at = int(after[0]) - 120 if len(after) else -1
    reason = Why(int(history["reason"][nights.close() + at])).name.lower() if len(after) else "not closed"
    return Verdict(
        out=per_night[:, 0],
        open_dark_min=per_night[:, 1],
        left_open=per_night[:, 2],
        locked_min=per_night[:, 3],
        last_in_after_min=per_night[:, 4],
        first_reason=reason,
        first_close_after_min=float(at) if len(after) else float("nan"),
        alarm_after_h=float(fresh[0]) / 60 if len(fresh) else float("inf"),
        alarms=int(np.bitwise_or.reduce((history["alarms"] & ~healthy["alarms"])[onset:])),
    )


def _night(nights: Nights, night: int, bird_open: NDArray[np.bool_], fox_open: NDArray[np.bool_]) -> list[int]:
    place, base = nights.year.place, nights.day * DAY_MIN
    row = nights.day + night
    noon, following_noon = int(place.noon_min[row]) - base, int(place.noon_min[row + 1]) - base
    close, opening = nights.close(night), nights.opening(night)
    entries = nights.year.last_in[row] - base
    inside: list[float] = []
    # a flock that was not let out since the morning is in already
    let_out = bird_open[max(0, noon - DAY_MIN // 2) : int(entries.min())].any()
    for entry in entries:
        minute = max(noon, int(np.ceil(entry)))
        if not let_out or bird_open[minute : min(minute + WAITS_MIN, following_noon)].any():
            inside.append(entry)
    last_in = int(max(inside)) + 1 if inside else close
    exposed = int(fox_open[last_in : opening - BEFORE_OPEN_MIN].sum())
    middle = (close + opening) // 2
    locked = int((~bird_open[opening + LIMIT_MIN : following_noon]).sum())
    return [BIRDS - len(inside), exposed, int(fox_open[middle]), locked, round(entries.max()) - close]


def starts_of(n_starts: int, offset: int = 0) -> list[int]:
    """Days spread over the year, with room for the run-up before and the nine days after."""
    return [int(day) + offset for day in np.linspace(12, 348, n_starts)]


@dataclass(frozen=True)
class Trial:
    """One fault at one place, all starts together."""

    fault: Fault
    verdicts: list[Verdict]

    def nights(self, name: str) -> NDArray[np.float64]:
        """A figure of all starts (n_starts, n_nights)."""
        return np.array([getattr(verdict, name) for verdict in self.verdicts], dtype=np.float64)


def run_trials(
    year: DoorYear,
    days: Iterable[int],
    faults: list[Fault],
    settings: DoorSettings,
    runner_of: RunnerOf,
    travel_mm: float,
) -> dict[str, list[Verdict]]:
    """Every fault from every start of one weather year: healthy days first, five but for long runs, then nine."""
    found: dict[str, list[Verdict]] = {fault.words: [] for fault in faults}
    healthy_fault = Fault("", "", lambda nights: 0)
    for day in days:
        started = _Started(year, day, settings, runner_of)
        healthy = started.after(healthy_fault).run(Nights.of(year, day, np.random.default_rng(day)).world, 0)
        for fault in faults:
            nights = Nights.of(year, day, np.random.default_rng(day), fault.years_on)
            onset = fault.apply(nights)
            runner = started.after(fault)
            history = runner.run(nights.world, nights.own_ppm)
            verdict = judge(nights, history, healthy, onset, travel_mm)
            verdict.machine.update(runner.machine_facts())
            found[fault.words].append(verdict)
    return found


class _Started:
    """Doors that have run up to a day; the same run-up is simulated once."""

    def __init__(self, year: DoorYear, day: int, settings: DoorSettings, runner_of: RunnerOf) -> None:
        self.year, self.day, self.settings, self.runner_of = year, day, settings, runner_of
        self.lived: dict[tuple[int, Callable[[World], None] | None], DoorRunner] = {}

    def after(self, fault: Fault) -> DoorRunner:
        """A door that has lived a fault's run-up."""
        key = (fault.lead_days, fault.before)
        if key not in self.lived:
            self.lived[key] = self.runner_of(self.settings)
            self.lived[key].run(fault.run_up(self.year, self.day), 0)
        return self.lived[key].copy()
