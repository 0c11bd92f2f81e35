"""The faults of the table: light and clock here, power and machine beside; pairs. They begin at 13:00 unless said."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from sunsched.base.civil_time import DAY_MIN
from tests.trials.door_world import alike_counts, trial_counts
from tests.trials.fault_drive import AT, long_run_faults, machine_faults, power_faults
from tests.trials.fault_nights import FAULT_DAYS, NO_CLOCK, Apply, Fault, Nights, World, both

NIGHT = 60
HALF_YEAR_MIN = 180 * DAY_MIN


def _counts_of(lux: float, nights: Nights) -> int:
    return int(trial_counts(np.array([lux]), nights.year.cell)[0])


def _reads(counts: int, at: int = AT, noisy: bool = False, before_close: int | None = None) -> Apply:
    def apply(nights: Nights) -> int:
        start = at if before_close is None else nights.close() - before_close
        nights.world["counts"][start:] = alike_counts(counts, nights.year.cell)
        if noisy:
            nights.world["counts"][start:] += nights.noise()[start:]
        return start

    return apply


def _cover(depth_log: float, ramp_min: float) -> Apply:
    def apply(nights: Nights) -> int:
        minutes = np.arange(len(nights.world))
        light_log = nights.light_log() - depth_log * np.clip((minutes - AT) / ramp_min, 0, 1)
        nights.world["counts"] = nights.year.read(light_log, nights.noise())
        return AT

    return apply


def _lamp(lux: float, span: Callable[[Nights, int], tuple[int, int]] | None = None) -> Apply:
    """A lamp all the time, or each night over `span`."""

    def apply(nights: Nights) -> int:
        counts = nights.world["counts"]
        lit = _counts_of(lux, nights) + nights.noise()
        spans = [(AT, len(counts))] if span is None else [span(nights, night) for night in range(FAULT_DAYS - 1)]
        for start, end in spans:
            counts[start:end] = np.maximum(counts[start:end], lit[start:end])
        return spans[0][0]

    return apply


def _flickering(lux: float) -> Apply:
    """A lamp that flickers day and night, three times as bright as at its dimmest: never flat."""

    def apply(nights: Nights) -> int:
        counts = nights.world["counts"]
        flicker = trial_counts(lux * 3.0 ** nights.rng.uniform(-0.5, 0.5, len(counts)), nights.year.cell)
        counts[AT:] = np.maximum(counts[AT:], flicker[AT:])
        return AT

    return apply


def _right_again(nights: Nights) -> int:
    """The clock is lost in a power cut while a shift is in use, and set right two hours later."""
    nights.world["power"][AT - 30 : AT] = 0
    nights.world["clock"][AT - 30 : AT + 120] = NO_CLOCK
    nights.world["clock_set"][AT + 120] = 1
    return AT - 30


def _headlights(nights: Nights) -> int:
    for night in range(FAULT_DAYS - 1):
        for at in nights.close(night) - 30 + nights.rng.integers(0, 240, 24):
            nights.world["counts"][at] = max(int(nights.world["counts"][at]), _counts_of(30.0, nights))
    return nights.close() - 30


def _storm(nights: Nights) -> int:
    light_log = nights.light_log()
    start, end = nights.close() - 90, nights.close() - 20
    light_log[start:end] -= 1.1
    nights.world["counts"] = nights.year.read(light_log, nights.noise())
    return start


def _clock_by(by_min: int, settings: int = 0, cut_min: int = 0) -> Apply:
    """The clock is off by so much; `settings`: how often the keeper presses set; `cut_min`: after a power cut."""

    def apply(nights: Nights) -> int:
        nights.world["clock"][AT:] += by_min
        for press in range(settings):
            nights.world["clock_set"][AT + press] = 1
        nights.world["power"][AT - cut_min : AT] = 0
        return AT + settings

    return apply


def _clock_dead(cut_min: int = 0, ppm: int = 0, value: int | None = NO_CLOCK) -> Apply:
    """The clock is not valid; `value` None: it stands still."""

    def apply(nights: Nights) -> int:
        clock = nights.world["clock"]
        clock[AT - cut_min :] = clock[AT - cut_min] if value is None else value
        nights.world["power"][AT - cut_min : AT] = 0
        nights.own_ppm = ppm
        return AT - cut_min

    return apply


def _clock_creeps(min_a_day: int) -> Apply:
    def apply(nights: Nights) -> int:
        since = np.maximum(0, np.arange(len(nights.world)) - AT)
        nights.world["clock"] += np.round(since * min_a_day / DAY_MIN).astype(np.int32)
        return AT

    return apply


def _clock_2000(nights: Nights) -> int:
    nights.world["clock"][AT:] = np.arange(len(nights.world) - AT)
    return AT


def _around_close(before: int, after: int) -> Callable[[Nights, int], tuple[int, int]]:
    return lambda nights, night: (nights.close(night) - before, nights.close(night) + after)


def _before_open(nights: Nights, night: int) -> tuple[int, int]:
    return nights.opening(night) - 120, nights.opening(night) - 10


def _off_by_23(world: World) -> None:
    world["clock"] += 23


def _light_faults() -> list[Fault]:
    return [
        Fault("healthy", "light", lambda nights: AT),
        Fault("storm ends 20 min before closing", "light", _storm),
        Fault("24 headlight flashes a night", "light", _headlights),
        Fault("lamp 60 lux from 25 min after closing", "light", _lamp(60, _around_close(-25, 180))),
        Fault("lamp 30 lux every evening", "light", _lamp(30, _around_close(40, 180))),
        Fault("lamp 200 lux every evening", "light", _lamp(200, _around_close(40, 180))),
        Fault("lamp 60 lux before dawn", "light", _lamp(60, _before_open)),
        Fault("lamp 8 lux day and night", "light", _lamp(8)),
        Fault("lamp 30 lux day and night", "light", _lamp(30)),
        Fault("lamp 200 lux day and night", "light", _lamp(200)),
        Fault("lamp of about 40 lux flickers day and night", "light", _flickering(40)),
        Fault("cell open (reads 0)", "light", _reads(0)),
        Fault("cell open 40 min before closing", "light", _reads(0, before_close=40)),
        Fault("cell open from 01:00", "light", _reads(0, at=NIGHT)),
        Fault("cell shorted (reads 1023)", "light", _reads(1023)),
        Fault("cell stuck at 140", "light", _reads(140, noisy=True)),
        Fault("cell stuck at 300", "light", _reads(300, noisy=True)),
        Fault("cell stuck at 600", "light", _reads(600, noisy=True)),
        Fault("cell stuck at 900", "light", _reads(900, noisy=True)),
        Fault("cell covered, 1/10 of the light", "light", _cover(1.0, 1)),
        Fault("cell covered, 1/30, within an hour", "light", _cover(1.5, 60)),
        Fault("cell covered, 1/300, within an hour", "light", _cover(2.5, 60)),
        Fault("cell covered, 1/3000, at once", "light", _cover(3.5, 1)),
    ]


def _clock_faults() -> list[Fault]:
    insisted = [
        Fault(f"clock set {by:+d} min, insisted on", "clock", _clock_by(by, settings=2))
        for by in (-60, -20, 20, 60, 120, -120, 360, 720)
    ]
    dates = [
        Fault(f"date set {days:+d} day{'s' * (abs(days) != 1)}, insisted on", "clock", _clock_by(days * DAY_MIN, 2))
        for days in (-1, 1, 180)
    ]
    asked = [
        Fault("clock set +60 min, question left", "clock", _clock_by(60, settings=1)),
        Fault("clock set -60 min, question left", "clock", _clock_by(-60, settings=1)),
        Fault("date set +180 days, question left", "clock", _clock_by(HALF_YEAR_MIN, settings=1)),
    ]
    return [
        *insisted, *asked, *dates,
        Fault("clock +60 min after a power cut", "clock", _clock_by(60, cut_min=2)),
        Fault("clock -60 min after a power cut", "clock", _clock_by(-60, cut_min=2)),
        Fault("clock jumps +60 min", "clock", _clock_by(60)),
        Fault("clock jumps -60 min", "clock", _clock_by(-60)),
        Fault("clock stands still", "clock", _clock_dead(value=None)),
        Fault("clock stands still, then a power cut", "clock", _clock_dead(value=None, cut_min=40)),
        Fault("clock gains 4 min a day", "clock", _clock_creeps(4)),
        Fault("clock loses 4 min a day", "clock", _clock_creeps(-4)),
        Fault("clock reset to 2000", "clock", _clock_2000),
        Fault("clock lost", "clock", _clock_dead()),
        Fault("clock lost, own count 1 % fast", "clock", _clock_dead(ppm=10_000)),
        Fault("clock lost in a 30 min power cut", "clock", _clock_dead(cut_min=30)),
        Fault("clock 23 min off for weeks, lost, set right", "clock", _right_again, 12, _off_by_23),
    ]  # fmt: skip


def _pairs(single: dict[str, Fault]) -> list[Fault]:
    pairs = [
        ("cell covered, 1/3000, at once", "clock set +60 min, insisted on"),
        ("cell covered, 1/30, within an hour", "clock set +60 min, insisted on"),
        ("cell covered, 1/30, within an hour", "clock set -60 min, insisted on"),
        ("cell open (reads 0)", "clock set +60 min, insisted on"),
        ("cell open (reads 0)", "clock set +60 min, question left"),
        ("cell shorted (reads 1023)", "clock set +60 min, insisted on"),
        ("lamp 30 lux day and night", "clock set +60 min, insisted on"),
        ("lamp 30 lux every evening", "clock set +60 min, insisted on"),
        ("lamp 30 lux every evening", "clock set -60 min, insisted on"),
        ("lamp 30 lux day and night", "clock lost"),
        ("lamp of about 40 lux flickers day and night", "clock lost in a 30 min power cut"),
        ("lamp 30 lux day and night", "clock lost in a 30 min power cut"),
        ("lamp 30 lux every evening", "clock lost in a 30 min power cut"),
        ("cell open (reads 0)", "clock lost"),
        ("cell open (reads 0)", "clock lost in a 30 min power cut"),
        ("cell shorted (reads 1023)", "clock lost in a 30 min power cut"),
        ("cell stuck at 300", "clock lost in a 30 min power cut"),
        ("storm ends 20 min before closing", "clock lost in a 30 min power cut"),
    ]
    return [both(single[first], single[second]) for first, second in pairs]


def all_faults() -> list[Fault]:
    """Every fault of the table, healthy first."""
    singles = [*_light_faults(), *_clock_faults(), *long_run_faults(), *power_faults(), *machine_faults()]
    return [*singles, *_pairs({fault.words: fault for fault in singles})]
