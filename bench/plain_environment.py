"""A plain environment for whole processes: the package installed from a wheel, as a user has it.

An editable installation adds a finder that every start of the interpreter imports: the bare interpreter then starts
more slowly, and a ratio to it comes out too small. The environment here is a fresh venv without pip. The wheel is
built from a copy of the sources, so that no earlier build folder gets into it, and installed there; pip fetches the
build backend as for any build. The libraries it
needs are not installed again: one line in a .pth file names the site-packages of the running interpreter. The
interpreter adds that folder to its path but reads no .pth file in it, so neither the editable finder nor other start-up
code comes along. `--system-site-packages` would not do: it shows the base interpreter's packages, not those of the
venv in which the benchmarks run.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import sysconfig
import venv
from pathlib import Path

ROOT = Path(__file__).parent.parent
SOURCES = ("sunsched", "pyproject.toml", "README.md", "LICENSE")
WHERE = "import sunsched, sys; print(sunsched.__file__); print([n for n in sys.modules if n.startswith('__editable')])"


def wheel_of(folder: Path, checkout: Path = ROOT) -> Path:
    """A wheel of a checkout's package in `folder`, built from a copy of the sources."""
    copy = folder / "sources"
    copy.mkdir()
    for name in SOURCES:
        if (checkout / name).is_dir():
            shutil.copytree(checkout / name, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(checkout / name, copy)
    _run(sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", str(folder), str(copy))
    return next(folder.glob("sunsched-*.whl"))


def bare_python(folder: Path) -> str:
    """The interpreter of a fresh venv in `folder`, without pip and without a package: what `python -c pass` starts."""
    home = folder / "plain"
    venv.create(home, with_pip=False, symlinks=os.name != "nt")
    return str(home / ("Scripts/python.exe" if os.name == "nt" else "bin/python"))


def plain_python(folder: Path, checkout: Path = ROOT) -> str:
    """The interpreter of a plain environment made in `folder`, with the package's modules compiled.

    Raises RuntimeError where that interpreter would run another package than the installed one.
    """
    python = bare_python(folder)
    packages = Path(_run(python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))").strip())
    pip = (sys.executable, "-m", "pip", "--quiet", "--disable-pip-version-check", "--python", python)
    _run(*pip, "install", "--no-deps", "--no-index", str(wheel_of(folder, checkout)))
    ours = dict.fromkeys(sysconfig.get_path(kind) for kind in ("purelib", "platlib"))
    (packages / "libraries.pth").write_text("\n".join(ours) + "\n", encoding="utf-8")
    place, editable = _run(python, "-c", WHERE).splitlines()
    if not Path(place).is_relative_to(packages) or editable != "[]":
        raise RuntimeError(f"the plain environment runs {place}, editable finders {editable}; wanted {packages}")
    return python


def _run(*words: str) -> str:
    environment = {key: value for key, value in os.environ.items() if not key.startswith("PYTHON")}
    done = subprocess.run(words, capture_output=True, text=True, env=environment, cwd="/")
    if done.returncode:
        raise RuntimeError(f"{' '.join(words)} ended with {done.returncode}: {done.stderr[-2000:]}")
    return done.stdout
