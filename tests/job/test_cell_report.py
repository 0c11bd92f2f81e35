"""The light cell's report over a year of planned moments."""

from __future__ import annotations

from typing import Any

import pytest

from sunsched.config.configuration import Configuration
from sunsched.hardware.parts import LightCell
from sunsched.job.cell import cell_of
from sunsched.report.text.cell import cell_text
from tests.support.known import known


def configuration(
    latitude_deg: float = 52.0, limits: dict[str, list[str]] | None = None, **cell: float | float | str | str
) -> Configuration:
    site = {"name": "Pale gate", "latitude_deg": latitude_deg, "longitude_deg": 0.0, "zone": "Europe/London"}
    rules = {"morning": limits or {}, "evening": {"depression_deg": 4.5, **(limits or {})}}
    return Configuration.model_validate({"site": site, **rules, "light_cell": cell})


# ln(10) x minutes per e-fold at 52 N, light down tenfold: 16 min early at the equinox, 20 in December, 24 in June
# [physics; one rate held for the whole decade]. The crossings themselves, 17.9 lux (the clear sky at -4.5 degrees) to
# ten times that, lie up to 2 min closer: the rate is not the same along them.
@pytest.mark.parametrize(("month", "minutes"), [("03", 16), ("12", 20), ("06", 24)])
def test_a_tenfold_dull_evening_at_52_north(month: str, minutes: int) -> None:
    report = cell_of(configuration(dark_lux=17.9, light_lux=50.0, sky_view=1.0), 2027)
    found = next(m for m in report.months if m.date == f"2027-{month}-15" and m.side == "evening")
    assert found.dull_shift_min == pytest.approx(minutes, abs=2.0)


def test_counts_of_a_moment_by_hand() -> None:
    # Seidelmann's cubic at -4.5 degrees of refracted altitude: x = -0.05, log10 E = 2.88 - 1.0905 - 0.6453 + 0.1073
    # = 1.2515, E = 17.85 lux; a tenth of it for a dull sky (USNO Circular 171, dark stratus)
    report = cell_of(configuration(sky_view=1.0), 2027)
    found = next(m for m in report.months if m.date == "2027-03-15" and m.side == "evening")
    assert found.altitude_deg == pytest.approx(-4.45, abs=0.15)
    assert found.clear_lux == pytest.approx(17.85, rel=0.2)
    assert found.dull_lux == pytest.approx(known(found.clear_lux) / 10)
    assert known(found.clear_counts) > known(found.dull_counts) > 0


def test_a_year_with_white_nights_has_months_without_the_crossing() -> None:
    report = cell_of(configuration(latitude_deg=66.0, limits={"no_twilight": ["shut"]}), 2027)
    june = [m for m in report.months if m.date == "2027-06-15"]
    assert [m.dull_shift_min for m in june] == [None, None]
    assert "never" in cell_text(report, every=True)


@pytest.mark.parametrize(
    ("cell", "names"),
    [
        ({"fixed_ohm": 10_000.0}, []),
        ({"fixed_ohm": 100_000.0}, ["source_impedance", "rail"]),
        ({"fixed_ohm": 10_000.0, "light_lux": 5.5}, ["hysteresis", "hysteresis_counts"]),
        ({"fixed_ohm": 10_000.0, "dark_lux": 0.2}, ["moonlight", "coarse"]),
        ({"fixed_ohm": 10_000.0, "r10_ohm": 2_000.0}, ["rail"]),
        ({"fixed_ohm": 1_000_000.0, "r10_ohm": 2_000.0}, ["coarse", "rail_threshold", "hysteresis_counts"]),
        ({"kind": "lux"}, []),
        ({"kind": "lux", "dark_lux": 0.1}, ["moonlight"]),
    ],
)
def test_what_is_warned_of(cell: dict[str, Any], names: list[str]) -> None:
    report = cell_of(configuration(**cell), 2027)
    assert sorted(warned.name for warned in report.warnings) == sorted(names)


def test_a_digital_sensor_has_no_divider() -> None:
    report = cell_of(configuration(kind="lux"), 2027)
    assert report.thresholds == {} and report.resistors == ()
    assert all(m.clear_counts is None for m in report.months)
    assert "FIXED RESISTOR" not in cell_text(report, every=True)


def test_the_configured_resistor_is_among_the_choices() -> None:
    report = cell_of(configuration(fixed_ohm=33_000.0), 2027)
    assert [choice.name for choice in report.resistors][-1] == "as configured"
    assert report.resistors[-1].ohm == 33_000
    steepest = max(report.resistors, key=lambda choice: choice.counts_per_efold)
    assert steepest.name == "steepest at dark_lux"
    bounded = report.resistors[1]
    assert bounded.source_ohm <= 10_000


def test_text_and_values_agree() -> None:
    report = cell_of(configuration(), 2027)
    plain, text = report.plain(), cell_text(report, every=True)
    assert plain["light_cell"] == LightCell().model_dump()
    for found in plain["thresholds"].values():
        assert str(found["counts"]) in text
    assert "CAUTIONS" in text
