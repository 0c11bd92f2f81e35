"""What a cell in its place reads against the clear-sky model: an offset from the log's own clear evenings.

An evening is taken for clear when its light follows the model smoothly through twilight and lies with the brightest
of such evenings: an overcast evening can be as smooth, but not as bright. If the log holds no clear evening at all,
nothing in it can tell.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sunsched.study.log_light import LoggedHalfDays
from sunsched.study.weather import Floats

SMOOTH_LOG = 0.05  # rms about a straight line, log against log: a passing cloud leaves more (simulated)
NEAR_BRIGHTEST_LOG = 0.20  # evenings this close to the brightest smooth ones count as clear
BRIGHTEST_QUANTILE = 0.8
MODEL_LOG = 0.03  # two published clear-sky fits differ by so much in twilight
LEAST_EVENINGS = 3
LEAST_MINUTES = 12
BELOW_DARK, ABOVE_LIGHT = 3.0, 8.0  # the light around the thresholds that is compared, as factors
ALTITUDE_RANGE_DEG = (-9.0, 6.0)  # twilight: higher up the Sun's own beam depends on how the cell faces


@dataclass(frozen=True)
class Calibration:
    """By how much the cell reads more than the clear sky gives it [log10 lux], at each threshold.

    dark_log, light_log   offset at dark_lux and light_lux
    se_log                what it may be wrong by (one standard error): of the middle, of the clear-sky model, and the
      spread of the evenings once more, for thin cloud is not told from a clear sky. Of simulated weather that never
      clears, a month gave 0.05 to 0.3 too low, a year 0 to 0.13.
    sd_log                how clear evenings differ from one another
    evenings              rows that were taken for clear
    """

    dark_log: float
    light_log: float
    sd_log: float
    se_log: float
    evenings: tuple[int, ...]


@dataclass(frozen=True)
class EveningFit:
    """One evening, or morning, compared with the model: offset at both thresholds and what is left of it [log10].

    slope_log_min   how fast the model's light changes in the minutes compared, upwards or downwards [log10 a minute]
    """

    row: int
    dark_log: float
    light_log: float
    rms_log: float
    slope_log_min: float = 0.07


def evening_fits(
    logged: LoggedHalfDays, dark_lux: float, light_lux: float, sky_view: float, least_lux: float, most_lux: float
) -> list[EveningFit]:
    """Each evening's offset from the clear-sky model, where the log covers twilight.

    least_lux, most_lux   what the cell can tell apart: readings outside are left out [lux]
    """
    half = logged.half
    model = _model_log(logged, sky_view)
    light = logged.lux_log.astype(np.float64)
    low, high = np.log10(dark_lux / BELOW_DARK), np.log10(light_lux * ABOVE_LIGHT)
    twilight = (half.altitude_deg >= ALTITUDE_RANGE_DEG[0]) & (half.altitude_deg <= ALTITUDE_RANGE_DEG[1])
    wanted = twilight & (model >= low) & (model <= high)
    told = logged.known & (light > np.log10(least_lux)) & (light < np.log10(most_lux))
    fits = []
    for row in range(half.n_days):
        inside = wanted[:, row] & told[:, row]
        if inside.sum() < max(LEAST_MINUTES, 0.7 * wanted[:, row].sum()):
            continue
        slope = float(np.abs(np.gradient(model[:, row])[inside]).mean())
        fits.append(_fit(row, model[inside, row], light[inside, row] - model[inside, row], dark_lux, light_lux, slope))
    return fits


def _model_log(logged: LoggedHalfDays, sky_view: float) -> Floats:
    """The clear sky at the cell [log10 lux] at the moments of the rows: half a minute is 7 % of dusk's light."""
    middle = logged.half.clear_log.astype(np.float64)
    slope = np.gradient(middle, axis=0)
    return np.asarray(middle + (logged.past_minute - 0.5) * slope + np.log10(sky_view))


