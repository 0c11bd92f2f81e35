"""A table written to standard output kept its warnings to itself."""

from __future__ import annotations

from pathlib import Path

from tests.config.broken import SITE
from tests.support.command_line import sunsched


def test_warnings_go_to_standard_error(tmp_path: Path) -> None:
    (tmp_path / "hut.toml").write_text(f'{SITE}[[kept_in]]\nfrom = "2026-01-01"\nto = "2026-01-02"\n')
    done = sunsched("table", "hut.toml", "--year", "2027", "--as", "csv", "--out", "-", cwd=tmp_path)
    assert done.stdout.count("\n") == 366
    told = done.stderr.splitlines()
    assert told[0] == "warning: kept_in 2026-01-01 to 2026-01-02 touches no day of 2027."
    assert told[1].startswith("  What to do: ")
