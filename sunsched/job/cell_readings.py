"""A light cell calibrated by readings in its place: counts noted under a clear sky, against what such a sky gives.

One reading cannot tell the part's resistance from the share of the sky that it sees. Photoresistor: r10_ohm takes the
whole difference, for its tolerance is the wider; a sensor that gives lux: sky_view takes it.

The spread, standard deviations in log10 lux added in squares, stated as two of them either way:
    clear evenings differ: 0.15 (cell_sky_log10 of [model], assumed); less by the root of the number of readings
    the model of a clear sky: 0.03, two published fits differ by so much in twilight (study/calibration.py); never less
    each reading: a minute of time either way, and half a count
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from sunsched.base.civil_time import zone_of
from sunsched.base.errors import UsageError
from sunsched.base.rounding import printed_values
from sunsched.config.configuration import Configuration
from sunsched.hardware import light_cell as sums
from sunsched.hardware.light_cell import SPREAD_SIGMAS
from sunsched.hardware.parts import CellReading, LightCell
from sunsched.job.clock import civil_utc_min
from sunsched.sky.daylight import clear_sky_lux_at
from sunsched.study.calibration import MODEL_LOG

LEAST_LUX, MOST_LUX = 0.1, 5000.0  # at the cell: darker the sky's own light counts, brighter the Sun's beam
LIMITS = {"r10_ohm": (100.0, 10_000_000.0), "sky_view": (0.001, 1.0)}  # of the keys: hardware/parts.py
RAIL_COUNTS = 3  # this near to an end of the ADC a count stands for any light beyond


@dataclass(frozen=True, slots=True)
class ReadingFound:
    """One reading: the clear sky's light at the cell [lux], what the cell gives [lux], the second over the first."""

    at: str
    counts: float
    clear_lux: float
    read_lux: float
    factor: float
    sd_log10: float


@dataclass(frozen=True, slots=True)
class CellCalibration:
    """Readings and what follows: a key's new value, and the spread that is left, a factor either way (95 %)."""

    readings: tuple[ReadingFound, ...]
    factor: float
    spread: float
    key: str
    value: float
    paste: str

    def plain(self) -> dict[str, Any]:
        """The calibration as plain values, for JSON."""
        return dict(printed_values(asdict(self)))


def calibrated(configuration: Configuration, readings: Sequence[CellReading], where: str) -> CellCalibration:
    """What the readings say of the cell. `where` names them in errors.

    Raises UsageError for a reading that says nothing (at an end of the ADC, too dim, too bright) or asks for a cell
    that cannot be.
    """
    found = tuple(_found(configuration, reading, where) for reading in readings)
    log = float(np.mean([math.log10(one.factor) for one in found]))
    n = len(found)
    own = math.sqrt(sum(one.sd_log10**2 for one in found)) / n
    sd = math.sqrt(configuration.model.cell_sky_log10**2 / n + MODEL_LOG**2 + own**2)
    factor, spread = 10**log, 10 ** (SPREAD_SIGMAS * sd)
    key, value = _moved(configuration.light_cell, factor)
    least, most = LIMITS[key]
    if not least <= value <= most:
        raise UsageError(
            f"{where}: the readings ask for light_cell.{key} = {value:.3g}; wanted {least:g} to {most:g}: a cloud, a "
            "lamp in view, another part than the file describes, or a wrong minute?"
        )
    lines = [f"{key} = {value:.3g}" if key == "sky_view" else f"{key} = {float(f'{value:.3g}'):.0f}"]
    lines += [f"spread = {spread:.2f}"] if key == "r10_ohm" else []
    return CellCalibration(found, factor, spread, key, value, "\n".join(lines) + "\n")


def noted_readings(
    configuration: Configuration, reads: float | None, at: str | None, name: str
) -> CellCalibration | None:
    """The calibration by the readings of the file `name` and the one just given; None where there is none."""
    noted = list(configuration.light_cell.reading or ())
    for number, reading in enumerate(noted):
        _found(configuration, reading, f"{name}: light_cell.reading[{number}]")
    if reads is not None and at is not None:
        noted.append(CellReading.model_construct(at=at, counts=reads))
    return calibrated(configuration, noted, "--reads with --at") if noted else None


def _found(configuration: Configuration, reading: CellReading, where: str) -> ReadingFound:
    site, cell = configuration.site, configuration.light_cell
    utc_min = civil_utc_min(zone_of(site.zone), reading.at, where)
    clear = (
        clear_sky_lux_at(utc_min + np.array([-1.0, 0.0, 1.0]), site.latitude_deg, site.longitude_deg) * cell.sky_view
    )
    before, clear_lux, after = (float(lux) for lux in clear)
    if not LEAST_LUX <= clear_lux <= MOST_LUX:
        raise UsageError(
            f"{where}: at {reading.at} a clear sky gives the cell {clear_lux:.3g} lux; wanted a reading between "
            f"{LEAST_LUX:g} and {MOST_LUX:g} lux, as the birds go in"
        )
    read_lux, step_log = _read(cell, reading.counts, where)
    minute_log = abs(math.log10(after / before)) / 2
    sd = math.hypot(minute_log, step_log)
    return ReadingFound(reading.at, reading.counts, clear_lux, read_lux, read_lux / clear_lux, sd)


def _read(cell: LightCell, counts: float, where: str) -> tuple[float, float]:
    """The light that counts stand for by the data sheet [lux], and what half a count makes [log10]."""
    if cell.kind == "lux":
        if counts <= 0:
            raise UsageError(f"{where}: {counts:g} lux; wanted the sensor's lux, above 0")
        return float(counts), 0.0
    top = sums.top_count(cell.adc_steps)
    if not (RAIL_COUNTS <= counts <= top - RAIL_COUNTS and counts == int(counts)):
        wanted = f"whole counts from {RAIL_COUNTS} to {top - RAIL_COUNTS}; nearer to an end they stand for any light"
        raise UsageError(f"{where}: {counts:g} counts; wanted {wanted}")
    part = (cell.r10_ohm, cell.gamma, cell.fixed_ohm, cell.adc_steps)
    lower, here, upper = (float(lux) for lux in sums.divider_lux([counts - 1, counts, counts + 1], *part))
    return here, math.log10(upper / lower) / 4


def _moved(cell: LightCell, factor: float) -> tuple[str, float]:
    """The key that takes the difference, and its value: with it a reading gives what the clear sky gives."""
    if cell.kind == "lux":
        return "sky_view", cell.sky_view * factor
    return "r10_ohm", cell.r10_ohm * factor**-cell.gamma
