"""What a play of the door's program needs: the site's own part of the program, its machine, its sky, its days.

The program is the chip's own, built once for all sites (controller/c/play); what is the keeper's is data here. The sky
is that of the study: the Sun's hour angle and declination once a day, between which a page interpolates, and the clear
sky's light by the Sun's altitude.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import DAY_MIN, year_days
from sunsched.base.errors import RangeError
from sunsched.base.rounding import to_41_bits
from sunsched.config.configuration import Configuration
from sunsched.controller.door_window import evening_windows, morning_windows
from sunsched.emit import firmware
from sunsched.hardware.drive import cord_diameter_mm, cord_speed_mm_s
from sunsched.hardware.parts import Door, LightCell, Motor, Spool
from sunsched.job import pipeline
from sunsched.job.compact import chip_settings
from sunsched.job.firmware_folder import machine_of
from sunsched.job.pipeline import Built
from sunsched.plan.year import YearPlan
from sunsched.sky.daylight import clear_sky_lux, refraction_deg
from sunsched.sky.sun_nodes import sun_at
from sunsched.table.choose import Table
from sunsched.table.layout import CODECS
from sunsched.table.many import tables_of_years

NIGHTS_BEFORE = 3  # that a door has been through, under a clear sky, when an evening begins: its time is proven then
LEAD_DAYS = NIGHTS_BEFORE + 1  # rows before and behind the year: days lived before an evening, and the night after it
FIRST_YEAR, LAST_YEAR = 2001, 2051  # the neighbours have a table too: from 2000 on, and while the Sun is known
NO_CLOCK_CHIP = 4  # PLAY_NO_CLOCK_CHIP of play_site.h
FULL_SHARE = 12.7 / 12.0  # a full lead-acid battery at rest: common practice
LIGHT_FROM_DEG, LIGHT_STEP_DEG = -20.0, 0.1


@dataclass(frozen=True, slots=True)
class Program:
    """The site's own part of the program: what a chip has compiled in. Counts are converter counts.

    settings   the decision's constants as bytes, little-endian without padding: DoorSettings.packed
    tables   images, one behind the other
    low_counts, spent_counts   of the battery; 0 where it is not watched
    clock   kind of the clock chip's registers, or NO_CLOCK_CHIP
    """

    settings: bytes
    tables: bytes
    utc_offset_min: int
    low_counts: int
    spent_counts: int
    clock: int
    said: firmware.Said


@dataclass(frozen=True, slots=True)
class Machine:
    """The door as built, or the defaults: travel [mm], speed of the cord while raising [mm/s], cord on the spool [mm].

    ends_by_current   a rod, and the motor's current shows the lower end
    full_counts   what a full battery reads at the converter
    """

    travel_mm: float
    raise_mm_s: float
    cord_mm: float
    ends_by_current: bool
    full_counts: int


@dataclass(frozen=True, slots=True)
class Sky:
    """The Sun once a day, and the light by its altitude.

    hour_angle_deg, declination_deg   (n,) at 00:00 UTC of day `first_day` and of those after it; the hour angle is
      Greenwich's, near 180, and gains a turn from one day to the next
    light_log   (m,) log10 of the clear sky's lux at altitudes from LIGHT_FROM_DEG on, LIGHT_STEP_DEG apart, refraction
      included
    """

    first_day: int
    hour_angle_deg: NDArray[np.float64]
    declination_deg: NDArray[np.float64]
    light_log: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Play:
    """All of it. `plan` has LEAD_DAYS rows more than the year at either end; windows are (n,) chip minutes."""

    program: Program
    machine: Machine
    sky: Sky
    cell: LightCell
    plan: YearPlan
    windows: tuple[NDArray[np.int64], ...]
    year: int


def play_of(configuration: Configuration, year: int, name: str = "") -> Play:
    """The play of a configuration's year; `name` is its file, for errors.

    Raises ConfigError where the program cannot follow the configuration, as `firmware` does; RangeError for a year
    before FIRST_YEAR or after LAST_YEAR.
    """
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise RangeError(f"the year is {year}; a play goes over New Year: wanted {FIRST_YEAR} to {LAST_YEAR}")
    c = configuration
    first_day, n_days = year_days(year)
    work = pipeline.built(c, year, name)
    plans = [pipeline.plan_of(c, year - 1, name), work.plan, pipeline.plan_of(c, year + 1, name)]
    tables = [_table(c, plan) for plan in plans]
    plan = pipeline.span_of(c, first_day - LEAD_DAYS, n_days + 2 * LEAD_DAYS, name)
    evening, morning = evening_windows(plan, c.rules), morning_windows(plan, c.rules)
    return Play(
        program=program_of(work, tables, name),
        machine=machine_as_built(c),
        sky=_sky(plan),
        cell=c.light_cell,
        plan=plan,
        windows=(*morning, *evening),
        year=year,
    )


def _table(c: Configuration, plan: YearPlan) -> Table:
    """A year's table, exact; in layout blocks, which is packed soonest."""
    return tables_of_years([plan], c.rules, chip_settings(c), 0, (CODECS["blocks"],))[0]


def program_of(work: Built, tables: Sequence[Table], name: str = "") -> Program:
    """What the firmware's folder has compiled in, with these tables."""
    machine = machine_of(work, name)
    volts = machine.battery_volts
    levels = (0, 0) if volts is None else firmware.battery_levels(volts, machine.board.supply_v)
    return Program(
        settings=machine.settings.packed(),
        tables=b"".join(table.raw for table in tables),
        utc_offset_min=work.plan.chip_offset_min,
        low_counts=levels[0],
        spent_counts=levels[1],
        clock=firmware.CLOCK_CHIPS.index(machine.clock_chip) if machine.clock == "rtc" else NO_CLOCK_CHIP,
        said=firmware.said_texts(work.plan, work.stamp, machine.board.name),
    )


def machine_as_built(c: Configuration) -> Machine:
    """The door, spool and motor of a configuration, each by default where it has none."""
    door, spool, motor = c.door or Door(), c.spool or Spool(), c.motor or Motor()
    diameter_mm = cord_diameter_mm(spool)
    volts = c.battery.volts if c.battery else motor.volts
    return Machine(
        travel_mm=door.travel_mm,
        raise_mm_s=float(cord_speed_mm_s(diameter_mm, motor.rpm)),
        cord_mm=door.travel_mm + spool.turns_left_when_down * math.pi * diameter_mm,
        ends_by_current=motor.shunt_ohm is not None,
        full_counts=firmware.battery_counts(volts * FULL_SHARE, c.chip.on.supply_v),
    )


def _sky(plan: YearPlan) -> Sky:
    first_day, n = plan.first_day - 1, plan.n_days + 3
    sun = sun_at((first_day + np.arange(n, dtype=np.float64)) * DAY_MIN)
    airless = np.arange(LIGHT_FROM_DEG, 90.0 + LIGHT_STEP_DEG / 2, LIGHT_STEP_DEG)
    light = clear_sky_lux(np.minimum(airless + refraction_deg(airless), 90.0))
    # to 41 bits: the Sun's nodes are whole thousandths of an arcsecond, and a page that rounds them meets ties
    hour_angle, declination = (to_41_bits(np.degrees(one)) for one in (sun.hour_angle_rad, sun.declination_rad))
    return Sky(first_day, hour_angle, declination, to_41_bits(np.log10(light)))
