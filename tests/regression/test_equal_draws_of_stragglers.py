"""Two birds drew the same chance to straggle, and which came first depended on the processor's sorting routine."""

from __future__ import annotations

import os
import subprocess
import sys

from tests.conftest import ROOT
from tools.same_bytes import scalar_environment

# 16 years of 365 evenings of six birds: among 35,040 draws of 24 bits some are equal
DRAWN = (
    "import hashlib, numpy as np\n"
    "from sunsched.study.flock import draw_flock\n"
    "digest = hashlib.sha256()\n"
    "for seed in range(40):\n"
    "    digest.update(draw_flock(6, 16, 365, np.random.default_rng(seed)).evening_min.tobytes())\n"
    "print(digest.hexdigest())\n"
)


def test_equal_draws_keep_their_order_on_every_processor() -> None:
    words = [sys.executable, "-c", DRAWN]
    outputs = {
        subprocess.run(words, env=environment, cwd=ROOT, capture_output=True, text=True, check=True).stdout
        for environment in (dict(os.environ), {**os.environ, **scalar_environment()})
    }
    assert len(outputs) == 1
