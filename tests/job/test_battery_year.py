"""`drive` and `battery` from a configuration: what is read, printed, and refused."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from sunsched.base.errors import ConfigError
from sunsched.config.configuration import Configuration
from sunsched.config.toml_file import parsed
from sunsched.job.drive_and_battery import (
    BatteryYear,
    battery_advice_of,
    battery_of,
    days_of,
    drive_advice_of,
    drive_of,
    plain,
    sections_of,
)
from sunsched.job.warnings import verdict_warnings
from sunsched.report.text.battery import battery_text
from sunsched.report.text.drive import drive_text

SITE = """
[site]
name = "Larch end"
latitude_deg = 52.0
longitude_deg = 0.0
zone = "Europe/London"
"""
DRIVE = """
[door]
travel_mm = 350
plate_kg = 2.0
guide_friction_n = 4.0
[spool]
core_diameter_mm = 30
cord_mm = 2
turns_left_when_down = 6
[motor]
volts = 12
rpm = 60
run_a = 0.6
winding_ohm = 4.0
lowering_duty = 0.4
"""
BATTERY = """
[battery]
capacity_ah = 7
sleep_ma = 10.5
panel_w = 10
"""


def configuration(text: str) -> Configuration:
    return parsed(text.encode(), "larch.toml")


@pytest.fixture(scope="module")
def work() -> BatteryYear:
    return battery_of(configuration(SITE + DRIVE + BATTERY), 2027, "larch.toml", weather_years=40)


def test_missing_sections_are_named_together() -> None:
    with pytest.raises(ConfigError) as refused:
        drive_of(configuration(SITE + "[spool]\n"), "larch.toml")
    assert [problem.key for problem in refused.value.problems] == ["[door]", "[motor]"]
    assert str(refused.value.problems[0]) == (
        "larch.toml: [door] is missing; wanted the section with what was built "
        "(sunsched sample --with door,motor writes them)"
    )
    with pytest.raises(ConfigError, match=r"^larch\.toml: \[battery\] is missing"):
        battery_of(configuration(SITE), 2027, "larch.toml")


# Every day of JSON: end = start + panel - overflow - used - self-discharge + unmet, to its nine decimals
def test_days_of_the_year_close_their_balance(work: BatteryYear) -> None:
    for year in (work.sums.typical, work.sums.worst):
        days = days_of(work, year)
        assert [days[0]["date"], days[-1]["date"], len(days)] == ["2027-01-01", "2027-12-31", 365]
        for day, following in zip(days, [*days[1:], None], strict=True):
            gained = day["panel_ah"] - day["overflow_ah"] + day["unmet_ah"]
            lost = day["used_ah"] + day["self_discharge_ah"]
            assert day["end_ah"] == pytest.approx(day["start_ah"] + gained - lost, abs=5e-9)
            users = ("moves", "board", "sensor", "driver", "controller")
            assert day["used_ah"] == pytest.approx(sum(day[f"used_{user}_ah"] for user in users), abs=5e-9)
            if following and following["date"] != days[work.sums.start_row]["date"]:
                assert following["start_ah"] == day["end_ah"]


def text_of(year: BatteryYear) -> str:
    """All of the battery's text, for the machine of these tests."""
    c = configuration(SITE + DRIVE + BATTERY)
    assert c.battery is not None
    found = verdict_warnings(year.sums.verdicts)
    return battery_text(year, battery_advice_of(c, year), found, c.battery, every=True)


def drive_text_of(c: Configuration) -> str:
    sums = drive_of(c, "x")
    return drive_text(sums, drive_advice_of(c, "x"), verdict_warnings(sums.verdicts), sections_of(c), every=True)


@pytest.mark.usefixtures("worked_out_anew")
def test_the_same_input_gives_the_same_bytes(work: BatteryYear) -> None:
    again = battery_of(configuration(SITE + DRIVE + BATTERY), 2027, "larch.toml", weather_years=40)
    assert json.dumps(plain(work), allow_nan=False) == json.dumps(plain(again), allow_nan=False)
    assert text_of(work) == text_of(again)


def test_a_leap_year_has_its_day() -> None:
    leap = battery_of(configuration(SITE + BATTERY), 2028, "larch.toml", weather_years=20)
    days = days_of(leap, leap.sums.typical)
    assert len(days) == 366 and days[59]["date"] == "2028-02-29"
    # the weather of the day before, a day later in the year
    assert days[59]["panel_ah"] == pytest.approx(days[58]["panel_ah"], rel=0.02)
    assert leap.notes == ("no [door], [spool], [motor]: the default's moves are counted",)


# Physics: hills to the south and a duller climate only take away.
def test_skyline_and_climate_reach_the_panel(work: BatteryYear, tmp_path: Path) -> None:
    hills = "[[site.skyline]]\nazimuth_deg = 180\naltitude_deg = 13\n"
    shaded = battery_of(configuration(SITE + hills + DRIVE + BATTERY), 2027, "x", weather_years=40)
    assert shaded.sums.figure("gain_ah").value < 0.7 * work.sums.figure("gain_ah").value
    dull = tmp_path / "dull.csv"
    dull.write_text("month,clearness,temperature_c\n" + "".join(f"{m},0.15,{abs(7 - m)}\n" for m in range(1, 13)))
    gloomy = battery_of(configuration(SITE + DRIVE + BATTERY), 2027, "x", dull, weather_years=40)
    assert gloomy.sums.stated.n_flat > work.sums.stated.n_flat
    assert "clearness" not in {one.key for one in gloomy.sums.assumptions}
    assert gloomy.climate.source == "dull.csv"


def test_texts_carry_verdicts_ranges_sources_and_cautions(work: BatteryYear) -> None:
    text, drive = text_of(work), drive_text_of(configuration(SITE + DRIVE))
    for part in ("AT DISCONNECT", "WORST MONTH: DECEMBER", "H0 K, Erbs 1982", "ONE CHANGE", "CAUTIONS", "assumed"):
        assert part in text, part
    for part in ("FAILS     turns on the spool", "hoist rule", "CONSTANTS FOR THE PROGRAM", "EN 12453", "CAUTIONS"):
        assert part in drive, part
    for printed in (text, drive):
        assert " safe" not in printed.lower()
        assert all(line == line.rstrip() for line in printed.splitlines())


def test_a_cutoff_that_cannot_work_is_still_reported() -> None:
    sums = drive_of(configuration(SITE + DRIVE + "cutoff_down_s = 4\n"), "x")
    assert sums.constants is None
    text = drive_text_of(configuration(SITE + DRIVE + "cutoff_down_s = 4\n"))
    assert "CONSTANTS FOR THE PROGRAM: none. motor.cutoff_down_s is 4" in text


def test_the_texts_keep_to_eighty_columns(work: BatteryYear) -> None:
    for text in (text_of(work), drive_text_of(configuration(SITE + DRIVE))):
        assert max(len(line) for line in text.splitlines()) <= 80
