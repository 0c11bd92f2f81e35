"""A power had another last bit in a column of numbers than alone, and on one processor than on another.

numpy takes vector routines for columns where the processor has them. The light below -18 degrees did not equal that
at -18 degrees, and the resistance of a cell did not equal its own in a column.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from sunsched.hardware.light_cell import divider_lux, resistance_ohm
from sunsched.sky.daylight import altitude_of_lux, clear_sky_lux
from tools.same_bytes import scalar_environment

ROOT = Path(__file__).parents[2]
LUX = [1.0, 2.0, 5.0, 10.0, 20.0, 40.0, 80.0, 100.0, 160.0, 200.0, 250.0, 400.0, 640.0, 1000.0]
GAMMAS = (0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.2)


@pytest.mark.parametrize("gamma", GAMMAS)
def test_alone_as_in_a_column(gamma: float) -> None:
    column = resistance_ohm(LUX, 10_000.0, gamma)
    assert [float(resistance_ohm(lux, 10_000.0, gamma)) for lux in LUX] == column.tolist()
    counts = list(range(0, 1024, 37))
    alone = [float(divider_lux(count, 10_000.0, gamma, 4700.0)) for count in counts]
    assert alone == divider_lux(counts, 10_000.0, gamma, 4700.0).tolist()


def test_the_light_at_either_end_of_the_sky_has_its_altitude() -> None:
    ends = clear_sky_lux([-18.0, 90.0])
    assert ends.tolist() == [float(clear_sky_lux(-18.0)), float(clear_sky_lux(90.0))]
    assert np.allclose(altitude_of_lux(ends), [-18.0, 90.0], atol=1e-6)
    assert float(altitude_of_lux(float(ends[0]))) == pytest.approx(-18.0)


SUMS = """
import json
from sunsched.hardware.light_cell import divider_lux, resistance_ohm
from sunsched.sky.daylight import clear_sky_lux, depression_of_clear_sky_lux
lux = [0.01 * 1.37**k for k in range(45)]
print(json.dumps([
    clear_sky_lux([-18 + 0.25 * k for k in range(430)]).tolist(),
    [depression_of_clear_sky_lux(value) for value in lux],
    [resistance_ohm(lux, 10_000.0, gamma).tolist() for gamma in (0.5, 0.7, 0.9, 1.2)],
    divider_lux(range(1024), 10_000.0, 0.7, 4700.0).tolist(),
]))
"""


def test_on_another_processor() -> None:
    kept = {key: value for key, value in os.environ.items() if not key.startswith(("NPY_", "OPENBLAS_", "GLIBC_"))}
    texts = [
        subprocess.run(
            [sys.executable, "-c", SUMS],
            env={**kept, "PYTHONPATH": str(ROOT), **more},
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for more in ({}, scalar_environment())
    ]
    assert len(json.loads(texts[0])[0]) == 430
    assert texts[0] == texts[1]
