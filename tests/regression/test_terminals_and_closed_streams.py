"""Control characters of names and logs reached the terminal; closed streams changed exit codes or gave tracebacks."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from sunsched.cli.app import app

ROOT = Path(__file__).parents[2]
NAME = "Larch\\u001b]0;x\\u0007 \\u009b31m \\u202eend"
EVIL = ("\x1b", "\x07", "\x9b", "\u202e", "\x7f")


def config_in(folder: Path) -> Path:
    text = (ROOT / "configs" / "larch_end.toml").read_text(encoding="utf-8")
    path = folder / "hut.toml"
    path.write_text(text.replace('name = "Larch end"', f'name = "{NAME}"'), encoding="utf-8")
    assert NAME in path.read_text(encoding="utf-8")
    return path


@pytest.mark.parametrize(
    "words",
    [
        ["settings"],
        ["settings", "--json"],
        ["table", "--year", "2027", "--out", "OUT"],
        ["day", "2027-03-01"],
        ["handover", "--from", "2027-03-01", "--to", "2027-03-03"],
        ["clock"],
    ],
    ids=lambda words: " ".join(words[:2]),
)
def test_a_name_gives_no_orders_to_a_terminal(words: list[str], tmp_path: Path) -> None:
    config = config_in(tmp_path)
    filled = [str(tmp_path / "out") if word == "OUT" else word for word in words[1:]]
    result = CliRunner().invoke(app, [words[0], str(config), *filled])
    assert result.exit_code == 0, result.output
    assert [hex(ord(ch)) for ch in EVIL if ch in result.output] == []


def test_settings_read_back_with_such_a_name(tmp_path: Path) -> None:
    from sunsched.config.toml_file import parsed, read

    config = config_in(tmp_path)
    printed = CliRunner().invoke(app, ["settings", str(config)]).stdout
    assert parsed(printed.encode(), "printed") == read(config)


def test_a_log_and_a_files_name_give_no_orders_either(tmp_path: Path) -> None:
    log = tmp_path / "l\x1bog.csv"
    log.write_text("time,lux\n2027-03-01 18:30,\x1b[31mfive\n2027-03-01 18:31,\x1b[31mfour\n")
    result = CliRunner().invoke(app, ["replay", str(config_in(tmp_path)), str(log)])
    assert result.exit_code == 65
    assert "\\u001b" in result.output and "\x1b" not in result.output


def run(command: str) -> tuple[int, str]:
    """A command line in a shell, sunsched for the program; exit code and standard error."""
    words = command.replace("sunsched", f"{sys.executable} -m sunsched")
    done = subprocess.run(
        ["bash", "-c", f"set -o pipefail; {words}"], cwd=ROOT, capture_output=True, timeout=120, env=_environment()
    )
    return done.returncode, done.stderr.decode()


def _environment() -> dict[str, str]:
    import os

    return {**os.environ, "PYTHONPATH": str(ROOT)}


def test_a_closed_standard_error_changes_no_exit_code() -> None:
    assert run("sunsched settings nowhere.toml 2>&-")[0] == 66
    assert run("sunsched settings configs/larch_end.toml 2>&- >/dev/null")[0] == 0
    assert run("sunsched table configs/birch_hollow.toml --year 2027 --as csv --out - 2>&- >/dev/null")[0] == 0


def test_a_closed_pipe_changes_no_exit_code(tmp_path: Path) -> None:
    table = tmp_path / "t.csv"
    assert run(f"sunsched table configs/larch_end.toml --year 2027 --as csv --out - > {table}")[0] == 0
    # Another site's plan: it differs, whoever reads the list of days.
    assert run(f"sunsched readback {table} configs/birch_hollow.toml --json | true") == (1, "")
    assert run("sunsched twilight configs/larch_end.toml --year 2027 | true") == (0, "")
    assert run("sunsched --help | true") == (0, "")


@pytest.mark.parametrize("words", ["--help", "--version", "table --help"])
def test_help_on_a_full_disk(words: str) -> None:
    assert run(f"sunsched {words} > /dev/full") == (73, "error: standard output: No space left on device\n")


@pytest.mark.parametrize(
    ("zone", "year", "longitude"), [("Pacific/Apia", 2011, -171.7), ("Pacific/Kwajalein", 1993, 167.7)]
)
def test_a_year_without_a_day_on_a_civil_clock(zone: str, year: int, longitude: float, tmp_path: Path) -> None:
    path = tmp_path / "hut.toml"
    place = f'[site]\nlatitude_deg = 9.0\nlongitude_deg = {longitude}\nzone = "{zone}"\n'
    path.write_text(place + '[chip]\nkeeps = "civil"\n')
    words = ["table", str(path), "--out", str(tmp_path / "out"), "--as", "csv", "--year"]
    result = CliRunner().invoke(app, [*words, str(year)])
    assert (result.exit_code, "chip.keeps is 'civil', but the clocks of" in result.output) == (78, True), result.output
    assert CliRunner().invoke(app, [*words, str(year + 1)]).exit_code == 0
