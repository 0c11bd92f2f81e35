"""`readback` had nothing to do about a table that had ended; `table` did not say by which clock the files count."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.support.command_line import sunsched

ROOT = Path(__file__).parents[2]
LARCH = str(ROOT / "configs" / "larch_end.toml")


@pytest.mark.parametrize(("year", "ended"), [(2025, True), (2052, False)])
def test_a_table_that_has_ended_is_said_to_have_ended(year: int, ended: bool, tmp_path: Path) -> None:
    made = sunsched("table", LARCH, "--year", str(year), "--as", "c", "--out", str(tmp_path))
    assert "clock: the chip keeps UTC+01:00 all year, no summer time ([chip] keeps)" in made.stdout
    done = sunsched("readback", str(tmp_path / f"larch_end_{year}.h"), LARCH)
    assert done.returncode == 0
    assert f"Nothing to do until {year}-12-31, its last day" in done.stdout
    assert (f"its last day was {year}-12-31" in done.stderr) == ended


def test_one_sheet_of_several_huts_does_not_name_the_first_ones_times(tmp_path: Path) -> None:
    fig = str(ROOT / "configs" / "fig_yard.toml")
    done = sunsched("handover", LARCH, fig, "--from", "2027-06-01", "--out", str(tmp_path / "sheet.txt"))
    assert done.returncode == 0
    said = done.stdout + done.stderr
    assert "One sheet of Larch end and Fig yard, in the order in which to look." in said
    assert "opens 0" not in said.split("wrote")[0]
