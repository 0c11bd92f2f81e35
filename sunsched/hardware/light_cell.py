"""Light to ADC counts and back, for a photoresistor divider or a digital light sensor.

The photoresistor lies between the supply and the ADC pin, the fixed resistor between the pin and ground,
so that more light gives more counts. The ADC measures against the same supply: its voltage cancels out.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sunsched.base.errors import RangeError
from sunsched.base.rounding import rounded, to_41_bits

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

REFERENCE_LUX = 10.0  # makers of photoresistors state the resistance at 10 lux
ADC_SOURCE_OHM = 10_000.0  # ATmega328P datasheet, "Analog input circuitry": made for about 10 kohm or less
ADC_SAMPLE_FARAD = 14e-12  # the same: the capacitor that must be charged at each conversion
SPREAD_SIGMAS = 2.0  # a stated tolerance is taken as two standard deviations: common practice
E12 = (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)  # IEC 60063, preferred values


def _positive(name: str, value: float) -> float:
    if not (np.isfinite(value) and value > 0):
        raise RangeError(f"{name} is {value!r}; wanted a number above 0")
    return float(value)


def resistance_ohm(illuminance_lux: ArrayLike, r10_ohm: float, gamma: float) -> FloatArray:
    """Resistance of a photoresistor [ohm] at `illuminance_lux` [lux, any shape]; infinite in the dark.

    r10_ohm  resistance at 10 lux [ohm]
    gamma    slope of log R against log E, as makers give it between 100 and 10 lux [no unit]
    R = R10 (E / 10 lux)^-gamma, the makers' own definition of gamma; raises RangeError for negative light.
    """
    lux = np.asarray(illuminance_lux, dtype=np.float64)
    if np.any(lux < 0):
        raise RangeError("illuminance_lux is negative; wanted 0 or more")
    r10, slope = _positive("r10_ohm", r10_ohm), _positive("gamma", gamma)
    with np.errstate(divide="ignore"):
        return to_41_bits(r10 * (lux / REFERENCE_LUX) ** -slope)


def top_count(adc_steps: int) -> int:
    """Highest count of an ADC with `adc_steps`: 1023 for 1024, and for the 1023 some datasheets print."""
    if adc_steps < 2:
        raise RangeError(f"adc_steps is {adc_steps!r}; wanted 2 or more")
    return int((1 << (int(adc_steps) - 1).bit_length()) - 1)


def divider_share(illuminance_lux: ArrayLike, r10_ohm: float, gamma: float, fixed_ohm: float) -> FloatArray:
    """Share of the supply voltage at the ADC pin, 0 to 1, shape of `illuminance_lux` [lux]: Rf / (Rf + R)."""
    fixed = _positive("fixed_ohm", fixed_ohm)
    return np.asarray(fixed / (fixed + resistance_ohm(illuminance_lux, r10_ohm, gamma)), dtype=np.float64)


def divider_counts(
    illuminance_lux: ArrayLike, r10_ohm: float, gamma: float, fixed_ohm: float, adc_steps: int = 1024
) -> IntArray:
    """ADC counts at `illuminance_lux` [lux, any shape]: floor(steps Rf / (Rf + R)), at most the top count."""
    share = divider_share(illuminance_lux, r10_ohm, gamma, fixed_ohm)
    return np.minimum(np.floor(adc_steps * share), top_count(adc_steps)).astype(np.int64)


def divider_lux(counts: ArrayLike, r10_ohm: float, gamma: float, fixed_ohm: float, adc_steps: int = 1024) -> FloatArray:
    """Illuminance [lux] in the middle of the step that reads `counts` (any shape, 0 to the top count).

    0 counts give the light at half a count; the top count, which stands for anything brighter as well, the
    light at half a count below the supply. Raises RangeError for counts that the ADC cannot give.
    """
    number = np.asarray(counts, dtype=np.float64)
    top = top_count(adc_steps)
    if np.any((number < 0) | (number > top)) or np.any(~np.isfinite(number)):
        raise RangeError(f"counts outside 0..{top}")
    share = np.minimum((number + 0.5) / adc_steps, (adc_steps - 0.5) / adc_steps)
    cell_ohm = _positive("fixed_ohm", fixed_ohm) * (1.0 - share) / share
    return to_41_bits(REFERENCE_LUX * (cell_ohm / _positive("r10_ohm", r10_ohm)) ** (-1.0 / _positive("gamma", gamma)))


def counts_per_efold(
    illuminance_lux: ArrayLike, r10_ohm: float, gamma: float, fixed_ohm: float, adc_steps: int = 1024
) -> FloatArray:
    """Counts gained when the light grows by a factor e: steps gamma x (1 - x), x the divider's share."""
    share = divider_share(illuminance_lux, r10_ohm, gamma, fixed_ohm)
    return np.asarray(adc_steps * gamma * share * (1.0 - share), dtype=np.float64)


