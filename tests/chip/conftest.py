"""Shared by the chip tests: packed tables and programs are made once for all processes of a run."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.chip import packed
from tests.support import toolchain


@pytest.fixture(scope="session", autouse=True)
def made_once(run_folder: Path) -> None:
    """Let the processes of a run share packed tables and builds."""
    for name, shared in (("packed_tables", packed.shared_folder), ("builds", toolchain.shared_builds)):
        folder = run_folder / name
        folder.mkdir(exist_ok=True)
        shared[:] = [folder]
