"""What the page shows is what the commands say: the same warnings, minutes, steps and figures."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from sunsched.base.civil_time import clock_text
from sunsched.cli.app import app
from sunsched.config import sample, toml_file
from sunsched.job import pipeline
from sunsched.job.comparison import FOLLOW_LIGHT, LATE_MINUTE, climate_of, stage_of
from sunsched.job.short_comparison import can_stand_beside, short_comparison
from sunsched.job.warnings import Parts
from sunsched.plan.planning import year_plan
from sunsched.planner import work
from sunsched.planner.lanes import Overtaken
from sunsched.planner.work import Asked, Machines
from sunsched.study import tally
from sunsched.study.block import run_block, weather_rng
from sunsched.study.choices import choices
from sunsched.study.tally import BIRD_FIGURES, Sums, year_figures
from tests.conftest import CONFIGS
from tests.planner.served import NOW

DAY = dt.date(2027, 3, 28)
LARCH = CONFIGS[0].parent / "larch_end.toml"


def asked(text: str, typed: dict[str, str] | None = None, name: str = "hut.toml") -> Asked:
    """A request for 2027."""
    return Asked(text, name, 2027, DAY, typed or {})


def command(*words: str) -> dict[str, object]:
    """A command's JSON; a verdict that fails ends it with 1."""
    done = CliRunner().invoke(app, [*words, "--json"])
    assert done.exit_code in (0, 1), done.stderr
    found: dict[str, object] = json.loads(done.stdout)
    return found


def test_the_warnings_are_the_commands(config_path: Path, tmp_path: Path) -> None:
    machines = Machines()
    one = asked(config_path.read_text(), name=str(config_path))
    first = work.quick(one, NOW, machines)
    later = work.battery(one, machines)
    told = command("table", str(config_path), "--year", "2027", "--as", "c", "-o", str(tmp_path))["warnings"]
    assert [warned["text"] for warned in later["warnings"]] == told
    # What is shown at once is the same list but for the battery's, and says so; the next change has them all.
    assert first["battery_to_come"] == later["described"]
    assert {warned["text"] for warned in first["warnings"]} <= {warned["text"] for warned in later["warnings"]}
    again = work.quick(asked(one.text, {"evening.later_min": "1"}, one.name), NOW, machines)
    assert not again["battery_to_come"]
    moved = asked(again["text"], name=one.name)
    assert work.battery(moved, Machines())["warnings"] == again["warnings"]


def test_minutes_and_steps_are_the_commands(config_path: Path) -> None:
    found = work.quick(asked(config_path.read_text(), name=str(config_path)), NOW, Machines())
    assert found["day"] == command("day", str(config_path), DAY.isoformat())
    row = (DAY - dt.date(2027, 1, 1)).days
    for side in ("open", "close"):
        assert clock_text(found["days"][side][row]) == found["day"][side]["civil"]
    assert found["map"].startswith("<svg") and 'id="year-mark"' in found["map"]


def test_a_change_of_the_machine_is_worked_out_anew() -> None:
    machines, text = Machines(), LARCH.read_text()
    before = work.battery(asked(text), machines)
    # Written as it is by default: no value moves, but it counts as measured now, which narrows its range.
    written = asked(text, {"battery.self_discharge_share_month": "0.03"})
    assert work.battery(written, machines) and len(machines._found) == 2
    smaller = work.battery(asked(text, {"battery.capacity_ah": "2"}), machines)
    assert smaller["over_limit"] > before["over_limit"]
    assert work.battery(asked(text), machines) == before


def test_a_wrong_value_is_told_at_its_field_and_the_text_stays() -> None:
    text = LARCH.read_text()
    found = work.quick(asked(text, {"site.latitude_deg": "97"}), NOW, Machines())
    assert not found["ok"] and "text" not in found
    assert found["problems"] == [
        {"field": "site.latitude_deg", "text": "site.latitude_deg is 97.0; wanted a number from -89.9 to 89.9"}
    ]
    # A rule that only a year's plan shows stands at the field of its section that was typed into.
    found = work.quick(asked(text, {"evening.not_after": "", "evening.later_min": "700"}), NOW, Machines())
    assert [one["field"] for one in found["problems"]] == ["evening.later_min"]
    # Two values that are right only together are taken together.
    both = {"evening.not_after": "15:00", "evening.not_before": "14:30"}
    assert not work.quick(asked(text, {"evening.not_after": "15:00"}), NOW, Machines())["ok"]
    assert (
        'not_after = "15:00"' in work.quick(asked(text, both | {"morning.not_after": "08:00"}), NOW, Machines())["text"]
    )


