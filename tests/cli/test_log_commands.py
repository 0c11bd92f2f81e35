"""cell, clock, replay and angle as a keeper types them: data on stdout, messages on stderr, exit codes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.support.command_line import sunsched
from tests.support.made_logs import light_lux, lux_log, stamped, times

ROOT = Path(__file__).parents[2]
LARCH = str(ROOT / "configs" / "larch_end.toml")
BIRCH = str(ROOT / "configs" / "birch_hollow.toml")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with logs and a list of nights for Larch end."""
    made = tmp_path_factory.mktemp("logs")
    when = times("2027-03-01", 5, 2)
    lines = lux_log(when, light_lux(when))
    (made / "good.csv").write_text("\n".join(lines) + "\n")
    swapped = [",".join(reversed(line.split(","))) for line in lines[1:]]
    (made / "swapped.csv").write_text("\n".join([lines[0], *swapped]) + "\n")
    (made / "comma.csv").write_text("\n".join(line.replace(".", ",") for line in lines) + "\n")
    dusks = times("2027-03-01", 19, 1440) + 17 * 60 + 32
    (made / "nights.csv").write_text("\n".join(text.replace(" ", ",") for text in stamped(dusks)) + "\n")
    return made


def test_cell(config_path: Path) -> None:
    done = sunsched("cell", str(config_path), "--json", "--all")
    assert done.returncode == 0, done.stderr
    report = json.loads(done.stdout)
    keys = {"light_cell", "thresholds", "resistors", "sensors", "months", "warnings", "advised", "cautions"}
    assert set(report) == keys
    assert len(report["months"]) == 24
    assert done.stderr.count("warning:") == len(report["warnings"])


def test_clock_judges_a_reading() -> None:
    done = sunsched("clock", LARCH, "--noted", "2027-06-01 13:03:20", "--true", "2027-06-01 13:03:00", "--json")
    assert done.returncode == 0, done.stderr
    report = json.loads(done.stdout)
    # standard time is an hour behind summer time: by hand 3600 + 20 s
    assert report["noted"]["error_s"] == pytest.approx(3620)
    assert "summer time" in done.stderr
    assert sunsched("clock", LARCH, "--noted", "2027-06-01 13:03:20").returncode == 2
    assert sunsched("clock", LARCH, "--error-min", "0").returncode == 2


def test_replay_writes_values_and_a_picture(folder: Path) -> None:
    done = sunsched("replay", LARCH, "good.csv", "--json", "--unit", "lux", "--chart", "c.svg", cwd=folder)
    assert done.returncode == 0, done.stderr
    report = json.loads(done.stdout)
    assert report["log"]["clock_from"] == "found"
    assert report["summary"]["evening"]["both"]["judged"] == 5
    assert (folder / "c.svg").read_text().startswith("<svg")
    again = sunsched("replay", LARCH, "-", "--json", stdin=(folder / "good.csv").read_text())
    assert json.loads(again.stdout)["summary"] == report["summary"]
    assert sunsched("replay", LARCH, "good.csv", "--chart", "c.svg", cwd=folder).returncode == 0
    (folder / "c.svg").write_text("mine")
    assert sunsched("replay", LARCH, "good.csv", "--chart", "c.svg", cwd=folder).returncode == 73


@pytest.mark.parametrize(
    ("log", "options", "code", "words"),
    [
        ("swapped.csv", (), 65, "the columns are swapped"),
        ("comma.csv", (), 65, "row 2: 3 columns where the first row has 2: a decimal comma?"),
        ("good.csv", ("--zone", "utc"), 65, "--zone +01:00 would fit"),
        ("good.csv", ("--zone", "somewhere"), 2, "--zone is 'somewhere'"),
        ("good.csv", ("--chart", "c.gif"), 2, "wanted a file ending in .svg or .png"),
        ("none.csv", (), 66, "there is no such file; wanted a light log"),
        (".", (), 66, "is a folder"),
    ],
)
def test_replay_refuses(folder: Path, log: str, options: tuple[str, ...], code: int, words: str) -> None:
    done = sunsched("replay", LARCH, log, *options, cwd=folder)
    assert done.returncode == code, done.stderr
    assert words in done.stderr
    assert done.stdout == ""
    assert "Traceback" not in done.stderr


def test_angle_writes_a_configuration_that_reads(folder: Path) -> None:
    done = sunsched("angle", LARCH, "nights.csv", "--write", "new.toml", "--json", cwd=folder)
    assert done.returncode == 0, done.stderr
    assert f"comments of {LARCH} are not carried over" in done.stderr
    report = json.loads(done.stdout)
    assert len(report["nights"]) == 19
    assert report["chance_next_later"] == pytest.approx(0.05)
    settings = sunsched("settings", "new.toml", cwd=folder)
    assert settings.returncode == 0, settings.stderr
    assert f"depression_deg = {report['depression_deg']}" in settings.stdout
    assert sunsched("angle", LARCH, "nights.csv", "--write", LARCH, cwd=folder).returncode == 73


def test_angle_with_a_log_and_from_stdin(folder: Path) -> None:
    nights = (folder / "nights.csv").read_text()
    done = sunsched("angle", LARCH, "-", "--light", "good.csv", "--json", cwd=folder, stdin=nights)
    assert done.returncode == 0, done.stderr
    report = json.loads(done.stdout)
    measured = [night["measured_lux"] for night in report["nights"]]
    assert all(lux is not None for lux in measured[:4]) and measured[10] is None
    assert report["following"] is None
    assert sunsched("angle", "-", "-").returncode == 2
    bad = sunsched("angle", LARCH, "-", stdin="2027-03-01,morning\n")
    assert bad.returncode == 65
    assert "row 1: time 'morning'" in bad.stderr


def test_a_polar_site(folder: Path) -> None:
    done = sunsched("cell", BIRCH, "--all")
    assert done.returncode == 0, done.stderr
    assert "never" in done.stdout
