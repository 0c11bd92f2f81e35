"""The commands as a keeper types them: data on stdout, messages on stderr, exit codes, pipes, nothing else."""

from __future__ import annotations

import json
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from sunsched import __version__
from sunsched.cli.app import COMMANDS
from sunsched.config.toml_file import read
from tests.support.command_line import sunsched

ROOT = Path(__file__).parents[2]
LARCH = ROOT / "configs" / "larch_end.toml"


def test_version_and_help() -> None:
    assert sunsched("--version").stdout.startswith(f"sunsched {__version__} (tzdata ")
    done = sunsched("--help")
    assert done.returncode == 0
    assert all(f"  {name} " in done.stdout for name in COMMANDS)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help(name: str) -> None:
    done = sunsched(name, "--help")
    assert done.returncode == 0, done.stderr
    assert f"sunsched {name}" in done.stdout


def test_usage_errors_end_with_2() -> None:
    assert sunsched("tabel").returncode == 2
    assert sunsched("table", str(LARCH), "--year", "1850").returncode == 2
    assert sunsched("table", str(LARCH), "--year", "2027", "--as", "xml").returncode == 2
    assert sunsched("day", str(LARCH), "28.3.2027").returncode == 2


def test_compact_tables_say_their_size_and_refuse_too_small_a_room(tmp_path: Path) -> None:
    words = ("table", str(ROOT / "configs" / "fig_yard.toml"), "--year", "2028", "--layout", "auto")
    done = sunsched(*words, "--as", "c", "--as", "eeprom", "--json", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    result = json.loads(done.stdout)
    assert result["worst_error_min"] == result["days_inexact"] == 0
    assert (tmp_path / "fig_yard_2028.bin").stat().st_size == result["image_bytes"]
    assert set(result["files"]) == {path.name for path in tmp_path.iterdir()}
    refused = sunsched(*words, "--as", "eeprom", "--room", "40", "--out", "small", cwd=tmp_path)
    assert refused.returncode == 1
    assert f"{result['image_bytes'] - 40} more than the room of 40" in refused.stderr
    assert not (tmp_path / "small").exists()


def test_many_years_are_one_table(tmp_path: Path) -> None:
    words = ("table", str(ROOT / "configs" / "fig_yard.toml"), "--years", "2027..2030", "--worst-error", "1")
    done = sunsched(*words, "--as", "c", "--as", "csv", "--json", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    result = json.loads(done.stdout)
    assert (result["layout"], result["days"]) == ("years", 4 * 365 + 1)
    assert result["worst_error_min"] <= 1
    assert {f"fig_yard_{year}.csv" for year in range(2027, 2031)} <= set(result["files"])
    assert sunsched("table", str(LARCH), "--years", "2030..2027").returncode == 2
    assert sunsched("table", str(LARCH), "--year", "2027", "--years", "2027..2028").returncode == 2


def test_sample_works_as_it_is(tmp_path: Path) -> None:
    assert sunsched("sample", "-o", "hut.toml", cwd=tmp_path).returncode == 0
    made = sunsched("table", "hut.toml", "--year", "2027", "--json", cwd=tmp_path)
    assert made.returncode == 0, made.stderr
    result = json.loads(made.stdout)
    assert result["days"] == 365
    assert sorted(result["files"]) == ["larch_end_2027.csv", "larch_end_2027.h", "larch_end_2027.json"]
    assert sunsched("sample", "-o", "hut.toml", cwd=tmp_path).returncode == 0
    (tmp_path / "hut.toml").write_text("# my own\n")
    assert sunsched("sample", "-o", "hut.toml", cwd=tmp_path).returncode == 73


@pytest.mark.parametrize("place", ["-45.2 169.9 Pacific/Auckland", "69.1 24.4 Europe/Oslo", "39.5 76.0 Asia/Shanghai"])
def test_sample_works_for_any_place(place: str) -> None:
    latitude, longitude, zone = place.split()
    text = sunsched("sample", "--latitude", latitude, "--longitude", longitude, "--zone", zone).stdout
    done = sunsched("table", "-", "--year", "2028", "--as", "csv", "--out", "-", stdin=text)
    assert done.returncode == 0, done.stderr
    assert done.stdout.count("\n") == 367


def test_sample_asks_in_plain_words_and_again() -> None:
    answers = 'Böd "x"\nnorth\n60,2\n-1.3\nEurope/Lodon\nEurope/London\n07:30\n20\n'
    done = sunsched("sample", "--ask", stdin=answers)
    assert done.returncode == 0, done.stderr
    assert "the nearest is Europe/London" in done.stderr
    result = tomllib.loads(done.stdout)
    assert result["site"] == {"name": 'Böd "x"', "latitude_deg": 60.2, "longitude_deg": -1.3, "zone": "Europe/London"}
    assert result["morning"]["not_before"] == "07:30"
    assert result["morning"]["weekday_later_min"] == {"sat": 20, "sun": 20}
    assert sunsched("sample", "--ask", stdin="Hut\n").returncode == 2


def test_settings_reads_back_equal(config_path: Path, tmp_path: Path) -> None:
    text = sunsched("settings", str(config_path)).stdout
    (tmp_path / "again.toml").write_text(text)
    assert read(tmp_path / "again.toml") == read(config_path)
    assert json.loads(sunsched("settings", str(config_path), "--json").stdout) == tomllib.loads(text)


# The listed shape: a row for each solar noon and depression, local date, UTC times or null, and a state.
def test_twilight_lists_every_noon() -> None:
    config = ROOT / "configs" / "birch_hollow.toml"
    rows = json.loads(sunsched("twilight", str(config), "--year", "2027", "--json", "--depression", "4.5").stdout)
    assert len(rows) == 365 * 5
    keys = ["date", "depression_deg", "morning_utc", "morning_state", "evening_utc", "evening_state"]
    assert all(list(row) == keys for row in rows)
    assert {row["depression_deg"] for row in rows} == {0.8333, 4.5, 6.0, 12.0, 18.0}
    assert {row["evening_state"] for row in rows} == {"crosses", "always_above", "always_below"}
    assert all((row["evening_utc"] is None) == (row["evening_state"] != "crosses") for row in rows)
    alone = json.loads(
        sunsched("twilight", str(config), "--year", "2027", "--json", "--depression", "4.5", "--only").stdout
    )
    assert [row["depression_deg"] for row in alone] == [4.5] * 365


# IANA tz, rule EU: on 2027-03-28 clocks go from UTC+1 to UTC+2.
def test_day_shows_the_steps() -> None:
    result = json.loads(sunsched("day", str(LARCH), "2027-03-28", "--json").stdout)
    assert result["utc_offset_min"] == 120
    morning = [step["step"] for step in result["steps"] if step["side"] == "morning"]
    assert morning == ["twilight", "later", "weekday"]
    assert result["open"]["reason"] == "weekday"
    assert "opens " + result["open"]["civil"] in sunsched("day", str(LARCH), "2027-03-28").stdout


def test_quiet_anywhere_says_nothing_on_stderr(tmp_path: Path) -> None:
    loud = sunsched("table", str(LARCH), "--year", "2028", "--all", cwd=tmp_path)
    assert "warning: kept_in 2027-11-20 to 2027-12-15 touches no day of 2028" in loud.stderr
    assert "\x1b[" not in loud.stderr
    assert sunsched("table", str(LARCH), "--year", "2028", "--quiet", cwd=tmp_path).stderr == ""
    assert sunsched("-q", "table", str(LARCH), "--year", "2028", cwd=tmp_path).stderr == ""


def test_a_closed_pipe_ends_quietly() -> None:
    command = f"{sys.executable} -m sunsched twilight {LARCH} --year 2027 --json | head -n 1"
    done = subprocess.run(
        ["bash", "-o", "pipefail", "-c", command], cwd=ROOT, capture_output=True, text=True, timeout=60
    )
    assert (done.stdout, done.stderr) == ("[\n", "")


# Loading skyfield or astral would more than double the time of a table; rich is for progress bars on terminals.
@pytest.mark.parametrize(
    ("words", "unwanted"),
    [
        (["--help"], ("numpy", "pydantic", "rich", "skyfield", "astral")),
        (
            ["--quiet", "table", str(LARCH), "--year", "2027", "--out", "-", "--as", "json"],
            ("rich", "skyfield", "astral", "scipy"),
        ),
    ],
)
def test_commands_load_no_more_than_they_use(words: list[str], unwanted: tuple[str, ...]) -> None:
    code = (
        "import sys\n"
        "from sunsched.cli.app import run\n"
        f"try: run({words!r})\n"
        "except SystemExit: pass\n"
        f"sys.stderr.write('\\nloaded: ' + ' '.join(m for m in {unwanted!r} if m in sys.modules))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=60, check=True
    )
    assert done.stderr.splitlines()[-1] == "loaded: "
