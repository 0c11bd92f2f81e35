"""The battery's inputs with their ranges, what they take a day, and whole years of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sunsched.hardware import battery as charge
from sunsched.hardware.figures import Assumption, Range, spans_of
from sunsched.hardware.parts import Battery
from sunsched.hardware.solar_input import CLEARNESS_MOST, PanelYear, panel_kwh
from sunsched.hardware.spread import Inputs, Number, Span, exactly

Array = NDArray[np.float64]

EXACT = (1.0, 1.0)
# Factors on the value: as the keeper measured it, and where the default stands in. Common practice where not said.
RANGES: dict[str, Range] = {
    # A battery is called worn out at 80 % of its capacity.
    "battery.capacity_ah": Range((0.8, 1.0), (0.5, 1.5)),
    "battery.usable_share": Range(EXACT, (0.8, 1.2), "half: handbook practice, from memory"),
    "battery.sleep_ma": Range((0.9, 1.1), (0.3, 2.5), "default: measure it with the door at rest"),
    "battery.awake_ma": Range((0.9, 1.1), (0.5, 2.0)),
    "battery.awake_min_per_day": Range((0.7, 1.5), (0.3, 3.0), "common practice"),
    "battery.sensor_ma": Range((0.7, 1.3), (0.5, 4.0), "5 V across divider and cell"),
    "battery.driver_ma": Range((0.8, 1.2), (0.1, 10.0), "common driver boards: from memory, look it up"),
    "battery.controller_ma": Range((0.8, 1.2), (0.4, 3.0), "small charge controllers: from memory, look it up"),
    # Gel 2 %, AGM 3 %, starter 6 % a month at 20 C: Victron Energy, Energy Unlimited, sec. 2.5.10.
    "battery.self_discharge_share_month": Range((0.7, 1.5), (0.67, 2.0), "sealed AGM at 20 C: Victron, read"),
    "battery.panel_w": Range((0.9, 1.0), (0.5, 2.0)),
    "battery.panel_yield": Range((0.9, 1.1), (0.7, 1.15), "dirt, heat, charging: common practice"),
    "battery.ground_reflectance": Range((0.7, 1.3), (0.5, 2.0), "grass 0.2, snow more: common practice"),
}
MOST = {"battery.panel_yield": 1.0, "battery.usable_share": 1.0, "battery.ground_reflectance": 1.0}
COLD_GIVEN_C, COLD_ASSUMED_C = 3.0, 10.0
COLD_CURVE = Span(1.0, 0.9, 1.05)  # factor on the share left by the cold, which is from memory
CLEARNESS_GIVEN = Span(1.0, 0.95, 1.05)  # from year to year a month's mean is drawn; this is the climate's error
CLEARNESS_ASSUMED = Span(1.0, 0.85, 1.15)
# Of the daily split and tilt against the hourly data of two stations: tests/hardware/test_battery_sun.py.
SKY_MODEL = Span(1.0, 0.9, 1.2)


def battery_spans(
    battery: Battery, moves_ah_per_day: Span, climate_given: bool
) -> tuple[dict[str, Span], tuple[Assumption, ...]]:
    """The battery's inputs with their ranges, and the inputs that were assumed or rest on memory."""
    spans, assumed = spans_of({"battery": battery}, RANGES, MOST)
    cold_given = "coldest_c" in battery.model_fields_set
    reach_c = COLD_GIVEN_C if cold_given else COLD_ASSUMED_C
    spans["battery.coldest_c"] = Span(battery.coldest_c, battery.coldest_c - reach_c, battery.coldest_c + reach_c)
    spans["cold_curve"] = COLD_CURVE
    spans["clearness"] = CLEARNESS_GIVEN if climate_given else CLEARNESS_ASSUMED
    spans["sky_model"] = SKY_MODEL
    spans["moves_ah_per_day"] = moves_ah_per_day
    spans["battery.volts"] = exactly(battery.volts)
    extra = [
        Assumption("cold_curve", COLD_CURVE, "85 % at 0 C, 60 % at -20 C: typical datasheet, from memory"),
        Assumption("sky_model", SKY_MODEL, "daily split and tilt held to two stations' hourly data"),
    ]
    if not cold_given:
        why = "default: measure in the battery's box on a frosty morning"
        extra.append(Assumption("battery.coldest_c", spans["battery.coldest_c"], why))
    if not climate_given:
        why = "monthly clearness of a web table, not verified: give --climate"
        extra.append(Assumption("clearness", spans["clearness"], why))
    return spans, (*assumed, *extra)


