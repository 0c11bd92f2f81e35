"""What is due is renewed, what is right is not touched, and what is wrong is said."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path

import pytest

from sunsched.base.errors import UsageError
from sunsched.config import toml_file
from sunsched.job import pipeline
from sunsched.job.renewal import due, record
from sunsched.job.renewal.renewal import Ask, renew
from tests.job.renewals import config_in, contents, run, traces
from tests.support import zone_release

TODAY = "2027-06-01"


@pytest.fixture
def made(tmp_path: Path) -> tuple[Path, Path]:
    """A configuration, and an out folder with its tables of 2027."""
    config = config_in(tmp_path)
    (outcome,) = run(config, tmp_path / "out", TODAY)
    assert (outcome.status, outcome.exit_code, outcome.years) == ("renewed", 0, (2027,))
    return config, tmp_path / "out"


def test_the_first_run_makes_what_table_makes(made: tuple[Path, Path]) -> None:
    config, out = made
    found = contents(out / "larch_end")
    work = pipeline.built(toml_file.read(config), 2027, str(config))
    wanted = {path.name: text for path, text in pipeline.files_of(work, ("c", "json", "csv"), Path()).items()}
    assert {name: text for name, text in found.items() if name != record.NAME} == wanted
    assert not (out / "larch_end.previous").exists() and not (out / ".larch_end.next").exists()


def test_what_is_right_is_not_touched(made: tuple[Path, Path]) -> None:
    config, out = made
    before = traces(out)
    for date in (TODAY, "2027-06-02", "2027-11-01"):
        (outcome,) = run(config, out, date)
        assert (outcome.status, outcome.reasons, outcome.error, outcome.exit_code) == ("right", (), "", 0)
    assert traces(out) == before


# 60 days before 2028-01-01 is 2027-11-02.
@pytest.mark.parametrize(("date", "years"), [("2027-11-01", ()), ("2027-11-02", (2028,)), ("2029-12-31", (2029, 2030))])
def test_a_year_is_due_sixty_days_ahead(made: tuple[Path, Path], date: str, years: tuple[int, ...]) -> None:
    config, out = made
    before = traces(out)
    (seen,) = run(config, out, date, only_look=True)
    assert traces(out) == before
    assert (seen.status, seen.exit_code) == (("due", 1) if years else ("right", 0))
    (outcome,) = run(config, out, date)
    assert outcome.years == (years or (2027,)) and outcome.status == ("renewed" if years else "right")
    assert all((out / "larch_end" / f"larch_end_{year}.h").exists() for year in years)
    assert (out / "larch_end" / "larch_end_2027.h").exists()


def test_ahead_days_reach_over_several_years() -> None:
    assert Ask(Path(), dt.date(2027, 12, 31), 0).years == (2027,)
    assert Ask(Path(), dt.date(2027, 12, 31), 1).years == (2027, 2028)
    assert Ask(Path(), dt.date(2027, 6, 1), 1000).years == (2027, 2028, 2029, 2030)


def test_older_tables_keep_their_bytes_and_times(made: tuple[Path, Path]) -> None:
    config, out = made
    old = out / "larch_end" / "larch_end_2027.json"
    before = (old.read_bytes(), old.stat().st_mtime_ns)
    note = out / "larch_end" / "note.txt"
    note.write_text("flashed on 2 June")
    run(config, out, "2027-11-02")
    assert (old.read_bytes(), old.stat().st_mtime_ns) == before
    assert note.read_text() == "flashed on 2 June"


def test_a_changed_configuration_is_named_and_the_old_tables_kept(made: tuple[Path, Path]) -> None:
    config, out = made
    old = contents(out / "larch_end")
    config_in(config.parent, changes={"later_min = 15": "later_min = 20"})
    (outcome,) = run(config, out, TODAY)
    assert (outcome.status, outcome.repaired) == ("renewed", False)
    assert outcome.reasons == ("2027: the configuration changed (morning.later_min)",)
    assert contents(out / "larch_end.previous") == old
    result = json.loads((out / "larch_end" / "larch_end_2027.json").read_text())
    assert result["settings"]["morning"]["later_min"] == 20


def test_a_moved_hut_is_not_held_against_where_it_stood(made: tuple[Path, Path]) -> None:
    config, out = made
    config_in(config.parent, changes={"latitude_deg = 47.318": "latitude_deg = 44.0"})
    assert run(config, out, TODAY)[0].status == "renewed"
    assert run(config, out, "2027-11-02")[0].status == "renewed"


def test_another_version_alone_rewrites_nothing(made: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch) -> None:
    config, out = made
    before = traces(out)
    monkeypatch.setattr(pipeline, "__version__", "99.0")
    monkeypatch.setattr(due, "__version__", "99.0")
    assert run(config, out, TODAY)[0].status == "right"
    assert traces(out) == before


def test_zone_data_that_moves_nothing_rewrites_nothing(made: tuple[Path, Path], tmp_path: Path) -> None:
    config, out = made
    before = traces(out)
    with zone_release.in_use(zone_release.made(tmp_path / "tz", "2027q", {"Europe/Oslo": "Etc/GMT-1"})):
        assert run(config, out, TODAY)[0].status == "right"
    assert traces(out) == before


def test_changed_zone_rules_are_named(made: tuple[Path, Path], tmp_path: Path) -> None:
    config, out = made
    was = json.loads((out / "larch_end" / "larch_end_2027.json").read_text())["tzdata"]
    with zone_release.in_use(zone_release.made(tmp_path / "tz", "2027q", {"Europe/Zurich": "Etc/GMT-1"})):
        (outcome,) = run(config, out, TODAY)
    assert outcome.status == "renewed"
    assert outcome.reasons[0].startswith(
        f"2027: the zone rules of Europe/Zurich changed (tzdata {was} to 2027q), which moves the door on "
    )
    # IANA tz, rule EU: summer time of 2027 begins on 28 March; from then on the limits move.
    assert "first on 2027-0" in outcome.reasons[0] and outcome.reasons[0] >= "2027-03-28"


@pytest.mark.parametrize("name", ["larch_end_2027.h", "larch_end_2027.csv", "larch_end_2027.json"])
@pytest.mark.parametrize("how", ["truncated", "edited", "gone", "a link"])
def test_a_damaged_table_is_made_anew_and_kept(made: tuple[Path, Path], name: str, how: str) -> None:
    config, out = made
    whole = contents(out / "larch_end")
    path = out / "larch_end" / name
    if how == "truncated":
        path.write_bytes(path.read_bytes()[:1000])
    elif how == "edited":
        path.write_bytes(path.read_bytes().replace(b"7", b"8"))
    else:
        path.unlink()
        if how == "a link":
            (out / "elsewhere").write_bytes(whole[name])
            path.symlink_to(out / "elsewhere")
    damaged = contents(out / "larch_end")
    (outcome,) = run(config, out, TODAY)
    assert (outcome.status, outcome.repaired, outcome.exit_code) == ("renewed", True, 0)
    assert name in outcome.reasons[0]
    assert {k: v for k, v in contents(out / "larch_end").items() if k != record.NAME} == {
        k: v for k, v in whole.items() if k != record.NAME
    }
    assert not (out / "larch_end" / name).is_symlink()
    assert contents(out / "larch_end.previous") == damaged


@pytest.mark.parametrize("text", ["", "{", '{"format":"sunsched-renewal"}', "[]", "null", '{"years":{"x":1}}'])
def test_a_damaged_record_is_said(made: tuple[Path, Path], text: str) -> None:
    config, out = made
    (out / "larch_end" / record.NAME).write_text(text)
    (outcome,) = run(config, out, TODAY)
    assert (outcome.status, outcome.repaired) == ("renewed", True)
    assert "renewal.json is missing or damaged" in outcome.reasons[0]


def test_a_record_cannot_name_files_elsewhere(made: tuple[Path, Path]) -> None:
    _, out = made
    path = out / "larch_end" / record.NAME
    for name in ("../x", "/etc/passwd", "..", ""):
        path.write_text(path.read_text().replace('"files": {', '"files":{').replace("larch_end_2027.csv", name))
        assert name in path.read_text()
        assert record.read(out / "larch_end") is None
        path.write_text(path.read_text().replace(f'"{name}":', '"larch_end_2027.csv":'))


def test_a_clock_set_back_changes_nothing(made: tuple[Path, Path]) -> None:
    config, out = made
    before = traces(out)
    (outcome,) = run(config, out, "2026-06-01")
    assert (outcome.status, outcome.exit_code) == ("refused", 1)
    assert "today is 2026-06-01 by this machine, but its tables were renewed on 2027-06-01" in outcome.error
    assert "Set the machine's clock" in outcome.error
    assert run(config, out, "2027-05-31")[0].status == "right"
    assert traces(out) == before


@pytest.mark.parametrize("text", ["[site\n", '[site]\nname = "x"\n', "[site]\nnaem = 3\n"])
def test_a_configuration_that_no_longer_parses_stops_itself_alone(made: tuple[Path, Path], text: str) -> None:
    config, out = made
    before = contents(out / "larch_end")
    config.write_text(text)
    other = config_in(config.parent, "fig_yard")
    broken, fine = run([config, other], out, TODAY)
    assert (broken.status, broken.exit_code, fine.status) == ("refused", 78, "renewed")
    assert str(config) in broken.error
    assert "not renewed; the tables made before are as they were" in broken.error
    assert contents(out / "larch_end") == before
    config.unlink()
    assert run(config, out, TODAY)[0].exit_code == 66


def test_two_sites_of_one_name_are_refused(made: tuple[Path, Path], tmp_path: Path) -> None:
    config, out = made
    (tmp_path / "b").mkdir()
    twin = config_in(tmp_path / "b", "fig_yard", {'name = "Fig yard"': 'name = "larch END"'})
    before = traces(out)
    first, second = run([config, twin], out, TODAY)
    assert (first.status, second.status, second.exit_code) == ("right", "refused", 2)
    assert "wanted another site.name" in second.error
    with pytest.raises(UsageError):
        renew([str(config), str(config)], Ask(out, dt.date(2027, 6, 1)))
    assert traces(out) == before


@pytest.mark.parametrize("name", ["../../escape", "/etc/x", "..", "a/b", "C:\\x", "\x00", "ä" * 300])
def test_no_name_leads_out_of_the_folder(tmp_path: Path, name: str) -> None:
    config = config_in(tmp_path, "fig_yard", {'name = "Fig yard"': f"name = {json.dumps(name)}"})
    out = tmp_path / "deep" / "out"
    (outcome,) = run(config, out, TODAY)
    assert outcome.status == "renewed"
    made = [path for path in tmp_path.rglob("*") if path not in (config, out.parent, out)]
    assert made and all(out in path.parents for path in made)


@pytest.mark.parametrize("name", ["larch_end", "larch_end.previous", ".larch_end.next"])
def test_a_link_in_the_way_is_refused(tmp_path: Path, name: str) -> None:
    out, elsewhere = tmp_path / "out", tmp_path / "elsewhere"
    out.mkdir()
    elsewhere.mkdir()
    (out / name).symlink_to(elsewhere)
    (outcome,) = run(config_in(tmp_path), out, TODAY)
    assert (outcome.status, outcome.exit_code) == ("refused", 73)
    assert "is a link or a file" in outcome.error
    assert list(elsewhere.iterdir()) == []


def test_a_folder_of_someone_else_is_left_alone(tmp_path: Path) -> None:
    out = tmp_path / "out"
    (out / "larch_end").mkdir(parents=True)
    (out / "larch_end" / "photo.jpg").write_bytes(b"mine")
    (outcome,) = run(config_in(tmp_path), out, TODAY)
    assert (outcome.status, outcome.exit_code) == ("refused", 73)
    assert "holds no tables of larch_end and is left alone; wanted another --out" in outcome.error
    assert contents(out) == {"larch_end/photo.jpg": b"mine"}


def test_a_link_in_place_of_the_lock_is_refused(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "mine").write_text("mine")
    (tmp_path / "out" / ".sunsched.lock").symlink_to(tmp_path / "mine")
    (outcome,) = run(config_in(tmp_path), tmp_path / "out", TODAY)
    assert (outcome.exit_code, "is a link" in outcome.error) == (73, True)
    assert (tmp_path / "mine").read_text() == "mine"


def test_files_get_the_users_umask(tmp_path: Path) -> None:
    import os

    old = os.umask(0o027)
    try:
        run(config_in(tmp_path), tmp_path / "out", TODAY)
    finally:
        os.umask(old)
    files = list((tmp_path / "out" / "larch_end").iterdir())
    assert files and {path.stat().st_mode & 0o777 for path in files} == {0o640}
    assert (tmp_path / "out" / "larch_end").stat().st_mode & 0o777 == 0o750
