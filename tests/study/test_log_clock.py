"""The clock of a log, found from its nights."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sunsched.base.civil_time import zone_of
from sunsched.study import light_log, log_clock
from sunsched.study.log_clock import Dark, LogClock
from tests.support.known import known
from tests.support.made_logs import PLACE, ZONE, counts_log, light_lux, lux_log, times

CIVIL = log_clock.named_clock("civil", zone_of(ZONE), 60)
CHIP = log_clock.named_clock("chip", zone_of(ZONE), 60)
UTC = log_clock.named_clock("utc", zone_of(ZONE), 60)


def darks_of(tmp_path: Path, lines: list[str], level: float = 5.0) -> list[Dark]:
    path = tmp_path / "yard.csv"
    path.write_text("\n".join(lines))
    return log_clock.nights(light_log.read(path), level)


@pytest.mark.parametrize(("clock", "found"), [("civil", CIVIL), (60, CHIP), (0, UTC)])
def test_the_clock_is_found_over_the_change_to_summer_time(tmp_path: Path, clock: str | int, found: LogClock) -> None:
    when = times("2027-03-20", 16, 2)
    darks = darks_of(tmp_path, lux_log(when, light_lux(when), clock=clock))
    assert len(darks) == 15
    best = log_clock.best_clock([known(CIVIL), known(CHIP), known(UTC)], darks, **PLACE)
    assert best.clock == found
    # dusk and dawn of one night see the Sun at one depression: a minute for the day's change of declination
    assert abs(best.off_min) < 2
    assert log_clock.jumps(found, darks, **PLACE) == []


def test_a_clock_that_is_fast_is_seen_to_the_minute(tmp_path: Path) -> None:
    when = times("2027-03-01", 8, 1)
    darks = darks_of(tmp_path, lux_log(when, light_lux(when), ahead_min=37))
    assert log_clock.judged(known(CIVIL), darks, **PLACE).off_min == pytest.approx(37, abs=2)


def test_a_summer_time_that_the_log_does_not_know_is_a_jump(tmp_path: Path) -> None:
    when = times("2027-03-20", 16, 2)
    darks = darks_of(tmp_path, lux_log(when, light_lux(when), clock=60))
    found = log_clock.jumps(known(CIVIL), darks, **PLACE)
    assert [round(jump.by_min) for jump in found] == [-60]


def test_a_jump_is_placed_between_its_nights(tmp_path: Path) -> None:
    when = times("2027-03-01", 12, 1)
    ahead = np.where(np.arange(len(when)) > 6 * 1440 + 600, 45, 0)
    darks = darks_of(tmp_path, lux_log(when, light_lux(when), ahead_min=ahead))
    found = log_clock.jumps(known(CIVIL), darks, **PLACE)
    assert [round(jump.by_min) for jump in found] == [45]
    assert found[0].after_min < when[6 * 1440 + 600] + 60 < found[0].before_min + 60


def test_lamps_and_short_gaps_do_not_split_a_night(tmp_path: Path) -> None:
    when = times("2027-03-01", 4, 1)
    lux = light_lux(when)
    minute = when % 1440
    lux[(minute > 1300) & (minute < 1330)] = 80.0
    keep = ~((minute > 1310) & (minute < 1325)) & ~((minute > 60) & (minute < 75))
    darks = darks_of(tmp_path, lux_log(when[keep], lux[keep]))
    assert len(darks) == 3
    assert abs(log_clock.judged(known(CIVIL), darks, **PLACE).off_min) < 2


def test_counts_give_the_same_nights(tmp_path: Path) -> None:
    when = times("2027-03-01", 4, 1)
    darks = darks_of(tmp_path, counts_log(when, light_lux(when)), level=112.5)
    assert len(darks) == 3
    assert abs(log_clock.judged(known(CIVIL), darks, **PLACE).off_min) < 2


def test_a_log_of_evenings_has_no_whole_night(tmp_path: Path) -> None:
    when = times("2027-03-01", 4, 1)
    evening = (when % 1440 > 900) & (when % 1440 < 1200)
    assert darks_of(tmp_path, lux_log(when[evening], light_lux(when[evening]))) == []
    assert log_clock.judged(known(CIVIL), [], **PLACE).n_nights == 0


def test_a_week_without_rows_hides_its_nights(tmp_path: Path) -> None:
    when = times("2027-03-01", 12, 1)
    keep = (when < when[0] + 3 * 1440) | (when > when[0] + 9 * 1440)
    assert len(darks_of(tmp_path, lux_log(when[keep], light_lux(when[keep])))) == 4


@pytest.mark.parametrize(("word", "minutes"), [("+01:00", 60), ("-0530", -330), ("utc", 0), ("chip", 60)])
def test_named_clocks(word: str, minutes: int) -> None:
    assert known(log_clock.named_clock(word, zone_of(ZONE), 60)).offset_min(np.zeros(2)).tolist() == [minutes, minutes]


@pytest.mark.parametrize("word", ["CET", "+15:00", "+01:60", "", "1"])
def test_words_that_name_no_clock(word: str) -> None:
    assert log_clock.named_clock(word, zone_of(ZONE), 60) is None


# tzdata: Zurich goes from UTC+1 to UTC+2 on 2027-03-28 at 01:00 UTC
def test_readings_across_the_change() -> None:
    change = np.array([20905, 20905]) * 1440.0 + [59, 61]
    shown = known(CIVIL).log_min(change)
    assert (shown - change).tolist() == [60, 120]
    assert [known(CIVIL).utc_min(value) for value in shown] == change.tolist()
