"""Shared by all tests: where the shipped configurations and the goldens lie."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

ROOT = Path(__file__).parent.parent
CONFIGS = sorted((ROOT / "configs").glob("*.toml"))

# Fixed seeds on CI, so that a red run can be repeated; deadlines would time the machine, not the code.
settings.register_profile("ci", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("local", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("ci" if os.environ.get("CI") else "local")


@pytest.fixture(params=CONFIGS, ids=lambda path: path.stem)
def config_path(request: pytest.FixtureRequest) -> Path:
    """Each shipped configuration in turn."""
    path = request.param
    assert isinstance(path, Path)
    return path
