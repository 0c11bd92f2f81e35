"""Find the examples of README.md and of the pages under docs/, and run them.

Every fenced block is an example of one kind, by the word behind its fence:

    text, or none   shown output where its first line is `$ sunsched ...`; any other text is only read
    sh              commands, one a line
    toml            a configuration, or a part of one, which has to be valid
    c               C that includes a header which an example above has written
    python          of docs/api.md and docs/adding.md: tests/test_library.py and tests/test_adding.py run them
    console         a talk with a chip; the emulated one is in tests/chip/line

The examples of a page run in the order of the page, in one empty folder that holds a link to configs/, so that a reader
who types them there in that order sees the same. A comment directly above the fence may say:

    <!-- file: hut.toml -->                  the block is written to that file; `hut.toml (added)`: to its end
    <!-- not run: REASON -->                 nothing here can run it
    <!-- run instead: COMMAND; REASON -->    the whole takes long: this smaller run is made

Commands run in this process; a line that needs a shell goes to one.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import shlex
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parent.parent
FENCE = re.compile(
    r"(?:^<!-- (?P<mark>file|not run|run instead): (?P<said>[^\n]*?) -->\n)?"
    r"^```(?P<kind>\w*)\n(?P<body>.*?)^```$",
    re.MULTILINE | re.DOTALL,
)
SHOWN = re.compile(r"\$ (sunsched [^\n]*)\n")
WIDTH = "80"
ADDED = " (added)"


@dataclass(frozen=True)
class Example:
    """One fenced block of a page: its kind, its text, and what the comment above it says."""

    page: Path
    line: int
    kind: str
    mark: str
    said: str
    body: str

    @property
    def where(self) -> str:
        """Page and line, as an error names them."""
        return f"{self.page.relative_to(ROOT)}:{self.line}"

    @property
    def shown(self) -> str:
        """The command whose output the block shows, or nothing."""
        match = SHOWN.match(self.body) if self.kind in ("", "text") else None
        return match[1] if match else ""

    @property
    def commands(self) -> list[str]:
        """The commands of a block of sh, joined where a line goes on, without their comments."""
        if self.kind != "sh":
            return []
        lines = self.body.replace("\\\n", " ").splitlines()
        return [line for line in (re.sub(r"(^|\s)#.*", "", line).strip() for line in lines) if line]

    @property
    def instead(self) -> tuple[str, str]:
        """The smaller run and the reason for it."""
        command, _, reason = self.said.partition("; ")
        return command, reason


def write(example: Example) -> None:
    """Write the file that the example is."""
    name = example.said.removesuffix(ADDED)
    with Path(name).open("a" if example.said.endswith(ADDED) else "w", encoding="utf-8") as file:
        file.write(example.body)


def pages() -> list[Path]:
    """README.md, then the pages by name."""
    return [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]


def examples(page: Path, text: str | None = None) -> list[Example]:
    """Every fenced block of a page, in order."""
    text = page.read_text(encoding="utf-8") if text is None else text
    return [
        Example(
            page,
            text.count("\n", 0, match.start("body")),
            match["kind"],
            match["mark"] or "",
            match["said"] or "",
            match["body"],
        )
        for match in FENCE.finditer(text)
    ]


@contextlib.contextmanager
def workshop(folder: Path) -> Iterator[None]:
    """Stand in an empty folder with a link to configs/, as wide as a terminal of 80 columns."""
    (folder / "configs").symlink_to(ROOT / "configs")
    before, columns = Path.cwd(), os.environ.get("COLUMNS")
    os.chdir(folder)
    os.environ["COLUMNS"] = WIDTH
    try:
        yield
    finally:
        os.chdir(before)
        os.environ.pop("COLUMNS")
        if columns is not None:
            os.environ["COLUMNS"] = columns


def output_of(command: str) -> str:
    """What a command line prints on stdout; warnings are shown by a terminal apart. Raises RuntimeError if it fails."""
    if re.search(r"[|<>&;]", command):
        return _by_a_shell(command)
    from sunsched.cli.app import run

    first, *words = shlex.split(command)
    if first != "sunsched":
        raise RuntimeError(f"{command}: only sunsched is run here; mark the block, with the reason")
    out, told = io.TextIOWrapper(io.BytesIO(), encoding="utf-8"), io.StringIO()
    code: object = 0
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(told):
        try:
            run(words)
        except SystemExit as leaving:
            code = leaving.code
    if code:
        raise RuntimeError(f"{command}: exit code {code}: {told.getvalue()}")
    out.flush()
    return out.buffer.getvalue().decode()


def _by_a_shell(command: str) -> str:
    shim = Path("sunsched")
    shim.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m sunsched "$@"\n', encoding="utf-8")
    shim.chmod(0o755)
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PATH": f"{Path.cwd()}:/usr/bin:/bin"}
    try:
        done = subprocess.run(
            ["sh", "-euc", command], env=environment, capture_output=True, text=True, timeout=120, check=False
        )
    finally:
        shim.unlink()
    if done.returncode:
        raise RuntimeError(f"{command}: exit code {done.returncode}: {done.stderr}")
    return done.stdout


def left_out(old: str, fresh: str) -> str:
    """The fresh output with the same lines left out as in the old block: its head and tail around a line '...'."""
    lines = fresh.rstrip("\n").split("\n")
    kept = old.rstrip("\n").split("\n")
    if "..." not in kept:
        return "\n".join(lines)
    head = kept.index("...")
    tail = len(kept) - head - 1
    return "\n".join([*lines[:head], "...", *(lines[-tail:] if tail else [])])
