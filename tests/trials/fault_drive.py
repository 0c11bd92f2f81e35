"""Faults of power and machine, and runs so long that counters would wrap. They begin at 13:00 unless said."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from sunsched.base.civil_time import DAY_MIN
from sunsched.hardware.drive import cord_diameter_mm
from sunsched.hardware.parts import Door, Spool
from tests.trials.fault_nights import FAULT_DAYS, NO_CLOCK, Apply, Fault, Nights, World

AT = 13 * 60
# Ten moments of the evening, the afternoon before it and the night after it.
CUTS_AFTER_CLOSE_MIN = (-300, -120, -60, -30, -15, -5, 1, 5, 15, 30, 90, 240)
# The whole cord and as much again on the other side: the plate hangs at the top from a spool wound the wrong way.
STRUNG_BACKWARDS_MM = round(2 * (Door().travel_mm + Spool().turns_left_when_down * np.pi * cord_diameter_mm(Spool())))
# Days from power-up at noon to the midnight before the first evening: 2^32 ms (49.71 days) end in that night.
MS_WRAP_LEAD_DAYS, HALF_YEAR_LEAD_DAYS = 49, 180
CLOCK_SEEN_DAYS = 5  # the clock of the long runs without one is good for so long


def _cut(anchor: str, after_min: int) -> Apply:
    def apply(nights: Nights) -> int:
        start = (nights.close() if anchor == "close" else nights.opening()) + after_min
        nights.world["power"][start : start + int(nights.rng.uniform(1, 180))] = 0
        return start

    return apply


def _machine(at: Callable[[Nights], tuple[int, int]], **values: int) -> Apply:
    def apply(nights: Nights) -> int:
        start, end = at(nights)
        for name, value in values.items():
            nights.world[name][start:end] = value
        return start

    return apply


def _always(nights: Nights) -> tuple[int, int]:
    return AT, len(nights.world)


def _evening(nights: Nights) -> tuple[int, int]:
    return nights.close() - 30, nights.close() + 30


def _all_night(nights: Nights) -> tuple[int, int]:
    return nights.close() - 30, nights.opening() - 60


def _morning(before_min: int, after_min: int) -> Callable[[Nights], tuple[int, int]]:
    return lambda nights: (nights.opening() - before_min, nights.opening() + after_min)


def _moment(nights: Nights) -> tuple[int, int]:
    return nights.close() + 120, nights.close() + 121


def _at_night(nights: Nights) -> tuple[int, int]:
    return nights.close() + 60, nights.close() + 61


def _each_night(**values: int) -> Apply:
    """At the same moment of each night: an hour after the closing."""

    def apply(nights: Nights) -> int:
        for night in range(FAULT_DAYS - 1):
            for name, value in values.items():
                nights.world[name][nights.close(night) + 60] = value
        return nights.close() + 60

    return apply


def _after_noon(nights: Nights) -> tuple[int, int]:
    return AT, AT + 1


def _bird(nights: Nights) -> int:
    """A bird stands in the doorway for the minute in which the door comes down, whenever that is."""
    for night in range(0, FAULT_DAYS - 1, 2):
        start = nights.close(night) - 10
        nights.world["jam_mm"][start : start + 25 : 2] = 200
    return nights.close() - 10


def power_faults() -> list[Fault]:
    """Power cuts and an empty battery."""
    moments = [("close", k) for k in CUTS_AFTER_CLOSE_MIN] + [("opening", k) for k in (-20, 5)]
    cuts = [
        Fault(f"power cut of 1-180 min from {anchor} {after:+d} min", "power", _cut(anchor, after))
        for anchor, after in moments
    ]
    return [
        *cuts,
        Fault("battery low", "power", _machine(_always, battery=1)),
        Fault("battery spent from 13:00 on", "power", _machine(_always, battery=2)),
    ]


def machine_faults() -> list[Fault]:
    """Switches, plate, cord and motor."""
    return [
        Fault("lower switch never makes", "machine", _machine(_always, bottom_fault=0)),
        Fault("lower switch always made", "machine", _machine(_always, bottom_fault=1)),
        Fault("upper switch never makes", "machine", _machine(_always, top_fault=0)),
        Fault("upper switch always made", "machine", _machine(_always, top_fault=1)),
        Fault("neither switch ever makes", "machine", _machine(_always, top_fault=0, bottom_fault=0)),
        Fault("both switches always made", "machine", _machine(_always, top_fault=1, bottom_fault=1)),
        Fault("plate jams at 60 mm, one evening", "machine", _machine(_all_night, jam_mm=60)),
        Fault("plate jams half way, one evening", "machine", _machine(_all_night, jam_mm=175)),
        Fault("litter on the sill, one evening", "machine", _machine(_all_night, jam_mm=320)),
        Fault("bird in the doorway every other evening", "machine", _bird),
        Fault("frozen to the sill for 45 min", "machine", _machine(_morning(30, 45), frozen=1)),
        Fault("frozen to the sill all day", "machine", _machine(_morning(30, 600), frozen=1)),
        Fault("frozen to the sill for 150 min after opening", "machine", _machine(_morning(30, 150), frozen=1)),
        Fault("lower switch made for one sample in each run", "machine", _machine(_always, bottom_blip_s=4)),
        Fault("upper switch made for one sample in each run", "machine", _machine(_always, top_blip_s=4)),
        Fault("upper switch made for one sample in each raise", "machine", _machine(_always, top_blip_s=2)),
        Fault("plate lifted and wedged at night", "machine", _machine(_at_night, wedge_mm=150)),
        Fault("plate lifted and wedged every night", "machine", _each_night(wedge_mm=150)),
        Fault("supply browns out at each motor start", "machine", _machine(_always, brown_out=1)),
        Fault("supply browns out at each start of one evening", "machine", _machine(_evening, brown_out=1)),
        Fault("driver stuck on lowering", "machine", _machine(_always, stuck_on=2)),
        Fault("driver stuck on raising", "machine", _machine(_always, stuck_on=1)),
        Fault("lower switch reads made from mid-lowering on", "machine", _machine(_always, bottom_breaks_s=4)),
        Fault("lower switch reads made from late in a lowering on", "machine", _machine(_always, bottom_breaks_s=7)),
        Fault("1 % of all seconds glitch, on each wire", "machine", _machine(_always, glitch=10)),
        Fault("5 % of all seconds glitch, on each wire", "machine", _machine(_always, glitch=50)),
        Fault("cord breaks with the door up", "machine", _machine(_always, broken=1)),
        Fault("200 mm of slack cord at night", "machine", _machine(_moment, slip_mm=200)),
        Fault("cord strung on backwards", "machine", _machine(_after_noon, slip_mm=STRUNG_BACKWARDS_MM)),
        Fault("motor wires reversed", "machine", _machine(_always, reversed=1)),
        Fault("motor wires reversed from the start", "machine", _machine(_always, reversed=1), before=_crossed),
    ]


def _crossed(world: World) -> None:
    world["reversed"] = 1


def _clock_seen_once(world: World) -> None:
    world["clock"][CLOCK_SEEN_DAYS * DAY_MIN :] = NO_CLOCK


def _no_clock(nights: Nights) -> int:
    nights.world["clock"] = NO_CLOCK
    return AT


def long_run_faults() -> list[Fault]:
    """The door has run for so long without a break, every second of it lived, when the nights begin."""
    found = []
    for words, days in (("49.7 days (2^32 ms)", MS_WRAP_LEAD_DAYS), ("180 days", HALF_YEAR_LEAD_DAYS)):
        found += [
            Fault(f"{words} without a break", "long run", lambda nights: AT, days),
            Fault(f"{words} without a break, clock lost early", "long run", _no_clock, days, _clock_seen_once),
        ]
    return found
