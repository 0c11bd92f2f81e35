"""`replay` of the door's own log said "the door did 21:34 dusk" of a door that halted half-way on that evening."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from typer.testing import CliRunner

from sunsched.cli.app import app
from sunsched.job.logs.replay import Replay, replay_of
from sunsched.report.text.replay import replay_text
from tests.chip import sites
from tests.chip.runs import ChipRun

LARCH = sites.CONFIGS / "larch_end.toml"
HEAD = """# sunsched door log, revision 1
# site Larch end
# chip_offset_min 60
date,time,event,counts,door,move,reason,alarms
"""
# Larch end at the start of April: closes about 19:20 chip time, opens at 06:30 or later. Invented rows.
GOOD = """2027-04-04,19:21:00,move,100,moving_down,lower,dusk,
2027-04-04,19:21:12,ended,98,down,lower,dusk,
2027-04-05,06:31:00,move,500,moving_up,raise,dawn,
2027-04-05,06:31:06,ended,500,up,raise,dawn,
"""
HALTED = """2027-04-05,19:22:00,move,100,moving_down,lower,dusk,
2027-04-05,19:22:17,ended,98,halted,lower,dusk,not_down
2027-04-05,19:22:17,alarm,98,halted,lower,dusk,not_down
"""


def replayed(tmp_path: Path, rows: str) -> Replay:
    path = tmp_path / "door.log"
    path.write_text(HEAD + rows)
    return replay_of(sites.built("larch_end", 2027).configuration, path)


def first_line(replay: Replay) -> str:
    """The answer, which is folded under itself where it is longer than a terminal's line."""
    lines = replay_text(replay).splitlines()
    end = next(n for n in range(1, len(lines)) if not lines[n].startswith("  "))
    return " ".join(line.strip() for line in lines[:end])


def test_the_halted_night_leads(tmp_path: Path) -> None:
    replay = replayed(tmp_path, GOOD + HALTED)
    assert [(one.date, one.state, one.civil) for one in replay.nights] == [
        ("2027-04-04", "down", "20:21"),
        ("2027-04-05", "halted", "20:22"),
    ]
    wanted = "THE DOOR: HALTED HALF-WAY: 2027-04-05 20:22; down on 1 of 2 nights; alarms: not_down."
    assert first_line(replay) == wanted
    done = CliRunner().invoke(app, ["replay", str(LARCH), str(tmp_path / "door.log")])
    assert " ".join(done.stdout.split()).startswith(wanted)


@pytest.mark.parametrize(
    ("rows", "state", "line"),
    [
        (GOOD, "down", "THE DOOR: down on every night (1); no alarm."),
        # the third try got it down
        (
            HALTED + "2027-04-05,19:25:00,ended,90,down,lower,dusk,\n",
            "down",
            "THE DOOR: down on every night (1); alarms: not_down.",
        ),
        # tries used up: the program leaves the plate where it lies and takes it for lowered
        (
            HALTED + "2027-04-05,19:25:00,ended,90,down,lower,dusk,not_down\n",
            "no switch",
            "THE DOOR: LOWERED, BUT THE LOWER SWITCH DID NOT SAY SO: 2027-04-05 20:25; down on 0 of 1 nights; "
            "alarms: not_down.",
        ),
        (
            "2027-04-05,21:00:00,quarter,3,up,raise,day,\n",
            "up",
            "THE DOOR: STAYED UP: 2027-04-05; down on 0 of 1 nights",
        ),
        ("2027-04-05,18:00:00,quarter,300,up,raise,day,\n", None, "The log lets no evening be judged."),
    ],
)
def test_each_way_a_night_can_end(rows: str, state: str | None, line: str, tmp_path: Path) -> None:
    replay = replayed(tmp_path, rows)
    assert [one.state for one in replay.nights] == ([] if state is None else [state])
    assert first_line(replay).startswith(line)


def test_a_night_without_a_row_between_two_others_is_said(tmp_path: Path) -> None:
    later = GOOD.replace("2027-04-05", "2027-04-07").replace("2027-04-04", "2027-04-06")
    replay = replayed(tmp_path, GOOD + later)
    assert [(one.date[-2:], one.state) for one in replay.nights] == [("04", "down"), ("05", "unknown"), ("06", "down")]
    assert first_line(replay).startswith("THE DOOR: no row of the log says: 2027-04-05; down on 2 of 3 nights")


def test_a_table_taken_into_use_is_no_damage(tmp_path: Path) -> None:
    replay = replayed(tmp_path, GOOD + "2027-04-05,12:00:00,table,700,up,raise,day,\n")
    assert (replay.settled.log.bad_rows, [one.state for one in replay.nights]) == (0, ["down"])


def test_rows_without_light_are_read(tmp_path: Path) -> None:
    bare = "".join(",".join([*row.split(",")[:3], "", *row.split(",")[4:]]) for row in GOOD.splitlines(keepends=True))
    replay = replayed(tmp_path, bare)
    assert (replay.settled.log.bad_rows, [one.state for one in replay.nights]) == (0, ["down"])
    assert first_line(replay) == "THE DOOR: down on every night (1); no alarm."


@pytest.mark.parametrize(("jam_mm", "state"), [(0, "down"), (175, "no switch")])
def test_the_programs_own_log_of_a_jammed_plate(jam_mm: int, state: str, tmp_path: Path) -> None:
    plan = sites.built("larch_end", 2027).plan
    chip_run = ChipRun("larch_end", 2027, plan.row(dt.date(2027, 4, 4)), ["clear"], chip=False)
    chip_run.life.state.door.jam_mm = jam_mm
    chip_run.run()
    path = tmp_path / "door.log"
    path.write_text(chip_run.life.host_log)
    chip_run.life.end()
    night = replay_of(chip_run.configuration, path).nights[0]
    assert (night.date, night.state) == ("2027-04-04", state)
    assert ("not_down" in night.alarms) == (state != "down")
