"""The evening's angle from noted nights, and the configuration it makes."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from sunsched.base.errors import LogError, MissingFileError, UsageError
from sunsched.config import toml_file
from sunsched.job.logs.angle import AngleFit, angle_of, configuration_and_table, new_configuration
from sunsched.report.text.angle import angle_text
from sunsched.sky.crossings import altitude_crossings
from tests.support.known import known
from tests.support.made_logs import PLACE, ZONE, light_lux, lux_log, stamped, times

CONFIG = f"""# comment
[site]
name = "Larch end"
latitude_deg = {PLACE["latitude_deg"]}
longitude_deg = {PLACE["longitude_deg"]}
zone = "{ZONE}"

[evening]
twilight = "civil"  # another
later_min = 7
not_before = "15:30"

[light_cell]
kind = "lux"
"""


@pytest.fixture
def config(tmp_path: Path) -> Path:
    path = tmp_path / "larch.toml"
    path.write_text(CONFIG)
    return path


def nights_file(tmp_path: Path, utc_min: NDArray[np.float64], clock: str | int = "civil") -> Path:
    path = tmp_path / "nights.csv"
    path.write_text("date,last_in\n" + "\n".join(text.replace(" ", ",") for text in stamped(utc_min, clock)) + "\n")
    return path


def dusks(depression_deg: float, first: str = "2027-02-01", n: int = 19, step: int = 5) -> NDArray[np.float64]:
    start = int(times(first, 1)[0] // 1440)
    return altitude_crossings(start, n * step, **PLACE, angles_deg=[-depression_deg]).set_utc_min[0, ::step]


def dusks_at(latitude_deg: float, depression_deg: float, first: str, n: int) -> NDArray[np.float64]:
    start = int(times(first, 1)[0] // 1440)
    place = {**PLACE, "latitude_deg": latitude_deg}
    found: NDArray[np.float64] = altitude_crossings(start, n, **place, angles_deg=[-depression_deg]).set_utc_min[0]
    return found


def fit(config: Path, nights: Path, **options: Any) -> AngleFit:
    return angle_of(toml_file.read(config), nights, **options)


def test_birds_that_go_at_one_angle_give_that_angle(tmp_path: Path, config: Path) -> None:
    found = fit(config, nights_file(tmp_path, dusks(3.95)))
    # times are noted to the minute below: 0.16 degrees at most
    assert found.nights.depression_deg == pytest.approx(np.full(19, 3.95), abs=0.18)
    assert found.depression_deg == pytest.approx(4.0, abs=0.11)
    by_angle, by_minutes = (known(found.settings[name]) for name in ("angle, all", "sunset and minutes, all"))
    assert by_angle.late_nights == by_minutes.late_nights == 0
    # an angle fits birds that keep to one: the minutes after sunset change by several through these months
    assert known(by_angle.spread_min) < known(by_minutes.spread_min)


def test_birds_that_go_some_minutes_after_sunset_are_told_apart(tmp_path: Path, config: Path) -> None:
    found = fit(config, nights_file(tmp_path, dusks(0.8333, n=33, step=10) + 20))
    by_angle, by_minutes = (known(found.settings[name]) for name in ("angle, all", "sunset and minutes, all"))
    assert known(by_angle.spread_min) > known(by_minutes.spread_min)
    assert by_minutes.value == pytest.approx(20, abs=1)


# 19 nights: 1/(n+1) = 5 % [mathematics]
def test_nineteen_nights(tmp_path: Path, config: Path) -> None:
    found = fit(config, nights_file(tmp_path, dusks(4.0)))
    assert found.chance_next_later == pytest.approx(0.05)
    assert found.settings["angle, all but the share"] == found.settings["angle, all"]
    assert "5.0%: about 18 evenings of a year" in " ".join(angle_text(found).split())


def test_too_few_nights_for_the_share_are_told(tmp_path: Path, config: Path) -> None:
    found = fit(config, nights_file(tmp_path, dusks(4.0, n=10)), share=0.05)
    assert found.settings["angle, all but the share"] is None
    assert "19 nights must be noted" in " ".join(angle_text(found).split())


def test_leaving_out_a_share_closes_earlier_and_is_priced(tmp_path: Path, config: Path) -> None:
    rng = np.random.default_rng(4)
    found = fit(config, nights_file(tmp_path, dusks(4.0, n=39) + rng.normal(0, 5, 39)), share=0.1)
    every, most = (known(found.settings[name]) for name in ("angle, all", "angle, all but the share"))
    assert most.value < every.value
    assert known(most.open_after_min) < known(every.open_after_min)
    # by hand: of 39 nights the 36th smallest leaves out 4/40; up to three of those noted end later
    assert 0 < most.late_nights <= 3
    assert found.depression_deg == most.value


def test_the_lists_clock_can_be_stated(tmp_path: Path, config: Path) -> None:
    path = nights_file(tmp_path, dusks(4.0), clock=0)
    assert fit(config, path, zone="utc").depression_deg == pytest.approx(4.0, abs=0.2)
    with pytest.raises(UsageError, match="--zone is 'MEZ'"):
        fit(config, path, zone="MEZ")


def test_a_list_in_the_wrong_zone_is_not_taken(tmp_path: Path, config: Path) -> None:
    path = nights_file(tmp_path, dusks(4.0, "2027-06-01"), clock=0)
    with pytest.raises(LogError, match=r"row 2: .* the Sun stands 1\d degrees high then; a wrong time or zone"):
        fit(config, path)


def test_lists_that_are_not_there(tmp_path: Path, config: Path) -> None:
    with pytest.raises(MissingFileError, match="no such file"):
        fit(config, tmp_path / "none.csv")
    with pytest.raises(MissingFileError, match="is a folder"):
        fit(config, tmp_path)


@pytest.mark.parametrize(("follows", "words"), [(1.0, "follow the light"), (0.0, "follow the Sun")])
def test_a_log_of_light_tells_whom_the_birds_follow(tmp_path: Path, config: Path, follows: float, words: str) -> None:
    rng = np.random.default_rng(5)
    when = times("2027-03-01", 26, 2)
    dull = {int(day): float(rng.uniform(0, 1.2)) for day in np.unique(when // 1440)}
    log = tmp_path / "yard.csv"
    log.write_text("\n".join(lux_log(when, light_lux(when, dullness=dull.__getitem__))))
    clear = dusks(4.0, "2027-03-01", 24, 1)
    # light that is down by 10^d passes the level when the clear sky still gives 10^d times it
    minutes = np.arange(-60.0, 1.0)
    ahead = [np.log10(light_lux(at + minutes) / light_lux(np.array([at]))) for at in clear]
    early = [np.interp(-dull[int(at // 1440)], -log, minutes) for at, log in zip(clear, ahead, strict=True)]
    shifted = clear + np.array(early)
    entry = follows * shifted + (1 - follows) * clear + rng.normal(0, 2, len(clear))
    found = fit(config, nights_file(tmp_path, entry), light_path=log)
    assert words in known(found.following).words
    assert known(found.following).share == pytest.approx(follows, abs=0.25)
    assert all(lux is not None for lux in known(found.measured_lux))
    assert "of the light's own shift" in angle_text(found)


def test_the_new_configuration_is_whole(tmp_path: Path, config: Path) -> None:
    configuration, table = configuration_and_table(str(config))
    found = angle_of(configuration, nights_file(tmp_path, dusks(4.0)))
    text = new_configuration(table, found)
    written = tomllib.loads(text)
    assert written["evening"] == {"later_min": 0, "not_before": "15:30", "depression_deg": found.depression_deg}
    assert written["site"] == tomllib.loads(CONFIG)["site"]
    assert text.startswith("# GENERATED by sunsched angle: evening.depression_deg from 19 noted nights")
    assert "another" not in text
    read_back = toml_file.parsed(text.encode(), "x")
    assert read_back.evening.depression_deg == found.depression_deg
    assert read_back.evening.twilight is None


def test_a_season_that_changes_the_evening_is_told(tmp_path: Path, config: Path) -> None:
    season = '[[season]]\nname = "cubs"\nfrom = "04-15"\nto = "07-10"\n[season.evening]\nlater_min = -5\n'
    config.write_text(CONFIG + season)
    found = fit(config, nights_file(tmp_path, dusks(4.0)))
    assert found.warnings == ("season cubs changes the evening for its dates and goes on doing so",)


def test_white_nights_have_no_sunset_and_say_so(tmp_path: Path, config: Path) -> None:
    config.write_text(CONFIG.replace(f"latitude_deg = {PLACE['latitude_deg']}", "latitude_deg = 68.0"))
    # 68 N in June: the Sun stays up; at 23:00 UTC, near its lowest, about 2 degrees high
    found = fit(config, nights_file(tmp_path, times("2027-06-10", 6, 1440) + 1400, clock=0), zone="utc")
    assert found.settings["sunset and minutes, all"] is None
    assert found.depression_deg < 0
    assert found.plain()["nights"][0]["after_sunset_min"] is None
    assert "no sunset" in angle_text(found)


def test_an_angle_that_some_nights_never_reach_is_told(tmp_path: Path, config: Path) -> None:
    config.write_text(CONFIG.replace(f"latitude_deg = {PLACE['latitude_deg']}", "latitude_deg = 64.0"))
    spring = dusks_at(64.0, 6.0, "2027-03-01", 4)
    june = times("2027-06-18", 1, 1440) + 1410
    found = fit(config, nights_file(tmp_path, np.concatenate([spring, june])))
    assert known(found.settings["angle, all"]).never_nights == 1
    assert any("on 1 of the nights the Sun never got 6" in text for text in found.warnings)


def test_one_night_is_half_a_chance(tmp_path: Path, config: Path) -> None:
    found = fit(config, nights_file(tmp_path, dusks(4.0, n=1)))
    assert found.chance_next_later == 0.5
    assert known(found.settings["angle, all"]).spread_min is None
