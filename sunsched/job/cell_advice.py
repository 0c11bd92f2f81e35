"""What is wrong with the configured light cell, and the one set of values that corrects all of it.

Every warning points at the same set, so that no two of them ask for a greater and a smaller resistor.
"""

from __future__ import annotations

import functools
from collections.abc import Iterator

from sunsched.base.warned import Harm, Warned, by_harm
from sunsched.controller.door_settings import FULL_SUN_LUX, RAIL_ROOM_COUNTS
from sunsched.hardware import light_cell as sums
from sunsched.hardware.advice import Advice, changed
from sunsched.hardware.parts import LightCell

MOONLIGHT_LUX = 0.3  # full Moon, clear: 0.25 lux read
LEAST_HYSTERESIS_COUNTS = 10  # common practice: two or three steps of noise either way, several times over
LEAST_HYSTERESIS_RATIO = 1.5  # common practice
LEAST_SLOPE = 20.0  # counts per e-fold; one step is then 5 % of the light: common practice
CAPACITOR = "a capacitor of 100 nF from the pin to ground, which fills the ADC's 14 pF (common practice)"


THRESHOLDS = ("dark_lux", "light_lux")


def cell_warnings(cell: LightCell) -> tuple[Warned, ...]:
    """Every warning about the configured cell, the most harmful first; what to do is the one advised set."""
    found, advice = _complaints(cell), cell_advice(cell)
    if not found:
        return ()
    cured = (
        f"Set {advice.words()}, together: sunsched cell --write puts it in, and the capacitor is then not needed."
        if any(one.name == "source_impedance" for one in found)
        else f"Set {advice.words()}, together: sunsched cell --write puts it in."
    )
    return by_harm(one._replace(to_do=cured) if one.name in advice.cured else one for one in found)


@functools.lru_cache(maxsize=64)
def cell_advice(cell: LightCell) -> Advice:
    """The set that leaves no complaint, or the fewest: the resistor alone, else the thresholds with it.

    Of the sets that change fewest keys the one with the steepest counts at dark_lux: the finest threshold.
    """
    parts = {"light_cell": cell}
    before = tuple(one.name for one in _complaints(cell))
    if not before:
        return Advice({}, (), ())
    best, least, rank = cell, before, (len(before), 0, 0.0)
    for tried in _tries(cell):
        remains = tuple(one.name for one in _complaints(tried))
        slope = thresholds_of(tried)["dark_lux"].counts_per_efold if tried.kind == "photoresistor" else 0.0
        keys = len(changed(parts, {"light_cell": tried}))
        if set(remains) <= set(before) and (len(remains), keys, -slope) < rank:
            best, least, rank = tried, remains, (len(remains), keys, -slope)
    return Advice(changed(parts, {"light_cell": best}), before, least)


DECADES_OHM = (10, 100, 1_000, 10_000)  # of E12: 100 ohm to 820 kohm
HYSTERESES = (1.5, 2.0, 3.0)  # light_lux over dark_lux; three is the default's


def _tries(cell: LightCell) -> Iterator[LightCell]:
    """Cells with another resistor, other thresholds, or both; the thresholds only ever go up."""
    fixed = [cell.fixed_ohm]
    if cell.kind == "photoresistor":
        fixed += [float(step * decade) for decade in DECADES_OHM for step in sums.E12]
    least_dark = float(f"{1.1 * MOONLIGHT_LUX * cell.sky_view * cell.spread:.2g}")
    darks = [cell.dark_lux, *([least_dark] if least_dark > cell.dark_lux else [])]
    for dark in darks:
        lights = [cell.light_lux, *(float(f"{dark * ratio:.3g}") for ratio in HYSTERESES)]
        for light in lights:
            if light > dark:
                for ohm in fixed:
                    yield cell.model_copy(update={"fixed_ohm": ohm, "dark_lux": dark, "light_lux": light})


def _complaints(cell: LightCell) -> list[Warned]:
    thresholds = thresholds_of(cell)
    found = [*_light_warnings(cell)]
    if thresholds:
        found += [*_divider_warnings(cell, thresholds["dark_lux"], thresholds["light_lux"])]
    return found