def best_fixed_ohm(illuminance_lux: float, r10_ohm: float, gamma: float) -> float:
    """Fixed resistor [ohm] with the steepest counts at `illuminance_lux`: the cell's own resistance there.

    steps gamma x (1 - x) is largest at x = 1/2.
    """
    return float(resistance_ohm(_positive("illuminance_lux", illuminance_lux), r10_ohm, gamma))


def preferred_ohm(ohm: float, at_most: float | None = None) -> int:
    """Nearest E12 value (by ratio) to `ohm` [ohm]; with `at_most` [ohm], the nearest not above that."""
    _positive("ohm", ohm)
    decade = 10.0 ** math.floor(math.log10(ohm) - 1)
    choices = [float(step * decade * scale) for scale in (0.1, 1.0, 10.0) for step in E12]
    if at_most is not None:
        choices = [value for value in choices if value <= at_most] or [min(choices)]
    nearest = min(choices, key=lambda value: abs(math.log(value / ohm)))
    return round(nearest)


def source_ohm(illuminance_lux: ArrayLike, r10_ohm: float, gamma: float, fixed_ohm: float) -> FloatArray:
    """Resistance that the ADC sees [ohm] at `illuminance_lux` [lux]: fixed resistor and cell in parallel."""
    fixed = _positive("fixed_ohm", fixed_ohm)
    return np.asarray(fixed * (1.0 - divider_share(illuminance_lux, r10_ohm, gamma, fixed)), dtype=np.float64)


def greatest_fixed_ohm(illuminance_lux: float, r10_ohm: float, gamma: float) -> float:
    """Greatest fixed resistor [ohm] that keeps the source at `ADC_SOURCE_OHM`; infinite if the cell does."""
    cell_ohm = float(resistance_ohm(illuminance_lux, r10_ohm, gamma))
    if cell_ohm <= ADC_SOURCE_OHM:
        return float("inf")
    return ADC_SOURCE_OHM / (1.0 - ADC_SOURCE_OHM / cell_ohm)


def spread_of_tolerance(r10_low_ohm: float, r10_high_ohm: float, gamma: float) -> float:
    """Factor in lux, either way, by which a threshold in counts moves over a maker's range of R10 [ohm].

    The range's geometric middle is taken as the stated cell: (high / low)^(1 / (2 gamma)).
    """
    ratio = _positive("r10_high_ohm", r10_high_ohm) / _positive("r10_low_ohm", r10_low_ohm)
    if ratio < 1:
        raise RangeError("r10_low_ohm is above r10_high_ohm")
    return rounded(ratio ** (1.0 / (2.0 * _positive("gamma", gamma))))


def spread_sd_log10(spread: float) -> float:
    """Standard deviation of log10(lux) of a tolerance `spread` (a factor either way): half its log10."""
    if not spread >= 1:
        raise RangeError(f"spread is {spread!r}; wanted 1 or more")
    return float(np.log10(spread) / SPREAD_SIGMAS)


@dataclass(frozen=True)
class ThresholdCounts:
    """A threshold in lux as ADC counts, for the stated cell and for one at either end of its tolerance."""

    illuminance_lux: float
    counts: int
    counts_low: int  # what a cell that sees `spread` times less reads in the same light
    counts_high: int
    lux_low: float  # the light at which `counts` is met by a cell that sees `spread` times more
    lux_high: float
    counts_per_efold: float
    source_ohm: float


