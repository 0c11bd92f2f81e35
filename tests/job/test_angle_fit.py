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
from sunsched.job.logs.angle import AngleFit, angle_of, configuration_and_table, new_configuration, update_angle
from sunsched.report.text.angle import angle_text, update_text
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
    assert "5.0%: about 18 evenings of a year" in " ".join(angle_text(found, every=True).split())


def test_too_few_nights_for_the_share_are_told(tmp_path: Path, config: Path) -> None:
    found = fit(config, nights_file(tmp_path, dusks(4.0, n=10)), share=0.05)
    assert found.settings["angle, all but the share"] is None
    assert "19 nights must be noted" in " ".join(angle_text(found, every=True).split())


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
    # a logger beside the birds: its sky is theirs to 0.05, and 24 nights tell
    config.write_text(CONFIG + "[model]\ncell_sky_log10 = 0.05\n")
    found = fit(config, nights_file(tmp_path, entry), light_path=log)
    assert words in known(found.following).words
    assert known(found.following).share == pytest.approx(follows, abs=0.25)
    assert all(lux is not None for lux in known(found.measured_lux))
    assert "of the light's own shift" in " ".join(angle_text(found, every=True).split())


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
    assert "sunset on some" in angle_text(found, every=True)


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


def noted_closings(n: int, out_every: int) -> list[str]:
    """A list: date, time of closing in civil time (4.5 degrees, about), birds out."""
    clear = dusks(4.5, "2027-03-01", n, 1)
    rows = stamped(clear, form="%Y-%m-%d,%H:%M:%S")
    return [f"{row},{1 if out_every and k % out_every == 0 else 0}" for k, row in enumerate(rows)]


@pytest.mark.parametrize(("out_every", "later"), [(3, True), (0, False)])
def test_a_yearly_angle_is_proposed_from_closings_and_counts(
    tmp_path: Path, config: Path, out_every: int, later: bool
) -> None:
    path = tmp_path / "closings.csv"
    path.write_text("date,time,birds_out\n" + "\n".join(noted_closings(90, out_every)) + "\n")
    found = update_angle(toml_file.read(config), path, None, 0.05, "civil")
    assert found.n_nights == 90 and found.now_deg == pytest.approx(4.5, abs=0.05)
    assert found.nights_with_birds_out == (30 if out_every else 0)
    assert (found.proposed_deg > 4.8) is later
    assert "TO PASTE, IF YOU AGREE" in update_text(found, 0.05, "[evening]\n") or not found.changed


def test_a_yearly_angle_wants_counts_and_enough_nights(tmp_path: Path, config: Path) -> None:
    path = tmp_path / "closings.csv"
    path.write_text("\n".join(noted_closings(20, 4)) + "\n")
    with pytest.raises(LogError, match="20 nights with a closing and a count; wanted 60 or more"):
        update_angle(toml_file.read(config), path, None, 0.05, "civil")
    path.write_text("\n".join(row.rsplit(",", 1)[0] for row in noted_closings(20, 4)) + "\n")
    with pytest.raises(LogError, match=r"row 1: .*wanted a line such as 2027-03-01,18:12,0"):
        update_angle(toml_file.read(config), path, None, 0.05, "civil")


def door_log(n: int) -> str:
    """The door's own log: a lowering each evening at about 4.5 degrees, in chip time (UTC+1), and one by hand."""
    rows = ["# sunsched door log, revision 1", "# chip_offset_min 60", "date,time,event,counts,door,move,reason,alarms"]
    for at in dusks(4.5, "2027-03-01", n, 1):
        (stamp,) = stamped(np.array([at]), clock=60, form="%Y-%m-%d,%H:%M:%S")
        (noon,) = stamped(np.array([at - 300]), clock=60, form="%Y-%m-%d,%H:%M:%S")
        rows += [f"{noon},move,700,up,lower,hand,", f"{noon},move,700,down,raise,hand,"]
        rows.append(f"{stamp},move,120,up,lower,dusk,")
    return "\n".join(rows) + "\n"


def test_the_doors_own_log_and_a_list_of_counts_give_the_same(tmp_path: Path, config: Path) -> None:
    log, counts = tmp_path / "door.csv", tmp_path / "counts.csv"
    log.write_text(door_log(90))
    dates = [row.split(",")[0] for row in noted_closings(90, 3)]
    counts.write_text("\n".join(f"{date},{2 if k % 3 == 0 else 0}" for k, date in enumerate(dates)) + "\n")
    found = update_angle(toml_file.read(config), log, counts, 0.05, "civil")
    assert found.n_nights == 90 and found.nights_with_birds_out == 30
    assert found.now_deg == pytest.approx(4.5, abs=0.05)  # the hand's closings at noon do not count
    with pytest.raises(UsageError, match="wanted --counts"):
        update_angle(toml_file.read(config), log, None, 0.05, "civil")
