"""What the processes of a run share gives what working it out gives, and only for the same question."""

from __future__ import annotations

from pathlib import Path
from typing import NoReturn

import numpy as np
import pytest

from sunsched.config import toml_file
from sunsched.job import drive_and_battery, fault_comparison
from sunsched.sky.crossings import sun_altitude_deg
from sunsched.sky.second_opinion import Events, skyfield_events
from sunsched.study import faults
from tests.conftest import ROOT
from tests.support import worked_once

PLACE = (47.3, 8.9)
MINUTES = np.arange(30_000_000.0, 30_000_100.0)  # any year within the Sun's data


def never(*_: object) -> NoReturn:
    raise AssertionError("worked out again")


def test_the_sun_of_the_same_minutes_is_worked_out_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    expected, later = (sun_altitude_deg(minutes, *PLACE) for minutes in (MINUTES, MINUTES + 1))
    east, elsewhere = (PLACE[0], PLACE[1] + 1), (PLACE[0] + 1, PLACE[1])
    first = worked_once.sun_in_folder(tmp_path, {PLACE, east})
    found = first(MINUTES, *PLACE)
    assert np.array_equal(found, expected)
    assert np.array_equal(first(MINUTES + 1, *PLACE), later)
    for place in (east, elsewhere):
        assert np.array_equal(first(MINUTES, *place), sun_altitude_deg(MINUTES, *place))
    assert len(list(tmp_path.iterdir())) == 3  # nothing of a place that is not named
    found += 1  # its own: the next one who asks is not told this
    monkeypatch.setattr(worked_once, "sun_altitude_deg", never)
    second = worked_once.sun_in_folder(tmp_path, {PLACE})
    assert np.array_equal(second(MINUTES, *PLACE), expected)


@pytest.mark.usefixtures("worked_out_anew")
def test_the_same_battery_is_followed_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    configuration = toml_file.read(str(ROOT / "configs" / "larch_end.toml"))
    assert configuration.battery is not None
    smaller = configuration.battery.model_copy(update={"capacity_ah": 3.0})
    expected, other = (
        drive_and_battery.plain(drive_and_battery.battery_of(one, 2027, "larch_end.toml", weather_years=5))
        for one in (configuration, configuration.model_copy(update={"battery": smaller}))
    )
    assert expected != other
    for again in (False, True):
        if again:
            monkeypatch.setattr(worked_once, "battery_sums", never)
        monkeypatch.setattr(drive_and_battery, "battery_sums", worked_once.battery_in_folder(tmp_path))
        for battery, wanted in ((configuration.battery, expected), (smaller, other)):
            asked = configuration.model_copy(update={"battery": battery})
            work = drive_and_battery.battery_of(asked, 2027, "larch_end.toml", weather_years=5)
            assert drive_and_battery.plain(work) == wanted
    assert len(list(tmp_path.iterdir())) == 2


def alike(one: Events, other: Events) -> bool:
    return all(map(np.array_equal, (*one.rise_utc_min, *one.set_utc_min), (*other.rise_utc_min, *other.set_utc_min)))


def test_skyfield_is_asked_the_same_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = (MINUTES[0], MINUTES[0] + 4000.0, *PLACE)
    others = ((MINUTES[0] + 60.0, *asked[1:]), (*asked[:2], PLACE[0] + 1, PLACE[1]), (*asked[:3], PLACE[1] + 1))
    questions = [(*asked, [-6.0, -4.0]), (*asked, [-4.0, -6.0]), *((*other, [-6.0, -4.0]) for other in others)]
    expected = [skyfield_events(*question) for question in questions]
    first = worked_once.skyfield_in_folder(tmp_path)
    assert all(alike(first(*question), wanted) for question, wanted in zip(questions, expected, strict=True))
    assert len(list(tmp_path.iterdir())) == len(questions)
    monkeypatch.setattr(worked_once, "skyfield_events", never)
    second = worked_once.skyfield_in_folder(tmp_path)
    assert all(alike(second(*question), wanted) for question, wanted in zip(questions, expected, strict=True))


@pytest.mark.usefixtures("worked_out_anew")
def test_the_doors_program_meets_the_same_evenings_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(faults, "EVENINGS", 1)
    monkeypatch.setattr(faults, "FAST_MIN", (-20, -60))
    monkeypatch.setattr(fault_comparison, "fault_nights", lambda *_: [])
    configuration = toml_file.read(str(ROOT / "configs" / "larch_end.toml"))

    def closings(seed: int) -> list[list[float]]:
        work = fault_comparison.fault_comparison_of(configuration, 2027, 1, seed, (0.5,), 1410)
        return [nights.close_min.tolist() for nights in work.program]

    expected = [closings(seed) for seed in (1, 2)]
    assert expected[0] != expected[1]
    for again in (False, True):
        if again:
            monkeypatch.setattr(worked_once, "closing_minutes", never)
        monkeypatch.setattr(faults, "closing_minutes", worked_once.closings_in_folder(tmp_path))
        assert [closings(seed) for seed in (1, 2)] == expected
    assert len(list(tmp_path.iterdir())) == 2 * len(faults.FAST_MIN)
