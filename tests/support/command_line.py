"""The command line as a keeper types it, in a child process that need not load anything again: tools/warm_process.py.

Which modules a command loads, a console's encoding, closed streams, a pipe and cron hang on the start itself; tests of
those start an interpreter: tests/cli/test_loaded_modules.py, tests/regression/test_standard_streams.py and others.
"""

from __future__ import annotations

import functools
import subprocess
import tempfile
from pathlib import Path

from tools import warm_process

ROOT = Path(__file__).parents[2]
TIMEOUT_S = 120


_load_all = functools.cache(warm_process.load_all)


def sunsched(*words: str, stdin: str = "", cwd: Path | None = None, **env: str) -> subprocess.CompletedProcess[str]:
    """One run of the command line; what it printed as text."""
    done = sunsched_bytes(*words, stdin=stdin.encode(), cwd=cwd, **env)
    return subprocess.CompletedProcess(done.args, done.returncode, _text(done.stdout), _text(done.stderr))


def sunsched_bytes(
    *words: str, stdin: bytes = b"", cwd: Path | None = None, **env: str
) -> subprocess.CompletedProcess[bytes]:
    """One run of the command line; what it printed as bytes. A negative exit code is the signal that ended it."""
    if any(name.startswith("PYTHON") for name in env):
        raise ValueError("an interpreter reads these at its start: start one")
    _load_all()
    # Standard input comes from a file, so that no length of it can block.
    with tempfile.TemporaryFile() as into, tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        into.write(stdin)
        into.seek(0)
        code = warm_process.forked(words, [one.fileno() for one in (into, out, err)], cwd, env, TIMEOUT_S)
        out.seek(0)
        err.seek(0)
        return subprocess.CompletedProcess(words, code, out.read(), err.read())


def _text(printed: bytes) -> str:
    return printed.decode().replace("\r\n", "\n")
