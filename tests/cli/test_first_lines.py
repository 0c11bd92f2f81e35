"""Every command answers first: docs/first_lines.md is what they print, in 80 columns and 40 lines."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from sunsched.cli.app import COMMANDS
from tools import first_lines
from tools.first_lines import FIRST, PAGE, WORDS, Ran, every_run, page, place, ran

COLUMNS, LINES = 80, 40
# A configuration and a schema are printed whole: they are files, not talk.
WHOLE = {"settings"}
TALKS_TO_A_DOOR = {"chip"}
SERVES_A_PAGE = {"planner"}


@pytest.fixture(scope="session")  # a process that takes over some of these tests may come back for more
def runs() -> dict[str, Ran]:
    """Every command of the page, run once."""
    return every_run()


def shown(run: Ran, name: str) -> list[str]:
    """The lines that a terminal shows; of a file's text on standard output none."""
    return [*([] if name in WHOLE else run.out.splitlines()), *run.err.splitlines()]


def test_every_command_is_on_the_page() -> None:
    assert {name.split()[0] for name in WORDS} | TALKS_TO_A_DOOR | SERVES_A_PAGE == set(COMMANDS)


def test_the_page_is_what_the_commands_print(runs: dict[str, Ran]) -> None:
    old = PAGE.read_text(encoding="utf-8")
    assert page(runs, old) == old
    assert sum(bool(lines) for lines in first_lines.befores(old).values()) >= 21  # today is new


@pytest.mark.parametrize("name", WORDS)
def test_the_answer_comes_first(runs: dict[str, Ran], name: str) -> None:
    lines = runs[name].lines
    if name == "today":  # a hut a line
        assert lines[0].startswith("Larch end: door up until 20:10")
    else:
        # Three sentences, each on its own line.
        assert len(lines) >= FIRST
        assert all(line[0] != " " and line.rstrip().endswith(".") for line in lines[:FIRST]), lines[:FIRST]
    assert "not reached" not in "\n".join(lines)


@pytest.mark.parametrize("name", WORDS)
def test_eighty_columns_and_forty_lines(runs: dict[str, Ran], name: str) -> None:
    lines = shown(runs[name], name)
    if name != "today":  # a hut a line, for those who have several: its length is held in tests/job/test_today.py
        assert [line for line in lines if len(line) > COLUMNS] == []
    assert len(lines) <= LINES, "\n".join(lines)


LIGHT = ("twilight {} --year 2027", "day {} 2027-06-21", "day {} 2027-06", "table {} --year 2027 --as c", "cell {}")
SHIPPED = sorted(path.name for path in (Path(first_lines.ROOT) / "configs").glob("*.toml"))


@pytest.mark.parametrize("name", [name for name in SHIPPED if name != "larch_end.toml"])  # on the page itself
def test_the_shipped_sites_keep_to_them(name: str) -> None:
    with place():
        for words in LIGHT:
            lines = shown(ran(tuple(words.format(name).split())), "")
            assert [line for line in lines if len(line) > COLUMNS] == [], words
            assert 0 < len(lines) <= LINES, words


ZONES = {"America/Denver": -105, "Europe/Berlin": 10, "Pacific/Auckland": 174, "Asia/Kathmandu": 85, "UTC": 0}
MACHINE = """
[door]
travel_mm = 400
plate_kg = {plate_kg}
[spool]
turns_left_when_down = {turns}
[motor]
cutoff_down_s = {cutoff_s}
"""


@pytest.mark.parametrize("seed", range(3))
def test_drawn_sites_keep_to_them(seed: int) -> None:
    draw = random.Random(seed)
    zone = draw.choice(sorted(ZONES))
    name = "".join(draw.choice("abcdefgh ÄØ-") for _ in range(draw.randint(1, 60))).strip() or "a"
    south = -1 if zone == "Pacific/Auckland" else 1
    place_of = f"latitude_deg = {south * draw.uniform(2, 64):.3f}\nlongitude_deg = {ZONES[zone]}\nzone = '{zone}'\n"
    rules = '[evening]\nno_twilight = ["light", "shut"]\n[morning]\nno_twilight = ["light", "shut"]\n'
    machine = {"plate_kg": draw.uniform(0.5, 4), "turns": draw.uniform(1, 20), "cutoff_s": draw.randint(5, 60)}
    with place():
        Path("hut.toml").write_text(f"[site]\nname = '{name}'\n{place_of}{rules}{MACHINE.format(**machine)}")
        for words in (*LIGHT, "drive {}"):
            lines = shown(ran(tuple(words.format("hut.toml").split())), "")
            # The name of a file is not broken.
            assert [line for line in lines if len(line) > COLUMNS and not line.startswith("wrote ")] == [], words
            assert 3 <= len(lines) <= LINES, (words, lines)


def test_all_that_there_is_keeps_to_the_columns() -> None:
    # The comparison's and the battery's whole texts are held in tests/job, where their sums are at hand.
    every: list[tuple[str, ...]] = [("drive", "larch_end.toml"), ("cell", "larch_end.toml")]
    every += [("clock", "larch_end.toml", "--at", "2027-06-01 18:00"), ("replay", "larch_end.toml", "light.csv")]
    every += [("angle", "larch_end.toml", "nights.csv"), ("twilight", "fig_yard.toml", "--year", "2027")]
    with place():
        for words in every:
            lines = shown(ran((*words, "--all")), "")
            assert [line for line in lines if len(line) > COLUMNS] == [], words


def test_twenty_columns_are_enough(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "20")
    with place():
        for words in (
            "drive larch_end.toml",
            "cell larch_end.toml --all",
            "table fig_yard.toml --year 2027 --as c --all",
        ):
            done = ran(tuple(words.split()))
            assert "Traceback" not in done.err and done.out
            assert all(len(line) <= COLUMNS for line in shown(done, ""))
