"""The `cell` command's work: thresholds as counts, the fixed resistor, the cell's readings at the year's moments.

What is wrong with the configured cell, and what would correct it, stands in `cell_advice.py`.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunsched.base import cautions
from sunsched.base.civil_time import clock_text, date_of
from sunsched.base.rounding import MINUTE_DECIMALS, printed_values
from sunsched.base.warned import Warned
from sunsched.config.configuration import Configuration
from sunsched.hardware import light_cell as sums
from sunsched.hardware.advice import Advice
from sunsched.hardware.parts import LightCell
from sunsched.job.cell_advice import cell_advice, cell_warnings, thresholds_of
from sunsched.job.pipeline import plan_of
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.sky.crossings import altitude_crossings, sun_altitude_deg
from sunsched.sky.daylight import clear_sky_lux, depression_of_clear_sky_lux, refraction_deg

# Dark stratus divides the light of a clear sky by ten: Janiczek & DeYoung, USNO Circular 171 (1987), sky conditions
DULL_DIVISOR = 10.0
DAY_OF_MONTH = 15


@dataclass(frozen=True)
class Resistor:
    """A choice of fixed resistor [ohm] for the dark threshold and what it gives."""

    name: str
    exact_ohm: float
    ohm: int
    counts: int
    counts_per_efold: float
    source_ohm: float


@dataclass(frozen=True)
class MonthMoment:
    """A planned minute in the middle of a month and the light at the cell then; counts are None for a digital sensor.

    dull_shift_min   how many minutes earlier (evening) or later (morning) a light of a tenth makes the cell act
    None also where the door stays down, or the light never passes the threshold
    """

    date: str
    side: str
    planned_civil: str | None
    altitude_deg: float | None
    clear_lux: float | None
    dull_lux: float | None
    clear_counts: int | None
    dull_counts: int | None
    dull_shift_min: float | None


@dataclass(frozen=True)
class CellReport:
    """Everything `cell` reports."""

    cell: LightCell
    thresholds: dict[str, sums.ThresholdCounts]
    resistors: tuple[Resistor, ...]
    sensors: tuple[dict[str, Any], ...]
    months: tuple[MonthMoment, ...]
    warnings: tuple[Warned, ...]
    advice: Advice

    def plain(self) -> dict[str, Any]:
        """The report as plain values, for JSON."""
        results = {
            "thresholds": {name: asdict(found) for name, found in self.thresholds.items()},
            "resistors": [asdict(choice) for choice in self.resistors],
            "sensors": [dict(row) for row in self.sensors],
            "months": [asdict(month) for month in self.months],
            "warnings": [{"name": one.name, "text": f"{one.text}. {one.to_do}"} for one in self.warnings],
            "advised": self.advice.plain(),
            "cautions": list(cautions.CELL),
        }
        return {"light_cell": self.cell.model_dump(), **printed_values(results)}


def cell_of(configuration: Configuration, year: int, name: str = "") -> CellReport:
    """The light cell's sums with the moments of `year`; `name` is the configuration's file, for errors."""
    cell = configuration.light_cell
    thresholds = thresholds_of(cell)
    resistors = _resistors(cell) if thresholds else ()
    sensors = tuple(sums.sensor_row(sensor, [cell.dark_lux, cell.light_lux]) for sensor in sums.DIGITAL_SENSORS)
    months = _months(cell, plan_of(configuration, year, name))
    return CellReport(cell, thresholds, resistors, sensors, months, cell_warnings(cell), cell_advice(cell))


def _resistors(cell: LightCell) -> tuple[Resistor, ...]:
    steepest = sums.best_fixed_ohm(cell.dark_lux, cell.r10_ohm, cell.gamma)
    bound = sums.greatest_fixed_ohm(cell.dark_lux, cell.r10_ohm, cell.gamma)
    choices = {
        "steepest at dark_lux": (steepest, sums.preferred_ohm(steepest)),
        "steepest without a capacitor": (min(steepest, bound), sums.preferred_ohm(min(steepest, bound), bound)),
        "as configured": (cell.fixed_ohm, round(cell.fixed_ohm)),
    }
    found = []
    for label, (exact, ohm) in choices.items():
        part = (cell.r10_ohm, cell.gamma, float(ohm))
        found.append(
            Resistor(
                name=label,
                exact_ohm=exact,
                ohm=ohm,
                counts=int(sums.divider_counts(cell.dark_lux, *part, cell.adc_steps)),
                counts_per_efold=float(sums.counts_per_efold(cell.dark_lux, *part, cell.adc_steps)),
                source_ohm=float(sums.source_ohm(cell.dark_lux, *part)),
            )
        )
    return tuple(found)


def _months(cell: LightCell, plan: YearPlan) -> tuple[MonthMoment, ...]:
    rows = [row for row in range(plan.n_days) if date_of(plan.first_day + row).day == DAY_OF_MONTH]
    evening = _moments(cell, plan, rows, "evening", plan.close_min, cell.dark_lux)
    morning = _moments(cell, plan, rows, "morning", plan.open_min, cell.light_lux)
    return tuple(moment for pair in zip(morning, evening, strict=True) for moment in pair)


def _moments(
    cell: LightCell, plan: YearPlan, rows: list[int], side: str, minutes: NDArray[np.int16], threshold_lux: float
) -> list[MonthMoment]:
    times, civil = plan.utc_min(minutes), plan.civil_min(minutes)
    shifts = _dull_shifts_min(plan, side, threshold_lux / cell.sky_view)
    found = []
    for row in rows:
        date = date_of(plan.first_day + row).isoformat()
        shift = None if np.isnan(shifts[row]) else float(shifts[row])
        if minutes[row] == NO_MINUTE:
            found.append(MonthMoment(date, side, None, None, None, None, None, None, shift))
            continue
        airless = float(sun_altitude_deg(times[row], plan.site.latitude_deg, plan.site.longitude_deg))
        altitude = airless + float(refraction_deg(airless))
        clear = float(clear_sky_lux(altitude)) * cell.sky_view
        lux = (clear, clear / DULL_DIVISOR)
        counts = (counts_of(cell, lux[0]), counts_of(cell, lux[1]))
        planned = clock_text(round(float(civil[row])))
        found.append(MonthMoment(date, side, planned, altitude, *lux, *counts, shift))
    return found


def counts_of(cell: LightCell, illuminance_lux: float) -> int | None:
    """Counts that the configured cell gives [lux at the cell]; None for a digital sensor, which gives lux."""
    if cell.kind != "photoresistor":
        return None
    part = (cell.r10_ohm, cell.gamma, cell.fixed_ohm, cell.adc_steps)
    return int(sums.divider_counts(illuminance_lux, *part))


def _dull_shifts_min(plan: YearPlan, side: str, open_sky_lux: float) -> NDArray[np.float64]:
    """Minutes (n,) between the clear sky's `open_sky_lux` and its tenfold, which is what a dull sky needs."""
    try:
        levels = (open_sky_lux, open_sky_lux * DULL_DIVISOR)
        angles = [-depression_of_clear_sky_lux(lux) for lux in levels]
    except ValueError:
        return np.full(plan.n_days, np.nan)
    place = (plan.site.latitude_deg, plan.site.longitude_deg)
    found = altitude_crossings(plan.first_day, plan.n_days, *place, angles)
    event = found.set_utc_min if side == "evening" else found.rise_utc_min
    return np.asarray(np.round(np.abs(event[0] - event[1]), MINUTE_DECIMALS))
