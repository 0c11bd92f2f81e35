"""Shared by the chip tests: packed tables and programs are made once for all processes of a run."""

from __future__ import annotations

import os

import pytest

from tests.chip import packed
from tests.support import toolchain


@pytest.fixture(scope="session", autouse=True)
def made_once(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Let the processes of a parallel run share packed tables and builds; one process alone keeps them in memory."""
    if "PYTEST_XDIST_WORKER" in os.environ:
        folder = tmp_path_factory.getbasetemp().parent / "packed_tables"
        folder.mkdir(exist_ok=True)
        packed.shared_folder[:] = [folder]
        builds = folder.with_name("builds")
        builds.mkdir(exist_ok=True)
        toolchain.shared_builds[:] = [builds]
