"""Text cleaning lay in a module that takes its colours from the pictures, which clean their texts with it.

Whether that ended in an ImportError depended on which was loaded first: `report`, `chart` and `compare` failed, the
tests that had loaded the pictures before passed. Each module has to load first, too.

tests/test_floors.py finds every circle in the texts. A module may still take a name that another happens to have
loaded: here the commands and the planner, which are what is loaded first, and a sixth of the others, load first;
`SUNSCHED_PROOF=whole` loads each (8 s).
"""

from __future__ import annotations

import os
import subprocess
import sys

from tests.conftest import ROOT

EVERY = 1 if os.environ.get("SUNSCHED_PROOF") == "whole" else 6

LOAD_EACH = """
import importlib, pkgutil, sys
sys.dont_write_bytecode = False  # each is loaded many times, and need not be compiled as often
import numpy, pydantic, typer  # loaded once, for time
import sunsched
names = [m.name for m in pkgutil.walk_packages(sunsched.__path__, "sunsched.") if not m.ispkg]
# These run on a board and import what only a board has; tests/chip/test_micropython.py runs them.
ours = "sunsched.controller.micropython."
names = [name for name in names if not name.startswith(ours) or name == ours + "table_reader"]
first = tuple(f"sunsched.{floor}." for floor in ("cli", "planner"))
others = [name for name in names if not name.startswith(first)]
chosen = [name for name in names if name.startswith(first)] + others[:: int(sys.argv[1])]
for name in chosen:
    for loaded in [key for key in sys.modules if key.startswith("sunsched")]:
        del sys.modules[loaded]
    if not name.endswith("__main__"):
        importlib.import_module(name)
print(len(names), len(chosen))
"""


def test_every_module_can_be_loaded_first() -> None:
    command = [sys.executable, "-c", LOAD_EACH, str(EVERY)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stderr
    every, loaded = map(int, done.stdout.split())
    assert every > 100 and loaded > every // EVERY
