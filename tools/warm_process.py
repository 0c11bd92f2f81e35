"""A process that has loaded sunsched, and forks for each command line that it is asked to run.

    with Warm({"PYTHONPATH": folder}) as warm:
        code = warm.run(["table", "hut.toml"], folder, folder / "stdout", folder / "stderr")

Each run is a process of its own (streams, working folder, environment, exit code) whose modules are loaded already: a
start from nothing is a third of a second of a core. What depends on the start itself, such as which modules a command
loads or what an interpreter reads from its environment, starts an interpreter instead.
tests/cli/test_command_line.py holds a forked run and a fresh interpreter to the same bytes.
"""

from __future__ import annotations

import gc
import importlib
import json
import os
import pkgutil
import signal
import subprocess
import sys
import threading
import time
import traceback
import warnings
from collections.abc import Mapping, Sequence
from pathlib import Path
from types import TracebackType
from typing import NoReturn

TIMEOUT_S = 600
SITE = b'[site]\nlatitude_deg = 47.3\nlongitude_deg = 8.9\nzone = "Europe/Zurich"\n'


def load_all() -> None:
    """Load every module, build every model and the Sun's nodes, so that no child does."""
    import sunsched
    from sunsched.config import toml_file
    from sunsched.plan import planning

    # What runs on a board's Python alone lies among the modules, and is no module of ours.
    for module in pkgutil.walk_packages(sunsched.__path__, "sunsched."):
        if ".micropython." not in module.name and not module.name.endswith("__main__"):
            importlib.import_module(module.name)
    c = toml_file.parsed(SITE, "warm.toml")
    planning.year_plan(c.site, c.chip, c.rules, 2027, c.light_cell)


def forked(
    words: Sequence[str], streams: Sequence[int], cwd: Path | None, env: Mapping[str, str], timeout_s: int
) -> int:
    """Run a command line in a child of this process; its exit code, or minus the signal that ended it.

    streams   file descriptors of its standard input, output and error
    """
    with warnings.catch_warnings():
        # Python 3.12 warns of any fork beside threads: pytest-xdist has one, which the child never uses.
        warnings.simplefilter("ignore", DeprecationWarning)
        child = os.fork()
    if child == 0:
        _live(words, streams, cwd, env, timeout_s)
    code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    if code == -signal.SIGALRM:
        raise subprocess.TimeoutExpired(list(words), timeout_s)
    return code


def _live(
    words: Sequence[str], streams: Sequence[int], cwd: Path | None, env: Mapping[str, str], timeout_s: int
) -> NoReturn:
    """The child's life, from the fork to its exit code; nothing of its parent's is run at its end."""
    code = 1
    try:
        gc.freeze()  # a search through the parent's objects would copy them all
        signal.alarm(timeout_s)
        for number, stream in enumerate(streams):
            os.dup2(stream, number)
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
    from sunsched import __main__
    from sunsched.cli import console

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


class Warm:
    """An interpreter of its own, with an environment of its own, that runs one command line after another."""

    def __init__(self, env: Mapping[str, str]) -> None:
        words = [sys.executable, str(Path(__file__).resolve())]
        pipe = subprocess.PIPE
        self._process = subprocess.Popen(words, env=dict(env), stdin=pipe, stdout=pipe, text=True)
        self._turn = threading.Lock()

    def __enter__(self) -> Warm:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._process.communicate()

    def run(self, words: Sequence[str], cwd: Path, out: Path, err: Path) -> int:
        """Run a command line in a folder, its two outputs to files; its exit code."""
        with self._turn:
            return int(self._ask([list(words), str(cwd.resolve()), str(out.resolve()), str(err.resolve())]))

    def where(self) -> Path:
        """The file of the package that it runs."""
        with self._turn:
            return Path(self._ask([]))

    def _ask(self, question: list[list[str] | str]) -> str:
        assert self._process.stdin is not None and self._process.stdout is not None
        self._process.stdin.write(json.dumps(question) + "\n")
        self._process.stdin.flush()
        answer = self._process.stdout.readline()
        if not answer:
            raise RuntimeError(f"the process that runs sunsched ended with {self._process.wait()}")
        return answer.rstrip("\n")


def _serve() -> None:
    """Answer each line of standard input: the package's file, or the exit code of the command line asked for."""
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    sys.path.pop(0)  # this file's folder
    load_all()
    import sunsched

    nothing = os.open(os.devnull, os.O_RDONLY)
    for line in sys.stdin:
        question = json.loads(line)
        if not question:
            answer: int | str = str(sunsched.__file__)
        else:
            words, cwd, out, err = question
            with open(out, "wb") as its_out, open(err, "wb") as its_err:
                answer = forked(words, (nothing, its_out.fileno(), its_err.fileno()), Path(cwd), {}, TIMEOUT_S)
        sys.stdout.write(f"{answer}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    _serve()
