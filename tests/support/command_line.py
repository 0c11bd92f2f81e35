"""The command line as a keeper types it, in a child process that need not load anything again.

`sunsched(...)` forks the test process: the child has its own standard streams, working folder, environment and exit
code, as any process has, but its modules are loaded already. A start from nothing is a third of a second of a core.
What depends on the start itself (which modules are loaded, a console's encoding, closed streams, a pipe, cron) starts
an interpreter: tests/cli/test_loaded_modules.py, tests/regression/test_standard_streams.py and others.
tests/cli/test_command_line.py holds a forked and a fresh process to the same bytes.
"""

from __future__ import annotations

import functools
import gc
import importlib
import os
import pkgutil
import signal
import subprocess
import sys
import tempfile
import time
import traceback
import warnings
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import IO, NoReturn

import sunsched as package
from sunsched import __main__
from sunsched.cli import console
from sunsched.config import toml_file
from sunsched.plan import planning

ROOT = Path(__file__).parents[2]
TIMEOUT_S = 120


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
        with warnings.catch_warnings():
            # Python 3.12 warns of any fork beside threads: pytest-xdist has one, which the child never uses.
            warnings.simplefilter("ignore", DeprecationWarning)
            child = os.fork()
        if child == 0:
            _live(words, (into, out, err), cwd, env)
        code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
        if code == -signal.SIGALRM:
            raise subprocess.TimeoutExpired(words, TIMEOUT_S)
        out.seek(0)
        err.seek(0)
        return subprocess.CompletedProcess(words, code, out.read(), err.read())


@functools.cache
def _load_all() -> None:
    """Load every module and build every model once, so that no child does; test_loaded_modules.py has its own."""
    # What runs on a board's Python alone lies among the modules, and is no module of ours.
    for module in pkgutil.walk_packages(package.__path__, "sunsched."):
        if ".micropython." not in module.name and not module.name.endswith("__main__"):
            importlib.import_module(module.name)
    c = toml_file.read(str(ROOT / "configs" / "larch_end.toml"))
    planning.year_plan(c.site, c.chip, c.rules, 2027, c.light_cell)


def _text(printed: bytes) -> str:
    return printed.decode().replace("\r\n", "\n")


def _live(words: Sequence[str], streams: tuple[IO[bytes], ...], cwd: Path | None, env: Mapping[str, str]) -> NoReturn:
    """The child's life, from the fork to its exit code; nothing of the test's own is run at its end."""
    code = 1
    try:
        gc.freeze()  # a search through the parent's objects would copy them all
        signal.alarm(TIMEOUT_S)
        for number, stream in enumerate(streams):
            os.dup2(stream.fileno(), number)
        os.environ.update(env)
        time.tzset()
        if cwd is not None:
            os.chdir(cwd)
        code = _run(words)
    except BaseException:
        os.write(2, traceback.format_exc().encode())
    finally:
        os._exit(code)


def _run(words: Sequence[str]) -> int:
    """`python -m sunsched` from the first line of its main(); the exit code as the interpreter would give it."""
    sys.stdin = os.fdopen(0, encoding="utf-8", closefd=False)
    sys.stdout = os.fdopen(1, "w", encoding="utf-8", closefd=False)
    sys.stderr = os.fdopen(2, "w", 1, encoding="utf-8", errors="backslashreplace", closefd=False)
    sys.argv = ["sunsched", *words]
    # The interpreter's own filters, not pytest's: any other warning is printed, and a test sees it.
    warnings.resetwarnings()
    for kind in (DeprecationWarning, PendingDeprecationWarning, ImportWarning, ResourceWarning):
        warnings.simplefilter("ignore", kind)
    console.be_quiet(False)
    code: int | str | None = 0
    try:
        __main__.main()
    except SystemExit as leaving:
        code = leaving.code
    sys.stdout.flush()
    sys.stderr.flush()
    if isinstance(code, str):
        os.write(2, f"{code}\n".encode())
        return 1
    return code or 0