def threshold_counts(
    illuminance_lux: float, r10_ohm: float, gamma: float, fixed_ohm: float, adc_steps: int, spread: float
) -> ThresholdCounts:
    """Counts of a threshold [lux] and what a tolerance of a factor `spread` (1 or more) in lux does to it."""
    spread_sd_log10(spread)
    lux = (float(illuminance_lux), illuminance_lux / spread, illuminance_lux * spread)
    fixed, top = _positive("fixed_ohm", fixed_ohm), top_count(adc_steps)
    # `divider_counts`, `counts_per_efold` and `source_ohm` on plain numbers: hundreds of resistors are tried.
    shares = [fixed / (fixed + ohm) for ohm in _cell_ohms(lux, r10_ohm, gamma)]
    counts, low, high = (min(math.floor(adc_steps * share), top) for share in shares)
    return ThresholdCounts(
        illuminance_lux=lux[0],
        counts=counts,
        counts_low=low,
        counts_high=high,
        lux_low=lux[1],
        lux_high=lux[2],
        counts_per_efold=adc_steps * gamma * shares[0] * (1.0 - shares[0]),
        source_ohm=fixed * (1.0 - shares[0]),
    )


@functools.lru_cache(256)
def _cell_ohms(illuminance_lux: tuple[float, ...], r10_ohm: float, gamma: float) -> tuple[float, ...]:
    """The cell's resistances [ohm], the same whatever resistor stands beside it."""
    return tuple(resistance_ohm(illuminance_lux, r10_ohm, gamma).tolist())


@dataclass(frozen=True)
class DigitalSensor:
    """A maker's data of a digital light sensor; `how_read` marks a value as read or as recalled."""

    part: str
    counts_per_lux: float
    counts_per_lux_low: float | None
    counts_per_lux_high: float | None
    top_count: int
    source: str
    how_read: str

    def counts(self, illuminance_lux: ArrayLike) -> IntArray:
        """Counts at `illuminance_lux` [lux, any shape], rounded down, at most the sensor's top count."""
        lux = np.asarray(illuminance_lux, dtype=np.float64)
        if np.any(lux < 0):
            raise RangeError("illuminance_lux is negative; wanted 0 or more")
        # the small term makes 5 lux at 1.2 counts a lux 6, where binary fractions give 5.999
        return np.minimum(np.floor(lux * self.counts_per_lux * (1 + 1e-12)), self.top_count).astype(np.int64)

    def lux(self, counts: ArrayLike) -> FloatArray:
        """Illuminance [lux] for `counts` (any shape), as the maker converts: counts over counts per lux."""
        return np.asarray(np.asarray(counts, dtype=np.float64) / self.counts_per_lux, dtype=np.float64)

    @property
    def full_scale_lux(self) -> float:
        """Light at which the sensor is full [lux]."""
        return self.top_count / self.counts_per_lux


_ROHM = "ROHM BH1750FVI technical note 2009.04 Rev.B"
DIGITAL_SENSORS: tuple[DigitalSensor, ...] = (
    DigitalSensor("BH1750FVI, 1 lx mode", 1.2, 0.96, 1.44, 65535, _ROHM, "read; stated at 1000 lx, dark 0 to 3 counts"),
    DigitalSensor("BH1750FVI, 0.5 lx mode", 2.4, 1.92, 2.88, 65535, _ROHM, "full scale read, step from memory"),
    DigitalSensor(
        "VEML7700, gain 2, 800 ms",
        1 / 0.0042,
        None,
        None,
        65535,
        "Vishay datasheet",
        "read at second hand (0.0042 lx a count); an older edition has 0.0036, from memory",
    ),
)


def sensor_row(sensor: DigitalSensor, thresholds_lux: ArrayLike) -> dict[str, Any]:
    """One sensor as plain values: counts at each threshold [lux], their range by the tolerance."""
    lux = np.asarray(thresholds_lux, dtype=np.float64)
    low, high = sensor.counts_per_lux_low, sensor.counts_per_lux_high
    return {
        "part": sensor.part,
        "counts": [int(value) for value in sensor.counts(lux)],
        "counts_low": None if low is None else [int(value) for value in np.floor(lux * low)],
        "counts_high": None if high is None else [int(value) for value in np.ceil(lux * high)],
        "step_lux": 1.0 / sensor.counts_per_lux,
        "full_scale_lux": sensor.full_scale_lux,
        "source": sensor.source,
        "how_read": sensor.how_read,
    }
