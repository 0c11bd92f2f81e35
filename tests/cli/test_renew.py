"""`renew` and `batch` as cron and a keeper run them."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.support.command_line import sunsched
from tests.support.made_sites import written

ROOT = Path(__file__).parents[2]
FIG = ROOT / "configs" / "fig_yard.toml"

WHY = "Because 2027: there is no table yet.\n"
DUE = f"out/fig_yard: due.\n{WHY}Next: run it without --check.\n"
RENEWED = f"out/fig_yard: renewed.\n{WHY}Next: put the new table on the chip.\n"


@pytest.fixture
def hut(tmp_path: Path) -> Path:
    """A folder with a configuration."""
    shutil.copy(FIG, tmp_path / "hut.toml")
    return tmp_path


def test_renew_speaks_when_it_has_something_to_say(hut: Path) -> None:
    words = ("renew", "hut.toml", "--out", "out", "--today")
    due = sunsched(*words, "2027-06-01", "--check", cwd=hut)
    assert (due.returncode, due.stdout, due.stderr) == (1, DUE, "")
    assert not (hut / "out").exists()
    made = sunsched(*words, "2027-06-01", cwd=hut)
    assert (made.returncode, made.stderr) == (0, "")
    assert made.stdout == RENEWED
    for extra in ((), ("--check",)):
        quiet = sunsched(*words, "2027-06-02", *extra, cwd=hut)
        assert (quiet.returncode, quiet.stdout, quiet.stderr) == (0, "", "")
    (hut / "out" / "fig_yard" / "fig_yard_2027.h").write_text("/* mine now */")
    mended = sunsched(*words, "2027-06-02", cwd=hut)
    assert (mended.returncode, mended.stdout) == (0, "")
    assert mended.stderr == (
        "warning: out/fig_yard: 2027: fig_yard_2027.h missing, damaged or changed by hand; "
        "made anew and proved, what was there lies in out/fig_yard.previous\n"
    )
    back = sunsched(*words, "2026-06-02", cwd=hut)
    assert (back.returncode, back.stdout) == (1, "")
    assert back.stderr.count("\n") == 1 and "Set the machine's clock" in back.stderr


def test_renew_tells_programs(hut: Path) -> None:
    done = sunsched("renew", "hut.toml", "no.toml", "--out", "out", "--today", "2027-11-20", "--json", cwd=hut)
    assert done.returncode == 66
    good, bad = json.loads(done.stdout)
    assert (good["status"], good["years"], good["folder"]) == ("renewed", [2027, 2028], "out/fig_yard")
    assert sorted(Path(name).name for name in good["files"]) == [
        *(f"fig_yard_{year}.{ending}" for year in (2027, 2028) for ending in ("csv", "h", "json")),
        "renewal.json",
    ]
    assert all((hut / name).is_file() for name in good["files"])
    assert (bad["status"], bad["exit_code"]) == ("refused", 66)
    assert "no.toml: there is no such file" in done.stderr


def test_renew_refuses_what_it_cannot_take(hut: Path) -> None:
    assert sunsched("renew", "--out", "out", cwd=hut).returncode == 2
    assert sunsched("renew", "hut.toml", cwd=hut).returncode == 2
    for words in (("--as", "xml"), ("--today", "3.11.2027"), ("--ahead", "-1")):
        assert sunsched("renew", "hut.toml", "--out", "out", *words, cwd=hut).returncode == 2
    beyond = sunsched("renew", "hut.toml", "--out", "out", "--today", "2052-12-01", cwd=hut)
    assert beyond.returncode == 78 and "the Sun is known from 1990 to 2052" in beyond.stderr
    assert not (hut / "out").exists()


def test_renew_keeps_memory_images_too(hut: Path) -> None:
    words = ("renew", "hut.toml", "--out", "out", "--today", "2027-06-01", "--as", "eeprom")
    assert sunsched(*words, cwd=hut).returncode == 0
    names = sorted(path.name for path in (hut / "out" / "fig_yard").iterdir())
    assert names == ["fig_yard_2027.bin", "fig_yard_2027.hex", "fig_yard_2027.json", "renewal.json"]
    again = sunsched(*words, cwd=hut)
    assert (again.returncode, again.stdout, again.stderr) == (0, "", "")
    other = sunsched("renew", "hut.toml", "--out", "out", "--today", "2027-06-01", cwd=hut)
    assert "2027: other forms are asked for" in other.stdout


def test_batch_tells_the_count_and_the_first_faults(tmp_path: Path) -> None:
    written(tmp_path, 40, 7)
    words = ("batch", "sites.csv", "rules.toml", "--out", "out", "--year", "2027", "--as", "json", "--jobs", "2")
    done = sunsched(*words, cwd=tmp_path)
    assert done.returncode == 65
    assert done.stdout == (
        "33 of 40 sites have their tables for 2027, 7 have an error.\n"
        "It hangs on the rows of the sites' file: out/results.csv has a line for each.\n"
        "Correct the rows named there and run it again.\n"
    )
    assert done.stderr.count("warning: sites.csv: row ") == 5
    again = sunsched(*words, "--json", cwd=tmp_path)
    assert json.loads(again.stdout) == {
        "year": 2027,
        "sites": 40,
        "ok": 33,
        "errors": 7,
        "results": "out/results.csv",
    }
    assert sunsched("batch", "none.csv", "rules.toml", "--out", "x", cwd=tmp_path).returncode == 66
    assert sunsched("batch", "sites.csv", "rules.toml", "--out", "out", "--year", "2028", cwd=tmp_path).returncode == 73
    assert sunsched("batch", "sites.csv", "rules.toml", "--out", "x", "--as", "xml", cwd=tmp_path).returncode == 2


# What crontab(5) says: the line is given to /bin/sh, with hardly any environment.
def test_a_cron_line_runs(hut: Path) -> None:
    line = f"{sys.executable} -m sunsched renew hut.toml --out out --today 2027-06-01"
    env = {"PATH": "/usr/bin:/bin", "HOME": str(hut), "SHELL": "/bin/sh", "PYTHONPATH": str(ROOT)}
    for message in (RENEWED, ""):
        done = subprocess.run(["/bin/sh", "-c", line], cwd=hut, env=env, capture_output=True, text=True, timeout=120)
        assert (done.returncode, done.stdout, done.stderr) == (0, message, "")
