"""A light log replayed through the strategies: good logs give the known answer, bad ones never a silent wrong one."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sunsched.base.errors import LogError, UsageError
from sunsched.config import toml_file
from sunsched.config.configuration import Configuration
from sunsched.job.logs.replay import Replay, Twilight, replay_of
from sunsched.report.pictures.replay import replay_chart
from sunsched.report.text.replay import replay_text
from tests.conftest import ROOT
from tests.support.known import known
from tests.support.made_logs import PLACE, ZONE, counts_log, light_lux, lux_log, stamped, times

CONFIRM_MIN = 1  # 100 s of dark that begin with a minute are over in the next


def configuration(kind: str = "lux", **cell: float) -> Configuration:
    site = {"name": "Larch end", **PLACE, "zone": ZONE}
    rules = {"evening": {"depression_deg": 4.5, "cell_from_min": -10, "cell_until_min": 15}}
    return Configuration.model_validate({"site": site, **rules, "light_cell": {"kind": kind, **cell}})


@pytest.fixture
def saved(tmp_path: Path) -> Callable[..., Any]:
    def save(lines: list[str]) -> Path:
        path = tmp_path / "yard.csv"
        path.write_text("\n".join(lines) + "\n")
        return path

    return save


def evenings(replay: Replay) -> list[Twilight]:
    return [one for one in replay.twilights if one.side == "evening" and one.did]


def test_constant_clear_sky_makes_light_and_clock_agree_to_the_confirmation(saved: Callable[..., Any]) -> None:
    # the clear sky gives the cell 17.85 x 0.4 = 7.1 lux at the planned -4.5 degrees (Seidelmann's cubic, by hand)
    when = times(n_days=6)
    replay = replay_of(configuration(dark_lux=7.14), saved(lux_log(when, light_lux(when))))
    found = evenings(replay)
    assert len(found) == 6
    for one in found:
        assert 0 <= known(one.did["light"].after_planned_min) <= 1 + CONFIRM_MIN
        assert one.did["clock"].after_planned_min == 0
        assert one.did["both"] == one.did["light"]
    assert replay.warnings == []


def test_a_dull_evening_closes_light_alone_early_and_both_at_the_windows_opening(saved: Callable[..., Any]) -> None:
    when = times(n_days=4)
    dull_day = int(when[0] // 1440) + 2
    lux = light_lux(when, dullness=lambda day: 1.5 if day == dull_day else 0.0)
    did = evenings(replay_of(configuration(dark_lux=7.14), saved(lux_log(when, lux))))[2].did
    assert known(did["light"].after_planned_min) < -15
    assert (did["both"].after_planned_min, did["both"].why) == (-10, "light")


def test_a_lamp_holds_the_light_off_and_both_closes_at_the_limit(saved: Callable[..., Any]) -> None:
    when = times(n_days=3)
    lux = np.where((when % 1440 > 1000) & (when % 1440 < 1300), np.maximum(light_lux(when), 30.0), light_lux(when))
    did = evenings(replay_of(configuration(), saved(lux_log(when, lux))))[0].did
    assert known(did["light"].after_planned_min) > 120
    assert (did["both"].after_planned_min, did["both"].why) == (15, "limit")


def test_counts_and_lux_of_the_same_light_do_the_same(saved: Callable[..., Any]) -> None:
    when = times(n_days=4)
    lux = light_lux(when)
    by_lux = replay_of(configuration(), saved(lux_log(when, lux)))
    divider = configuration("photoresistor", fixed_ohm=10_000.0)
    by_counts = replay_of(divider, saved(counts_log(when, lux)))
    for one, other in zip(evenings(by_lux), evenings(by_counts), strict=True):
        # one count is 2 % of the light at dark_lux, a sixth of a minute
        assert abs(known(one.did["light"].after_planned_min) - known(other.did["light"].after_planned_min)) <= 1


@pytest.mark.parametrize("factor", [0.2, 0.7, 1.6])
def test_the_cells_offset_is_found_among_dull_evenings(saved: Callable[..., Any], factor: float) -> None:
    when = times(n_days=24, step_min=2)
    rng = np.random.default_rng(11)
    dullness = {int(day): float(rng.choice([0.0, 0.0, 0.3, 0.8, 1.2])) for day in np.unique(when // 1440)}
    lux = light_lux(when, 0.4 * factor, dullness.__getitem__)
    replay = replay_of(configuration(), saved(lux_log(when, lux)))
    assert known(replay.offset).factor == pytest.approx(factor, rel=0.02)
    assert known(replay.offset).factor_low < factor < known(replay.offset).factor_high
    clear = {one.date for one in evenings(replay)} & set(known(replay.offset).clear_evenings)
    assert len(clear) == sum(value == 0.0 for value in dullness.values())
    dark = known(replay.offset).proposed[0]
    assert dark.reading_lux == pytest.approx(5.0 * factor, rel=0.02)


def test_the_proposed_resistance_meets_the_thresholds_at_true_light(saved: Callable[..., Any]) -> None:
    # a cell of 80 kohm at 10 lux set as 50 kohm: by hand it reads (50 / 80)^(1 / 0.7) = 0.511 times the light
    when = times(n_days=6)
    lux = light_lux(when, 0.4 * (50 / 80) ** (1 / 0.7))
    replay = replay_of(configuration("photoresistor", fixed_ohm=10_000.0), saved(counts_log(when, lux)))
    assert known(replay.offset).factor == pytest.approx(0.511, rel=0.05)
    resistance = float(known(replay.offset).paste.split("=")[1])
    assert resistance == pytest.approx(80_000, rel=0.04)


def test_a_wrong_zone_is_refused_with_the_one_that_fits(saved: Callable[..., Any]) -> None:
    when = times("2027-06-01", 5)
    path = saved(lux_log(when, light_lux(when)))
    with pytest.raises(LogError, match=r"by UTC \(stated\).* 120 min after solar midnight.*--zone \+02:00 would fit"):
        replay_of(configuration(), path, zone="utc")
    assert replay_of(configuration(), path, zone="+02:00").warnings == []
    assert replay_of(configuration(), path).settled.clock.name == f"civil time of {ZONE}"


def test_a_clock_that_fits_nothing_is_refused(saved: Callable[..., Any]) -> None:
    when = times(n_days=5)
    with pytest.raises(LogError, match=r"a wrong zone or clock; --zone \+05:30 would fit"):
        replay_of(configuration(), saved(lux_log(when, light_lux(when), clock=330)))


def test_evenings_alone_in_the_wrong_zone_are_refused(saved: Callable[..., Any]) -> None:
    when = times(n_days=5)
    evening = (when % 1440 > 900) & (when % 1440 < 1200)
    path = saved(lux_log(when[evening], light_lux(when[evening])))
    replay = replay_of(configuration(), path)
    assert any("no whole natural night" in text for text in replay.warnings)
    with pytest.raises(LogError, match="times less than a clear sky gives the cell: a wrong clock"):
        replay_of(configuration(), path, zone="+02:00")


def test_a_log_a_hundredfold_too_dark_is_told(saved: Callable[..., Any]) -> None:
    when = times(n_days=5)
    replay = replay_of(configuration(), saved(lux_log(when, light_lux(when, 0.4 / 100))))
    assert any("100 times less than a clear sky" in text for text in replay.warnings)


@pytest.mark.parametrize(
    ("options", "words"),
    [({"zone": "CET"}, r"--zone is 'CET'; wanted .civil"), ({"unit": "W"}, "--unit is 'W'; wanted lux or counts")],
)
def test_words_that_mean_nothing(saved: Callable[..., Any], options: dict[str, str], words: str) -> None:
    when = times(n_days=2)
    with pytest.raises(UsageError, match=words):
        replay_of(configuration(), saved(lux_log(when, light_lux(when))), **options)


def test_a_zone_for_a_log_that_carries_its_own(saved: Callable[..., Any]) -> None:
    when = times(n_days=2)
    path = saved(lux_log(when, light_lux(when), clock="Z"))
    assert replay_of(configuration(), path).settled.clock_from == "in the file"
    with pytest.raises(UsageError, match="carry their offset"):
        replay_of(configuration(), path, zone="civil")


def test_units(saved: Callable[..., Any]) -> None:
    when = times(n_days=2)
    lux = light_lux(when)
    untold = ["time,value", *lux_log(when, lux)[1:]]
    assert replay_of(configuration(), saved(untold)).settled.unit == "lux"
    divider = configuration("photoresistor", fixed_ohm=10_000.0)
    counts = ["time,value", *counts_log(when, lux)[1:]]
    found = replay_of(divider, saved(counts))
    assert found.settled.unit == "counts"
    assert any("taken for counts" in text for text in found.warnings)
    with pytest.raises(LogError, match=r"row \d+: .* in a log of counts; at most 1023"):
        replay_of(divider, saved(untold), unit="counts")
    with pytest.raises(LogError, match=r'a log in counts, but light_cell\.kind is "lux"'):
        replay_of(configuration(), saved(counts))


def test_a_week_without_rows_is_warned_of_with_its_row(saved: Callable[..., Any]) -> None:
    when = times(n_days=14)
    keep = (when < when[0] + 4 * 1440) | (when > when[0] + 11 * 1440)
    lines = lux_log(when[keep], light_lux(when[keep]))
    row = lines.index(next(line for line in lines if line.startswith("2027-03-12"))) + 1
    replay = replay_of(configuration(), saved(lines))
    assert any(text.startswith(f"row {row}: no light from 2027-03-05") for text in replay.warnings)
    dates = {one.date for one in evenings(replay)}
    assert "2027-03-04" in dates and "2027-03-08" not in dates


def test_a_step_of_the_logs_clock_is_warned_of_with_its_row(saved: Callable[..., Any]) -> None:
    when = times(n_days=12)
    ahead = np.where(np.arange(len(when)) < 6 * 1440 + 600, 45, 0)
    replay = replay_of(configuration(), saved(lux_log(when, light_lux(when), ahead_min=ahead)), zone="civil")
    row = 6 * 1440 + 600 + 2
    assert any(text.startswith(f"row {row}: times run backwards by 44 min") for text in replay.warnings)
    assert any("the log's clock jumped by -4" in text for text in replay.warnings)


def test_a_change_of_the_zone_is_no_step_and_no_gap(saved: Callable[..., Any]) -> None:
    for first in ("2027-03-25", "2027-10-28"):
        when = times(first, 6)
        assert replay_of(configuration(), saved(lux_log(when, light_lux(when)))).warnings == []


def test_a_sensor_that_is_full_is_told(saved: Callable[..., Any]) -> None:
    when = times(n_days=3)
    replay = replay_of(configuration(), saved(lux_log(when, np.minimum(light_lux(when), 25.0))))
    assert any("stand at 25 lux" in text and "too close to light_lux" in text for text in replay.warnings)


def test_a_clock_reset_to_1970_is_refused(saved: Callable[..., Any]) -> None:
    when = times(n_days=3)
    lines = lux_log(when, light_lux(when))
    with pytest.raises(LogError, match="rows dated 1970-01-01; wanted 1990 to 2052"):
        replay_of(configuration(), saved([*lines, "1970-01-01 00:00,5"]))


def chip_log(n_days: int = 6) -> list[str]:
    when = times("2027-03-01", n_days, 15)
    lux = light_lux(when)
    near = (lux > 0.001) & (lux < 9000)
    lines = counts_log(when[near], lux[near])[1:]
    head = ["# sunsched door log, revision 1", "# site Larch end", "# chip_offset_min 60"]
    names = stamped(when[near], 60, form="%Y-%m-%d,%H:%M:%S")
    rows = [f"{name},quarter,{line.split(',')[1]},up,raise,day," for name, line in zip(names, lines, strict=True)]
    moved = "2027-03-03,18:38:20,move,100,moving_down,lower,dusk,"
    place = next(k for k, row in enumerate(rows) if row[:19] > moved[:19])
    return [*head, "date,time,event,counts,door,move,reason,alarms", *rows[:place], moved, *rows[place:]]


def test_the_doors_own_log(saved: Callable[..., Any]) -> None:
    divider = configuration("photoresistor", fixed_ohm=10_000.0)
    replay = replay_of(divider, saved(chip_log()))
    found = evenings(replay)
    assert len(found) >= 5
    assert replay.settled.clock_from == "in the file"
    # rows every quarter of an hour, joined by a straight line in log light: within 3 min of the minute log
    when = times(n_days=6)
    minutes = evenings(replay_of(divider, saved(counts_log(when, light_lux(when)))))
    by_date = {one.date: known(one.did["light"].after_planned_min) for one in minutes}
    for one in found:
        assert abs(known(one.did["light"].after_planned_min) - by_date[one.date]) <= 3
    own = next(one.door for one in found if one.date == "2027-03-03")
    assert (known(own).civil, known(own).why) == ("18:38", "dusk")
    assert "the door did" in replay_text(replay, every=True)


def test_text_values_and_picture_agree(saved: Callable[..., Any]) -> None:
    when = times(n_days=6)
    replay = replay_of(configuration(), saved(lux_log(when, light_lux(when))))
    plain, text, picture = replay.plain(), replay_text(replay, every=True), replay_chart(replay, "Larch end").decode()
    middle = plain["summary"]["evening"]["light"]["after_planned_min"]["median"]
    assert f"{middle:+.0f} min in the middle" in picture
    assert plain["twilights"][1]["date"] in text
    assert plain["log"]["rows"] == len(when)
    assert "CAUTIONS" in text


def test_a_white_night_never_closes_by_light(saved: Callable[..., Any]) -> None:
    birch = toml_file.read(ROOT / "configs" / "birch_hollow.toml")
    place = {"latitude_deg": birch.site.latitude_deg, "longitude_deg": birch.site.longitude_deg}
    when = times("2027-06-18", 5, 2)
    path = saved(lux_log(when, light_lux(when, place=place), clock="Z"))
    replay = replay_of(birch, path)
    found = evenings(replay)
    assert {one.did["light"].why for one in found} == {"never"}
    assert {one.did["both"].why for one in found} == {"limit"}
    assert replay.settled.found.n_nights == 0
    assert "never" in replay_text(replay, every=True)


def test_every_shipped_site_replays_its_own_clear_sky(saved: Callable[..., Any], config_path: Path) -> None:
    configuration = toml_file.read(config_path)
    site, cell = configuration.site, configuration.light_cell
    place = {"latitude_deg": site.latitude_deg, "longitude_deg": site.longitude_deg}
    when = times("2027-03-18", 5, 2)
    path = saved(lux_log(when, light_lux(when, cell.sky_view, place=place), clock="Z"))
    replay = replay_of(configuration, path)
    assert replay.warnings == []
    assert abs(replay.settled.found.off_min) < 2
    assert known(replay.offset).factor == pytest.approx(1.0, abs=0.01)
    assert replay.summary()["evening"]["both"]["judged"] >= 4