@pytest.mark.parametrize("text", ["", "[site", "x = 1\n", "[site]\nlatitude_deg = 1\n"])
def test_a_text_with_mistakes_has_problems_and_no_year(text: str) -> None:
    found = work.quick(asked(text), NOW, Machines())
    assert not found["ok"] and found["problems"]


def test_a_zone_typed_before_its_place_is_told_at_the_longitude() -> None:
    zone = {"site.zone": "Pacific/Auckland"}
    told = work.quick(asked(LARCH.read_text(), zone), NOW, Machines())["problems"]
    assert [one["field"] for one in told] == ["site.longitude_deg"] and "solar noon" in told[0]["text"]
    clock = work.quick(asked(LARCH.read_text(), zone | {"chip.keeps": "standard"}), NOW, Machines())["problems"]
    assert [one["field"] for one in clock] == ["chip.keeps"]
    place = zone | {"site.latitude_deg": "-44.62", "site.longitude_deg": "169.02"}
    assert work.quick(asked(LARCH.read_text(), place), NOW, Machines())["ok"]


def test_one_moment_takes_the_place_of_another() -> None:
    found = work.quick(asked(LARCH.read_text(), {"evening.twilight": "nautical"}), NOW, Machines())
    shown = found["fields"]
    assert (shown["evening.twilight"]["given"], shown["evening.depression_deg"]["given"]) == ("nautical", "")


def test_birds_and_minutes_are_those_of_compare_within_its_error() -> None:
    c = toml_file.read(LARCH)
    found, sums = short_comparison(c, 2027, 16), Sums()
    plan = pipeline.plan_of(c, 2027)
    chosen = choices(c.rules, c.light_cell, plan, lambda rules: year_plan(c.site, c.chip, rules, 2027, c.light_cell))
    climate = climate_of(c.site.latitude_deg, None)[0]
    stage = stage_of(c, plan, climate, chosen, follow_light=FOLLOW_LIGHT, late_minute=LATE_MINUTE)
    sums.add(year_figures(run_block(stage, 16, weather_rng(1, 0), 0)))
    for figure in ("birds_out", "open_after_dark_min"):
        for n, one in enumerate(found.estimates(figure)):
            theirs = tally.estimate(sums, n, chosen.own_row, BIRD_FIGURES.index(figure))
            # The same weather, met by a few birds more or less: far nearer than the years' own spread.
            assert abs(one.mean - theirs.mean) < one.error
            assert 0.5 < one.error / theirs.error < 2


def test_before_and_now_meet_the_same_weather() -> None:
    text = LARCH.read_text()
    now = work.birds(asked(text, {"evening.later_min": "20"}), 16, lambda: None, before=text)
    alone = [work.birds(asked(one), 16, lambda: None) for one in (text, text.replace("4.5", "4.5\nlater_min = 20"))]
    for n, difference in enumerate(now["differences"]["birds_out"]):
        before, after = (found["birds_out"][n] for found in alone)
        # Its error is that of years met by both, less than the two errors of the means would give.
        assert difference["within"] < before["within"]
        assert abs(difference["mean"] - (after["mean"] - before["mean"])) < before["within"]
    assert now["differences"]["birds_out"][0]["mean"] < 0 and now["differences"]["birds_out"][0]["told"]
    assert alone[0]["differences"] is None


def test_settings_of_two_places_are_not_set_beside_each_other() -> None:
    text = LARCH.read_text()
    found = work.birds(asked(text, {"site.latitude_deg": "48"}), 16, lambda: None, before=text)
    assert found["apart"] and found["differences"] is None
    one = toml_file.parsed(text.encode(), "x")
    other = toml_file.parsed(text.replace("sky_view = 0.4", "sky_view = 0.5").encode(), "x")
    assert not can_stand_beside(one, other)
    assert can_stand_beside(one, toml_file.parsed(text.replace("dark_lux = 5.0", "dark_lux = 4.0").encode(), "x"))


def test_overtaken_work_ends_at_its_next_block() -> None:
    def tick() -> None:
        raise Overtaken

    with pytest.raises(Overtaken):
        work.birds(asked(LARCH.read_text()), 16, tick)


def test_a_flock_of_none_is_not_counted() -> None:
    assert work.birds(asked(LARCH.read_text(), {"flock.birds": "0"}), 16, lambda: None) == {"birds": 0}


def test_the_sample_with_which_a_new_site_begins_has_a_year() -> None:
    assert work.quick(asked(sample.text(sample.Answers(name="Hut"))), NOW, Machines())["ok"]


def test_no_more_machines_are_kept_than_a_few() -> None:
    machines, parts = Machines(), Parts(None, None, ())
    for n in range(20):
        machines.keep(str(n), parts)
    assert machines.known("0") is None and machines.known("19") is parts
    assert len(machines._found) == work._KEPT_MACHINES
