"""What is wrong with a light cell as configured, in plain words, with what would mend it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sunsched.controller.door_settings import FULL_SUN_LUX, RAIL_ROOM_COUNTS
from sunsched.hardware import light_cell as sums
from sunsched.hardware.parts import LightCell

MOONLIGHT_LUX = 0.3  # full Moon, clear: 0.25 lux read
LEAST_HYSTERESIS_COUNTS = 10  # common practice: two or three steps of noise either way, several times over
LEAST_HYSTERESIS_RATIO = 1.5  # common practice
LEAST_SLOPE = 20.0  # counts per e-fold; one step is then 5 % of the light: common practice
CAPACITOR = "or a capacitor of 100 nF from the pin to ground, which fills the ADC's 14 pF (common practice)"


@dataclass(frozen=True)
class Warned:
    """A warning: a short name for programs, and the text."""

    name: str
    text: str


def cell_warnings(cell: LightCell, thresholds: Mapping[str, sums.ThresholdCounts]) -> tuple[Warned, ...]:
    """Everything that may go wrong with the configured cell; empty when nothing is seen."""
    found = [*_light_warnings(cell)]
    if thresholds:
        found += [*_divider_warnings(cell, thresholds["dark_lux"], thresholds["light_lux"])]
    return tuple(found)


def _light_warnings(cell: LightCell) -> list[Warned]:
    found = []
    if cell.dark_lux / cell.spread <= MOONLIGHT_LUX * cell.sky_view:
        text = (
            f"dark_lux {cell.dark_lux:g} may mean {cell.dark_lux / cell.spread:.2g} lux with this spread; a full Moon"
            f" gives the cell {MOONLIGHT_LUX * cell.sky_view:.2g}: a moonlit night may never be dark"
        )
        found.append(Warned("moonlight", text))
    if cell.light_lux / cell.dark_lux < LEAST_HYSTERESIS_RATIO:
        text = (
            f"light_lux is {cell.light_lux / cell.dark_lux:.2g} times dark_lux; with less than"
            f" {LEAST_HYSTERESIS_RATIO:g} a passing cloud swings between the two"
        )
        found.append(Warned("hysteresis", text))
    return found


def _divider_warnings(cell: LightCell, dark: sums.ThresholdCounts, light: sums.ThresholdCounts) -> list[Warned]:
    found = []
    if dark.source_ohm > sums.ADC_SOURCE_OHM:
        bound = sums.greatest_fixed_ohm(cell.dark_lux, cell.r10_ohm, cell.gamma)
        text = (
            f"the ADC sees {dark.source_ohm / 1000:.0f} kohm at dark_lux; it is made for 10 kohm or less (ATmega328P"
            f" datasheet): fixed_ohm at most {sums.preferred_ohm(bound, bound)}, {CAPACITOR}"
        )
        found.append(Warned("source_impedance", text))
    if light.counts - dark.counts < LEAST_HYSTERESIS_COUNTS:
        text = (
            f"dark_lux and light_lux lie {light.counts - dark.counts} counts apart; wanted"
            f" {LEAST_HYSTERESIS_COUNTS} or more, so that noise cannot bridge them"
        )
        found.append(Warned("hysteresis_counts", text))
    if dark.counts_per_efold < LEAST_SLOPE:
        text = (
            f"at dark_lux the counts change by only {dark.counts_per_efold:.0f} when the light changes by a factor"
            f" 2.7; a fixed resistor nearer {sums.best_fixed_ohm(cell.dark_lux, cell.r10_ohm, cell.gamma):.0f} ohm"
            " is steeper"
        )
        found.append(Warned("coarse", text))
    return found + _rail_warnings(cell, light)


def _rail_warnings(cell: LightCell, light: sums.ThresholdCounts) -> list[Warned]:
    part = (cell.r10_ohm, cell.gamma, cell.fixed_ohm, cell.adc_steps)
    rail = sums.top_count(cell.adc_steps) - RAIL_ROOM_COUNTS
    noon = int(sums.divider_counts(FULL_SUN_LUX, *part))
    if light.counts_high >= rail:
        text = f"light_lux reads {light.counts_high} counts with this spread, at the top of the ADC ({rail} and more)"
        return [Warned("rail_threshold", text)]
    if noon >= rail:
        text = (
            f"in full sun the cell reads {noon} counts, at the top of the ADC ({rail} and more): the door's"
            " program then cannot tell a shorted cell from sunshine. A smaller fixed resistor, or shade and a"
            " diffuser over the cell"
        )
        return [Warned("rail", text)]
    return []
