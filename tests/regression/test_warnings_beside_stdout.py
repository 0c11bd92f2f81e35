"""A table written to standard output kept its warnings to itself."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from tests.config.broken import SITE

ROOT = Path(__file__).parents[2]


def test_warnings_go_to_standard_error(tmp_path: Path) -> None:
    (tmp_path / "hut.toml").write_text(f'{SITE}[[kept_in]]\nfrom = "2026-01-01"\nto = "2026-01-02"\n')
    done = subprocess.run(
        [sys.executable, "-m", "sunsched", "table", "hut.toml", "--year", "2027", "--as", "csv", "--out", "-"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.stdout.count("\n") == 366
    told = done.stderr.splitlines()
    assert told[0] == "warning: kept_in 2026-01-01 to 2026-01-02 touches no day of 2027."
    assert told[1].startswith("  What to do: ")