def thresholds_of(cell: LightCell) -> dict[str, sums.ThresholdCounts]:
    """Each threshold as counts; empty for a digital sensor, which gives lux."""
    if cell.kind != "photoresistor":
        return {}
    divider = (cell.r10_ohm, cell.gamma, cell.fixed_ohm, cell.adc_steps, cell.spread)
    return {key: sums.threshold_counts(getattr(cell, key), *divider) for key in THRESHOLDS}


def _light_warnings(cell: LightCell) -> list[Warned]:
    found = []
    if cell.dark_lux / cell.spread <= MOONLIGHT_LUX * cell.sky_view:
        text = (
            f"dark_lux {cell.dark_lux:g} may mean {cell.dark_lux / cell.spread:.2g} lux with this spread; a full Moon"
            f" gives the cell {MOONLIGHT_LUX * cell.sky_view:.2g}: a moonlit night may never be dark"
        )
        least = cell.spread * MOONLIGHT_LUX * cell.sky_view
        found.append(Warned("moonlight", Harm.LIGHT, text, f"Set dark_lux above {least:.2g}, or calibrate the cell."))
    if cell.light_lux / cell.dark_lux < LEAST_HYSTERESIS_RATIO:
        text = (
            f"light_lux is {cell.light_lux / cell.dark_lux:.2g} times dark_lux; with less than"
            f" {LEAST_HYSTERESIS_RATIO:g} a passing cloud swings between the two"
        )
        to_do = f"Set light_lux to {LEAST_HYSTERESIS_RATIO:g} times dark_lux or more; three times is usual."
        found.append(Warned("hysteresis", Harm.LIGHT, text, to_do))
    return found


def _divider_warnings(cell: LightCell, dark: sums.ThresholdCounts, light: sums.ThresholdCounts) -> list[Warned]:
    found = []
    if dark.source_ohm > sums.ADC_SOURCE_OHM:
        text = (
            f"the ADC sees {dark.source_ohm / 1000:.0f} kohm at dark_lux; it is made for 10 kohm or less (ATmega328P"
            " datasheet)"
        )
        to_do = f"Fit {CAPACITOR}."
        found.append(Warned("source_impedance", Harm.LIGHT, text, to_do))
    if light.counts - dark.counts < LEAST_HYSTERESIS_COUNTS:
        text = (
            f"dark_lux and light_lux lie {light.counts - dark.counts} counts apart; wanted"
            f" {LEAST_HYSTERESIS_COUNTS} or more, so that noise cannot bridge them"
        )
        to_do = "Set light_lux farther above dark_lux, or use another cell."
        found.append(Warned("hysteresis_counts", Harm.LIGHT, text, to_do))
    if dark.counts_per_efold < LEAST_SLOPE:
        text = (
            f"at dark_lux the counts change by only {dark.counts_per_efold:.0f} when the light changes by a factor 2.7"
        )
        to_do = "Use a cell of another resistance at 10 lux: no resistor tried cures this one."
        found.append(Warned("coarse", Harm.LIGHT, text, to_do))
    return found + _rail_warnings(cell, light)


def _rail_warnings(cell: LightCell, light: sums.ThresholdCounts) -> list[Warned]:
    part = (cell.r10_ohm, cell.gamma, cell.fixed_ohm, cell.adc_steps)
    rail = sums.top_count(cell.adc_steps) - RAIL_ROOM_COUNTS
    noon = int(sums.divider_counts(FULL_SUN_LUX, *part))
    if light.counts_high >= rail:
        text = f"light_lux reads {light.counts_high} counts with this spread, at the top of the ADC ({rail} and more)"
        return [Warned("rail_threshold", Harm.LIGHT, text, "Shade the cell with a diffuser, or set light_lux lower.")]
    if noon >= rail:
        text = (
            f"in full sun the cell reads {noon} counts, at the top of the ADC ({rail} and more): the door's"
            " program then cannot tell a shorted cell from sunshine"
        )
        to_do = "Put shade and a diffuser over the cell: no resistor tried cures this one."
        return [Warned("rail", Harm.LIGHT, text, to_do)]
    return []
