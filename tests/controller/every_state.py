"""Explores every state the core can reach with shortened constants and prints how many: a day of 48 steps.

`python -m tests.controller.every_state`; see c/door_states.c for the parts, their inputs and what must hold.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from tests.controller.core_library import CORE, DRIVERS

SHORT_DAY = ("-DDOOR_DAY_MIN=48", "-DDOOR_MINUTE_S=1", "-DDOOR_AGE_S=24", "-DDOOR_FULL=200", "-DGLITCHES_AT_ONCE=1u")
# door_light.c is included by the explorer, which calls a part of it alone
BESIDE = ("door_decision.c", "door_time.c", "door_plan.c", "door_motor.c")


def explored(core: Path = CORE, flags: tuple[str, ...] = ()) -> tuple[int, str]:
    """Build and run the explorer: its exit code, 1 if something does not hold, and its lines."""
    with tempfile.TemporaryDirectory() as name:
        program = Path(name) / "states"
        sources = [DRIVERS / "door_states.c", *(core / one for one in BESIDE)]
        command = ["gcc", "-std=c99", "-O3", "-flto", "-Wall", "-Wextra", *SHORT_DAY, *flags, f"-I{core}"]
        subprocess.run([*command, "-o", str(program), *map(str, sources)], check=True)
        done = subprocess.run([str(program)], capture_output=True, text=True, check=False)
    return done.returncode, done.stdout + done.stderr


if __name__ == "__main__":
    code, text = explored()
    print(text, end="")
    sys.exit(code)
