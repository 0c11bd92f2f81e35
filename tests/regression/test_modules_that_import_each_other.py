"""Text cleaning lay in a module that takes its colours from the pictures, which clean their texts with it.

Whether that ended in an ImportError depended on which was loaded first: `report`, `chart` and `compare` failed, the
tests that had loaded the pictures before passed. Each module has to load first, too.
"""

from __future__ import annotations

import subprocess
import sys

from tests.conftest import ROOT

LOAD_EACH = """
import importlib, pkgutil, sys
sys.dont_write_bytecode = False  # each is loaded many times, and need not be compiled as often
import numpy, pydantic, typer  # loaded once, for time
import sunsched
names = [m.name for m in pkgutil.walk_packages(sunsched.__path__, "sunsched.") if not m.ispkg]
# These run on a board and import what only a board has; tests/chip/test_micropython.py runs them.
ours = "sunsched.controller.micropython."
names = [name for name in names if not name.startswith(ours) or name == ours + "table_reader"]
for name in names:
    for loaded in [key for key in sys.modules if key.startswith("sunsched")]:
        del sys.modules[loaded]
    if not name.endswith("__main__"):
        importlib.import_module(name)
print(len(names))
"""


def test_every_module_can_be_loaded_first() -> None:
    done = subprocess.run([sys.executable, "-c", LOAD_EACH], cwd=ROOT, capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stderr
    assert int(done.stdout) > 100
