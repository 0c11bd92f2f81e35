"""`renew` with other forms asked for the new table to be put on the chip, though no minute of it was new."""

from __future__ import annotations

import json
from pathlib import Path

from tests.support.command_line import sunsched

SITE = '[site]\nname = "Hut"\nlatitude_deg = 47.318\nlongitude_deg = 8.949\nzone = "Europe/Zurich"\n'


def test_only_new_minutes_are_asked_to_be_put_on_the_chip(tmp_path: Path) -> None:
    hut = tmp_path / "hut.toml"
    hut.write_text(SITE)

    def last_line(*more: str) -> str:
        said = sunsched("renew", "hut.toml", "--today", "2027-03-01", "--as", "json", "--out", "o", *more, cwd=tmp_path)
        assert said.returncode == 0, said.stderr
        return said.stdout.splitlines()[-1]

    assert last_line() == "Next: put the new table on the chip."
    assert last_line("--as", "csv") == "Next: nothing for a chip that has this table: no minute is new."
    hut.write_text(f"{SITE}[evening]\nlater_min = 5\n")
    assert last_line() == "Next: put the new table on the chip."
    shown = sunsched("renew", "hut.toml", "--today", "2027-03-01", "--as", "csv", "--out", "o", "--json", cwd=tmp_path)
    assert [one["same_minutes"] for one in json.loads(shown.stdout)] == [True]
