"""A hut at an instant: door, next move, why, and when to look; held against the year's own table."""

from __future__ import annotations

import datetime as dt
import json
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from sunsched.base.civil_time import iso_utc
from sunsched.cli.app import app
from sunsched.config.configuration import Configuration
from sunsched.config.toml_file import read, validated
from sunsched.job.pipeline import span_of
from sunsched.job.today import hut_now, instant_of
from sunsched.plan.year import NO_MINUTE, YearPlan
from sunsched.report.text.today import plain, today_line
from tests.conftest import CONFIGS

FEW = {"name": "Cow byre", "latitude_deg": 48.2, "longitude_deg": 16.3, "zone": "Europe/Vienna"}
PLACES = {path.stem: path for path in CONFIGS}


@lru_cache(maxsize=8)
def configuration_of(stem: str) -> Configuration:
    """A shipped configuration."""
    return read(PLACES[stem])


@lru_cache(maxsize=8)
def planned(stem: str) -> YearPlan:
    """Two years of a shipped configuration, 2027 and 2028."""
    first = (dt.date(2027, 1, 1) - dt.date(1970, 1, 1)).days
    return span_of(configuration_of(stem), first, 731)


def line(configuration: Configuration, at: str) -> str:
    """The line at a civil moment."""
    return today_line(hut_now(configuration, instant_of(configuration, at)))


@given(st.sampled_from(sorted(PLACES)), st.integers(60 * 1440, 400 * 1440))
@settings(max_examples=40)
def test_any_instant_says_what_the_table_says(stem: str, minutes_into_2027: int) -> None:
    plan, configuration = planned(stem), configuration_of(stem)
    now_utc_min = plan.first_day * 1440.0 + minutes_into_2027
    moves = sorted(
        (float(at), to)
        for column, to in ((plan.open_min, "up"), (plan.close_min, "down"))
        for at in plan.utc_min(column)[column != NO_MINUTE]
    )
    past = [to for at, to in moves if at <= now_utc_min]
    coming = [(iso_utc(at), to) for at, to in moves if at > now_utc_min]
    found = plain(hut_now(configuration, dt.datetime.fromtimestamp(now_utc_min * 60, dt.UTC)), "x")
    assert (found["door"], found["next_utc"], found["next_move"]) == (past[-1], *coming[0])
    if found["look_at"] is None:
        assert found["stays_down"]
        assert found["door"] == "down"
    else:
        assert found["look_at"] > found["now"]
    text = today_line(hut_now(configuration, dt.datetime.fromtimestamp(now_utc_min * 60, dt.UTC)))
    assert "\n" not in text
    assert len(text) <= 130


def test_a_day_of_a_site_in_the_middle_of_europe() -> None:
    larch = configuration_of("larch_end")
    # The planned minutes of these days are those of README and goldens: closes 20:10, opens 06:55 the next day.
    assert line(larch, "2027-03-28 18:20") == (
        "Larch end: door up until 20:10 (twilight, light 20:00-20:25); look 20:35: shut, 6 in?"
    )
    assert line(larch, "2027-03-28 20:12") == (
        "Larch end: door going down by 20:25, then down until tomorrow 06:55 (later); look 20:35: shut, 6 in?"
    )
    assert line(larch, "2027-03-28 20:10").startswith("Larch end: door going down")
    assert line(larch, "2027-03-28 20:09:59").startswith("Larch end: door up until 20:10")
    assert line(larch, "2027-03-28 23:00") == (
        "Larch end: door down until tomorrow 06:55 (later, light 06:45-07:10); look tomorrow 07:20: up, birds out?"
    )


def test_kept_in_days_say_why_and_until_when() -> None:
    larch = configuration_of("larch_end")
    assert line(larch, "2027-11-25 12:00") == (
        "Larch end: door down (housing order) until Thu 16 Dec 07:45 (later, light 07:35-08:00); "
        "look today: shut, 6 in, food, water, air?"
    )
    # On the evening before, the door has still to go down; the days to come do not hide the look.
    assert "door up until 17:09" in line(larch, "2027-11-19 12:00")
    assert "look 17:34" in line(larch, "2027-11-19 12:00")
    always = validated({"site": FEW, "kept_in": [{"from": "01-01", "to": "12-31", "why": "no\nbirds"}]})
    assert line(always, "2027-06-01 12:00") == (
        "Cow byre: door down (no birds), no move planned within 400 days; look today: shut, birds in, food, water, air?"
    )
    found = plain(hut_now(always, instant_of(always, "2027-06-01 12:00")), "x")
    assert [found[key] for key in ("next_move", "next_utc", "why", "look_at")] == [None] * 4