def used_ah_per_day(x: Inputs) -> dict[str, Number]:
    """Charge used each day [Ah] by each user but self-discharge, which follows the charge held."""
    return {
        "moves_ah": x["moves_ah_per_day"],
        "board_ah": charge.board_ah_per_day(
            x["battery.sleep_ma"], x["battery.awake_ma"], x["battery.awake_min_per_day"]
        ),
        "sensor_ah": charge.standing_ah_per_day(x["battery.sensor_ma"]),
        "driver_ah": charge.standing_ah_per_day(x["battery.driver_ma"]),
        "controller_ah": charge.standing_ah_per_day(x["battery.controller_ma"]),
    }


def cold_of(x: Inputs, warmer_c: Number = 0.0) -> Number:
    """Share of the capacity left by the cold; `warmer_c` [deg C] above the coldest weeks, each day."""
    return np.minimum(1.0, charge.cold_share(x["battery.coldest_c"] + warmer_c) * x["cold_curve"])


def battery_results(x: Inputs) -> dict[str, Number]:
    """Every figure of the battery that needs no weather, from plain inputs; floats or arrays."""
    used = used_ah_per_day(x)
    leak = charge.self_discharge_share_per_day(x["battery.self_discharge_share_month"]) * x["battery.capacity_ah"]
    total = sum(used.values()) + leak
    cold = cold_of(x)
    usable = charge.usable_ah(x["battery.capacity_ah"], x["battery.usable_share"], cold)
    return {
        **used,
        "self_discharge_ah": leak,
        "used_ah": total,
        "cold_share": cold,
        "usable_ah": usable,
        "autonomy_days": charge.autonomy_days(usable, total),
        "flat_after_days": charge.autonomy_days(x["battery.capacity_ah"] * cold, total),
    }


def irradiation_kwh(x: Inputs, place: PanelYear, clearness: Array) -> Array:
    """Irradiation of the panel [kWh/m2/day] for clearness (n_years, n_days), times climate's and model's errors."""
    dulled = np.minimum(CLEARNESS_MOST, clearness * x["clearness"])
    return np.asarray(panel_kwh(place, dulled, x["battery.ground_reflectance"]) * x["sky_model"])


def panel_ah_of(x: Inputs, place: PanelYear, clearness: Array) -> Array:
    """Charge offered by the panel [Ah]; inputs (n_years, 1) or single numbers."""
    sun_kwh = irradiation_kwh(x, place, clearness)
    offered = charge.panel_ah(x["battery.panel_w"], sun_kwh, x["battery.panel_yield"], x["battery.volts"])
    return np.asarray(offered)


@dataclass(frozen=True)
class Winters:
    """Many years of one set of inputs: each day's charge and what each year came to."""

    years: charge.ChargeYear
    outcome: charge.Winter

    @property
    def n_years(self) -> int:
        """Years followed."""
        return int(self.outcome.flat_days.size)

    @property
    def n_over_limit(self) -> int:
        """Winters that passed the depth limit."""
        return int(np.count_nonzero(self.outcome.over_limit_days))

    @property
    def n_flat(self) -> int:
        """Winters in which the door stopped."""
        return int(np.count_nonzero(self.outcome.flat_days))


def winters_of(x: Inputs, place: PanelYear, clearness: Array, warmer_c: Array, start_row: int) -> Winters:
    """Follow `clearness` (n_years, n_days) with inputs that are single numbers or one for each year.

    warmer_c   above the coldest weeks, each day [deg C], shape (n_days,)
    start_row  the day on which the battery is full: midsummer, so that a run holds one whole winter
    """
    columns = {name: np.atleast_1d(np.asarray(value, dtype=np.float64))[:, None] for name, value in x.items()}
    capacity = columns["battery.capacity_ah"]
    used = sum(used_ah_per_day(columns).values())
    leak = charge.self_discharge_share_per_day(columns["battery.self_discharge_share_month"])
    years = charge.charge_year(panel_ah_of(columns, place, clearness), used, capacity, leak, start_row)
    outcome = charge.winter(
        years, capacity, columns["battery.usable_share"], cold_of(columns, warmer_c[None, :]), start_row
    )
    return Winters(years, outcome)
