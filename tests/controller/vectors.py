"""Days that between them use every rule: what the twin is compared on, and what must kill a changed core."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np

from sunsched.base.civil_time import DAY_MIN
from sunsched.controller.door_settings import DoorSettings
from tests.controller.fault_table import site_settings
from tests.trials.door_world import DoorYear, Place, door_year, place_of
from tests.trials.fault_list import all_faults
from tests.trials.fault_nights import Nights, World

LEAD_DAYS = 1


@dataclass(frozen=True)
class Vector:
    """Some days of a world: a fault (empty: none), what else is done to it, and the constants."""

    name: str
    day: int
    days: int = 3
    fault: str = ""
    change: Callable[[Nights], None] | None = None
    settings: dict[str, int] = dataclasses.field(default_factory=dict)
    site: str = "52 N"


@cache
def place(site: str) -> Place:
    """A trial site, worked out once."""
    return place_of(site)


@cache
def weather(site: str) -> DoorYear:
    """One weather year of it."""
    return door_year(place(site), 11)


def settings_of(vector: Vector) -> DoorSettings:
    """The constants of a vector."""
    return dataclasses.replace(site_settings(vector.site), **vector.settings)


def world_of(vector: Vector) -> tuple[World, int]:
    """A healthy day, then the days with the fault: minutes, and the own count's error [ppm]."""
    year = weather(vector.site)
    lead = Nights.of(year, vector.day - LEAD_DAYS, np.random.default_rng(0)).world[: LEAD_DAYS * DAY_MIN]
    nights = Nights.of(year, vector.day, np.random.default_rng(vector.day))
    if vector.fault:
        next(fault for fault in all_faults() if fault.words == vector.fault).apply(nights)
    if vector.change:
        vector.change(nights)
    world = np.concatenate([lead, nights.world[: vector.days * DAY_MIN + 1]])
    return world, nights.own_ppm


def _hands(nights: Nights) -> None:
    """Presses at odd moments, day and night; a keep-shut switch over a morning; a press in the middle of a move."""
    hand, close, opening = nights.world["hand"], nights.close(), nights.opening()
    for minute, way in ((600, 2), (601, 1), (close + 60, 1), (close + 200, 1), (close + 210, 2), (opening + 5, 2)):
        hand[minute] = way
    nights.world["keep_shut"][opening - 60 : opening + 90] = 1
    hand[opening + 30] = 1


def _battery(nights: Nights) -> None:
    nights.world["battery"][700:] = 1
    nights.world["battery"][nights.close() : nights.opening() + 1500] = 2


def _long_dark_cell(nights: Nights) -> None:
    nights.world["counts"][: 60 * 24] = np.minimum(nights.world["counts"][: 60 * 24], 5)


def _own_drift(nights: Nights) -> None:
    nights.own_ppm = -12_000


CLOCKLESS = {"clock_fitted": 0, "own_trust_min": 4 * 1440}
ALONE = {"evening_from_min": 0, "evening_until_min": 0, "morning_from_min": 0, "morning_until_min": 0}
BY_CURRENT = {"down_by_current": 1}
WIDE = {"evening_from_min": -720, "evening_until_min": 720, "morning_from_min": -720, "morning_until_min": 720}

VECTORS = (
    Vector("healthy spring", 80),
    Vector("hands and keep-shut", 100, change=_hands),
    Vector("battery low, then spent", 120, change=_battery),
    Vector("second chance", 60, settings={"reopen_s": 180}, days=2),
    Vector("clock an hour fast", 90, fault="clock set +60 min, insisted on"),
    Vector("clock an hour slow", 200, fault="clock set -60 min, insisted on"),
    Vector("clock twenty slow", 240, fault="clock set -20 min, insisted on", days=5),
    Vector("clock creeps", 260, fault="clock gains 4 min a day", days=8),
    Vector("clock half a day wrong", 250, fault="clock set +720 min, insisted on", days=4),
    Vector("clock six hours fast", 20, fault="clock set +360 min, insisted on"),
    Vector("half a year wrong", 150, fault="date set +180 days, insisted on", days=4),
    Vector("question left", 170, fault="clock set +60 min, question left", days=2),
    Vector("clock stands still", 270, fault="clock stands still", days=3),
    Vector("clock jumps", 300, fault="clock jumps -60 min", days=2),
    Vector("clock lost in a cut", 310, fault="clock lost in a 30 min power cut", days=4),
    Vector("clock reset to 2000", 330, fault="clock reset to 2000", days=2),
    Vector("own count drifts, no clock", 40, fault="clock lost", days=7, change=_own_drift, settings=CLOCKLESS),
    Vector("cell open", 50, fault="cell open (reads 0)"),
    Vector("cell shorted, clock lost", 55, fault="cell shorted (reads 1023) AND clock lost in a 30 min power cut"),
    Vector("cell stuck, clock lost", 65, fault="cell stuck at 300 AND clock lost in a 30 min power cut", days=3),
    Vector("lamp and clock lost", 70, fault="lamp 30 lux day and night AND clock lost in a 30 min power cut"),
    Vector("covered cell", 75, fault="cell covered, 1/300, within an hour", days=4),
    Vector("lamp every evening, clock fast", 85, fault="lamp 30 lux every evening AND clock set +60 min, insisted on"),
    Vector("cut at closing", 95, fault="power cut of 1-180 min from close -5 min", days=2),
    Vector("lower switch dead", 105, fault="lower switch never makes", days=2),
    Vector("lower switch stuck", 106, fault="lower switch always made", days=2),
    Vector("upper switch dead", 107, fault="upper switch never makes", days=2),
    Vector("upper switch stuck", 108, fault="upper switch always made", days=2),
    Vector("both switches made", 109, fault="both switches always made", days=2),
    Vector("jam half way", 110, fault="plate jams half way, one evening", days=2),
    Vector("frozen all day", 15, fault="frozen to the sill all day", days=2),
    Vector("wires reversed", 112, fault="motor wires reversed", days=2),
    Vector("bird in the doorway", 113, fault="bird in the doorway every other evening", days=2),
    Vector("clock alone", 130, days=2, settings=ALONE, fault="24 headlight flashes a night"),
    Vector("light alone by wide windows", 140, days=2, settings=WIDE),
    Vector("polar spring", 110, site="69.65 N", fault="clock set +120 min, insisted on", days=3),
    Vector("plate lifted", 115, fault="plate lifted and wedged at night", days=2),
    Vector("brown-outs at each start", 116, fault="supply browns out at each motor start", days=2),
    Vector("driver stuck on", 117, fault="driver stuck on lowering", days=2),
    Vector("lower switch lies late", 118, fault="lower switch reads made from late in a lowering on", days=2),
    Vector("jam by current", 119, fault="bird in the doorway every other evening", settings=BY_CURRENT),
    Vector("glitches on each wire", 120, fault="1 % of all seconds glitch, on each wire", days=2),
    Vector("end switch for one sample", 121, fault="upper switch made for one sample in each run", days=2),
)  # fmt: skip