def test_a_polar_night_says_so_and_when_it_ends() -> None:
    text = line(configuration_of("birch_hollow"), "2027-12-20 12:00")
    assert text == (
        "Birch hollow: door down (no twilight) until Wed 12 Jan 2028 09:30 (not after); "
        "look today: shut, 9 in, food, water, air?"
    )


@pytest.mark.parametrize(("at", "utc"), [("2027-03-28 01:30", "00:30"), ("2027-03-28 03:30", "01:30")])
def test_a_moment_beside_the_clock_change(at: str, utc: str) -> None:
    # Directive 2000/84/EC: on the last Sunday of March, at 01:00 UTC, clocks go from 02:00 to 03:00 in Vienna.
    vienna = validated({"site": FEW})
    assert instant_of(vienna, at) == dt.datetime.fromisoformat(f"2027-03-28T{utc}:00+00:00")
    found = plain(hut_now(vienna, instant_of(vienna, at)), "x")
    assert found["door"] == "down"
    assert found["next_civil"].startswith("2027-03-28 06:")
    assert found["next_utc"].startswith("2027-03-28T04:")


def test_a_moment_with_an_offset_is_that_moment() -> None:
    vienna = validated({"site": FEW})
    moments = {instant_of(vienna, text) for text in ("2027-06-01T12:00Z", "2027-06-01 14:00+02:00", "2027-06-01 14:00")}
    assert len(moments) == 1


@pytest.mark.parametrize("date", ["1990-01-01", "2052-12-31"])
def test_the_first_and_the_last_day_that_the_sun_is_known_for(date: str) -> None:
    vienna = validated({"site": {**FEW, "longitude_deg": 0.0, "zone": "Etc/UTC"}})
    assert " door " in line(vienna, f"{date} 12:00")


def run(*words: str) -> tuple[int, str, str]:
    """Exit code, standard output and standard error of a run in this process."""
    done = CliRunner().invoke(app, ["today", *words])
    return done.exit_code, done.stdout, done.stderr


def test_a_broken_file_among_good_ones_is_told_and_the_others_are_answered(tmp_path: Path) -> None:
    broken = tmp_path / "broken.toml"
    broken.write_text("[site]\nlatitude_deg = 95\nlongitude_deg = 1\nzone = 'Europe/Vienna'\n", encoding="utf-8")
    files = [str(PLACES["larch_end"]), str(broken), str(PLACES["fig_yard"])]
    code, out, err = run(*files, "--at", "2027-03-28 18:20")
    assert code == 78
    assert [text.partition(":")[0] for text in out.splitlines() if not text.startswith(" ")] == [
        "Larch end (Zurich time)",
        "Fig yard (Nairobi time)",
    ]
    assert err == f"error: {broken}: site.latitude_deg is 95; wanted a number from -89.9 to 89.9\n"
    code, out, _ = run(*files, "--at", "2027-03-28 18:20", "--json")
    listed: list[dict[str, Any]] = json.loads(out)
    assert code == 78
    assert [set(entry) & {"error", "door"} for entry in listed] == [{"door"}, {"error"}, {"door"}]
    assert [entry["file"] for entry in listed] == files
    keys = {"site", "now", "door", "next_move", "next_utc", "why", "look_at"}
    assert keys <= set(listed[0])


@pytest.mark.parametrize("at", ["yesterday", "2027-13-01 10:00", "10:00", "1989-06-01 12:00", "2053-06-01 12:00"])
def test_a_moment_that_cannot_be_is_a_usage_error(at: str) -> None:
    code, out, err = run(str(PLACES["larch_end"]), "--at", at)
    assert (code, out) == (2, "")
    assert "wanted" in err


def test_without_a_moment_it_is_now() -> None:
    before = dt.datetime.now(dt.UTC).replace(microsecond=0)
    _, out, _ = run(str(PLACES["larch_end"]), "--json")
    now = dt.datetime.fromisoformat(json.loads(out)[0]["now"])
    assert before - dt.timedelta(seconds=1) <= now <= dt.datetime.now(dt.UTC) + dt.timedelta(seconds=1)