def _fit(
    row: int, model: Floats, offset: Floats, dark_lux: float, light_lux: float, slope_log_min: float
) -> EveningFit:
    slope, level = np.polyfit(model - model.mean(), offset, 1)
    rms = float(np.sqrt(np.mean((offset - level - slope * (model - model.mean())) ** 2)))
    at = np.log10([dark_lux, light_lux]) - model.mean()
    dark, light = level + slope * at
    return EveningFit(row, float(dark), float(light), rms, slope_log_min)


def calibration(fits: list[EveningFit]) -> Calibration | None:
    """The offset of the clear evenings among `fits`; None with fewer than three of them."""
    smooth = [fit for fit in fits if fit.rms_log <= SMOOTH_LOG]
    if len(smooth) < LEAST_EVENINGS:
        return None
    brightest = float(np.quantile([fit.dark_log for fit in smooth], BRIGHTEST_QUANTILE))
    clear = [fit for fit in smooth if abs(fit.dark_log - brightest) <= NEAR_BRIGHTEST_LOG]
    if len(clear) < LEAST_EVENINGS:
        return None
    dark = np.array([fit.dark_log for fit in clear])
    light = np.array([fit.light_log for fit in clear])
    spread = float(dark.std(ddof=1))
    # the median's standard error is 1.25 times the mean's
    error = float(np.linalg.norm([1.2533 * spread / np.sqrt(len(clear)), MODEL_LOG, spread]))
    rows = tuple(fit.row for fit in clear)
    return Calibration(float(np.median(dark)), float(np.median(light)), spread, error, rows)


def rough_offset_log(logged: LoggedHalfDays, dark_lux: float, light_lux: float, sky_view: float) -> float | None:
    """How far the brightest fifth of evenings lie from the clear-sky model in twilight [log10]; None without light.

    No reading is left out: far from 0 it shows a wrong clock, unit, column or resistor, not of weather.
    """
    model = _model_log(logged, sky_view)
    near = (model >= np.log10(dark_lux / BELOW_DARK)) & (model <= np.log10(light_lux * ABOVE_LIGHT)) & logged.known
    offset = np.where(near, logged.lux_log - model, np.nan)[:, near.any(axis=0)]
    return float(np.quantile(np.nanmedian(offset, axis=0), BRIGHTEST_QUANTILE)) if offset.shape[1] else None


# The sky over the cell differs from west to east, so evenings and mornings need not read alike: assumed, as [model]
# cell_sky_log10. A log whose clock nothing checks may be a few minutes off: assumed.
SIDES_LOG, UNCHECKED_MIN = 0.15, 3.0


@dataclass(frozen=True)
class Parted:
    """The cell's offset and the clock's, separated where both twilights of the log are clear often enough.

    dark_log, light_log, se_log   as in Calibration, the clock's error taken out, or in its error
    clock_fast_min, clock_se_min  how far the log's clock is ahead of the Sun's, None where evenings alone cannot tell
    slope_log_min   what one minute of the clock counts as, in light [log10]
    """

    dark_log: float
    light_log: float
    se_log: float
    clock_fast_min: float | None
    clock_se_min: float | None
    slope_log_min: float


def parted(evenings: Calibration, mornings: Calibration | None, slope_log_min: float) -> Parted:
    """Part cell and clock: a cell that reads too much does so at dusk and dawn, a fast clock shifts the two apart.

    A clock that is fast by a minute makes dusk look brighter than the model by the slope, and dawn darker by it.
    """
    if mornings is None:
        error = float(np.hypot(evenings.se_log, UNCHECKED_MIN * slope_log_min))
        return Parted(evenings.dark_log, evenings.light_log, error, None, None, slope_log_min)
    both = float(np.hypot(evenings.se_log, mornings.se_log)) / 2
    error = float(np.hypot(both, SIDES_LOG / np.sqrt(2.0)))
    clock = (evenings.dark_log - mornings.dark_log) / 2 / slope_log_min
    middle = (evenings.dark_log + mornings.dark_log) / 2, (evenings.light_log + mornings.light_log) / 2
    return Parted(*middle, error, clock, error / slope_log_min, slope_log_min)
