"""`drive` and `battery` printed FAILS and ended with 0: a script that asked them went on building."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from sunsched.cli.app import app

LARCH = Path(__file__).parents[2] / "configs" / "larch_end.toml"
BROKEN = {"drive": ("cutoff_down_s = 17", "cutoff_down_s = 5"), "battery": ("sleep_ma = 1.2", "sleep_ma = 400")}


@pytest.mark.parametrize("command", ["drive", "battery"])
def test_a_verdict_that_fails_ends_with_one(command: str, tmp_path: Path) -> None:
    config = tmp_path / "hut.toml"
    words = [command, str(config)]
    if command == "battery":
        words += ["--year", "2027", "--weather-years", "20"]
    config.write_text(LARCH.read_text())
    good = CliRunner().invoke(app, words)
    assert (good.exit_code, "fails" in good.stdout.lower()) == (0, False)
    old, new = BROKEN[command]
    assert old in LARCH.read_text()
    config.write_text(LARCH.read_text().replace(old, new))
    bad = CliRunner().invoke(app, words)
    assert (bad.exit_code, "fails" in bad.stdout.lower()) == (1, True)
    assert CliRunner().invoke(app, [*words, "--json"]).exit_code == 1
