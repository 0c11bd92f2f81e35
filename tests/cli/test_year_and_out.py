"""One rule for --year, one for -o and --out, and what `day` takes for a date; run in this process."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import Any

import pytest
import typer
from typer.testing import CliRunner

from sunsched.base.years import coming_year
from sunsched.cli import options
from sunsched.cli.app import COMMANDS, app
from sunsched.cli.app import run as run_whole

ROOT = Path(__file__).parents[2]
LARCH = str(ROOT / "configs" / "larch_end.toml")


def run(*words: str) -> tuple[int, str, str]:
    """Exit code, standard output and standard error."""
    done = CliRunner().invoke(app, words)
    return done.exit_code, done.stdout, done.stderr


def all_parameters() -> dict[str, dict[str, Any]]:
    """Every command, those of `chip` too, with its options by their names."""
    group: Any = typer.main.get_command(app)
    found: dict[str, dict[str, Any]] = {}
    for name in COMMANDS:
        command = group.get_command(None, name)
        inner = {f"{name} {key}": one for key, one in getattr(command, "commands", {}).items()} or {name: command}
        for key, one in inner.items():
            found[key] = {opt: parameter for parameter in one.params for opt in parameter.opts}
    return found


PARAMETERS = all_parameters()


@pytest.mark.parametrize(
    ("date", "year"), [("2027-01-01", 2027), ("2027-10-31", 2027), ("2027-11-01", 2028), ("2052-12-01", 2052)]
)
def test_the_days_to_come_decide_the_year(date: str, year: int) -> None:
    assert coming_year(dt.date.fromisoformat(date)) == year


def test_no_command_needs_a_year_and_each_says_which_it_takes() -> None:
    with_year = {name: options["--year"] for name, options in PARAMETERS.items() if "--year" in options}
    assert {"twilight", "table", "report", "chart", "battery", "cell", "compare", "batch", "chip load"} <= set(
        with_year
    )
    for name, option in with_year.items():
        assert not option.required, name
        assert option.default is None, name
        # The program of many years begins with the days that it has to serve at once.
        assert ("Default: this year." if name == "firmware" else options.COMING) in option.help, name


def test_what_writes_takes_o_and_out_alike() -> None:
    writing = {name for name, options in PARAMETERS.items() if {"-o", "--out"} & set(options)}
    assert {"sample", "schema", "table", "firmware", "report", "chart", "handover", "batch", "renew"} <= writing
    for name in writing:
        assert PARAMETERS[name]["-o"] is PARAMETERS[name]["--out"], name


@pytest.mark.parametrize("words", [("firmware", LARCH), ("renew", LARCH), ("batch", "sites.csv", LARCH)])
def test_a_folder_is_not_standard_output(words: tuple[str, ...]) -> None:
    code, _, err = run(*words, "-o", "-")
    assert code == 2
    assert "wanted a folder" in err


def test_without_a_year_the_coming_one_is_taken_and_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    year = coming_year(dt.date.today())
    said = f"year {year}: the days to come; --year asks for another\n"
    run_whole(["table", LARCH, "--as", "csv", "-o", str(tmp_path)])
    out, err = capsys.readouterr()
    assert f"larch_end_{year}.csv" in out
    assert said in err
    run_whole(["twilight", LARCH, "--json", "--only", "--depression", "6"])
    out, err = capsys.readouterr()
    assert json.loads(out)[0]["date"] == f"{year}-01-01"
    assert err == said
    run_whole(["twilight", LARCH, "--year", "2027", "--json"])
    assert capsys.readouterr().err == ""


def test_a_table_of_one_year_and_of_many_at_once_is_refused() -> None:
    code, _, err = run("table", LARCH, "--year", "2027", "--years", "2027..2028")
    assert code == 2
    assert "give --year 2027 for one year, or --years 2027..2047" in err


def test_day_takes_today_tomorrow_and_a_month() -> None:
    before = dt.datetime.now(dt.UTC)
    days = [json.loads(run("day", LARCH, *words, "--json")[1])["date"] for words in ((), ("today",), ("tomorrow",))]
    # Zurich is at most two hours ahead of UTC; the test may run over midnight.
    possible = {(before + dt.timedelta(hours=hours)).date() for hours in (0, 1, 2, 3)}
    dates = [dt.date.fromisoformat(day) for day in days]
    assert dates[0] in possible
    assert dates[0] <= dates[1] <= dates[2] - dt.timedelta(days=1)
    code, out, _ = run("day", LARCH, "2028-02", "--json")
    month = json.loads(out)
    assert code == 0
    assert [entry["date"] for entry in month["days"]] == [f"2028-02-{day:02d}" for day in range(1, 30)]
    day = json.loads(run("day", LARCH, "2028-02-29", "--json")[1])
    assert month["days"][28] == {key: day[key] for key in ("date", "open", "close")}
    text = run("day", LARCH, "2027-11")[1]
    assert text.startswith("Larch end, 2027-11: opens 06:51 to 07:54, closes 17:09 to 17:31.\n")
    assert "2027-11, civil time of Europe/Zurich (tzdata " in text
    assert "2027-11-20  Sat      -       -  kept_in     kept_in\n" in text
    assert max(map(len, text.splitlines())) <= 80


@pytest.mark.parametrize("date", ["2027-13", "2027-6", "28.3.2027", "2027-06-31", "june", "2027-00"])
def test_day_says_what_it_takes(date: str) -> None:
    code, out, err = run("day", LARCH, date)
    assert (code, out) == (2, "")
    assert err == (
        f"error: the date is '{date}'; wanted a date such as 2027-03-28, today, tomorrow, or a month such as 2027-06\n"
    )


def test_a_month_outside_the_sun_s_years() -> None:
    assert run("day", LARCH, "2053-01")[0] == 2
    assert run("day", LARCH, "2052-12")[0] == 0
