"""A time without quotes, a southern place, a mistyped command, and two huts of one name, as they were once told."""

from __future__ import annotations

from pathlib import Path

from tests.support.command_line import sunsched

SITE = '[site]\nname = "{}"\nlatitude_deg = {}\nlongitude_deg = {}\nzone = "{}"\n'
NELSON = SITE.format("Hut", -41.29, 173.25, "Pacific/Auckland")
ZURICH = SITE.format("Hut", 47.318, 8.949, "Europe/Zurich")


def test_a_time_without_quotes_is_told_as_it_stands(tmp_path: Path) -> None:
    (tmp_path / "hut.toml").write_text(f"{ZURICH}[evening]\nnot_before = 07:00:00\n")
    said = sunsched("table", "hut.toml", "--year", "2027", cwd=tmp_path)
    assert said.returncode == 78
    assert "evening.not_before is 07:00:00; wanted a civil time in quotes" in said.stderr


def test_a_southern_place_has_no_sign(tmp_path: Path) -> None:
    place = ("--latitude", "-41.29", "--longitude", "173.25", "--zone", "Pacific/Auckland")
    said = sunsched("sample", *place, "-o", "hut.toml", cwd=tmp_path)
    assert "the place, 41.29 S 173.25 E, and the zone" in said.stdout + said.stderr


def test_a_mistyped_command_is_told_the_nearest(tmp_path: Path) -> None:
    said = sunsched("tabel", cwd=tmp_path)
    assert said.returncode == 2 and "No such command 'tabel'; nearest is 'table'." in said.stderr
    assert "nearest" not in sunsched("xyzzy", cwd=tmp_path).stderr


def test_huts_of_one_name_and_of_two_zones_are_told_apart(tmp_path: Path) -> None:
    for name, text in (("a.toml", ZURICH), ("b.toml", ZURICH), ("c.toml", NELSON)):
        (tmp_path / name).write_text(text)

    def names(*files: str) -> list[str]:
        lines = sunsched("today", *files, "--at", "2027-03-01 12:00", cwd=tmp_path).stdout.splitlines()
        return [line.partition(": door")[0] for line in lines]

    assert names("a.toml") == ["Hut"]
    assert names("a.toml", "b.toml") == ["Hut (a.toml)", "Hut (b.toml)"]
    assert names("b.toml", "c.toml") == ["Hut (b.toml, Zurich time)", "Hut (c.toml, Auckland time)"]
