"""MicroPython's WebAssembly build, run by Node: what the tests of its boards need, and how it is called."""

from __future__ import annotations

import json
import shutil
import sys
from pathlib import Path

from tests.support import toolchain

_MODULE = "npm/node_modules/@micropython/micropython-webassembly-pyscript/micropython.mjs"
RUN = toolchain.HERE / "micropython" / "run.mjs"


def version() -> str:
    """The version of the build that is installed."""
    package = (Path(sys.prefix) / _MODULE).parent / "package.json"
    return str(json.loads(package.read_text())["version"])


def run(folder: Path, script: str, *out: str, timeout_s: float = 600) -> list[str]:
    """The lines that a script prints under MicroPython, in a file system that begins as `folder`.

    script   in pieces, see run.mjs; out   files that it has written, copied back into `folder`
    """
    module = Path(sys.prefix) / _MODULE
    toolchain.needed_folder(module.parent, "tools/check (npm: @micropython/micropython-webassembly-pyscript)")
    node = shutil.which("node") or str(Path(sys.prefix) / "bin" / "node")
    written = folder / "script"
    written.write_text(script)
    done = toolchain.run([node, str(RUN), str(module), str(folder), str(written), *out], timeout_s=timeout_s)
    return done.stdout.splitlines()
