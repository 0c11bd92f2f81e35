"""Run the commands that the README shows and put their output back, so that what it shows is what they print.

    python tools/readme.py           rewrite README.md
    python tools/readme.py --check   end with 1 if README.md is not what the commands print

A fenced block whose first line starts with `$ ` is such a command. Each runs in an empty folder that holds a
link to configs/; a line `...` in the block stands for lines left out. A block fenced as `console` needs a chip and is
not run. The rows of the table of faults are those of docs/door_trials.md's first table, without its last column:
README.md chooses which.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parent.parent
README = ROOT / "README.md"
TRIALS = ROOT / "docs" / "door_trials.md"
FAULTS = re.compile(r"^\| fault \|.*\n(?:\|.*\n)+", re.MULTILINE)
BLOCK = re.compile(r"^```(?:text)?\n(\$ (sunsched [^\n]*)\n(?:.*?\n)?)```$", re.MULTILINE | re.DOTALL)


def output_of(command: str, folder: Path) -> str:
    """What a command prints on stdout; warnings are shown by the terminal apart."""
    words = [sys.executable, "-m", "sunsched", *command.split()[1:]]
    environment = {"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin", "LANG": "C.UTF-8", "COLUMNS": "120"}
    done = subprocess.run(words, cwd=folder, env=environment, capture_output=True, text=True, timeout=600)
    if done.returncode:
        raise RuntimeError(f"{command}: exit code {done.returncode}: {done.stderr}")
    return done.stdout


def shown(old: str, fresh: str) -> str:
    """The fresh output with the same lines left out as in the old block: its head and tail around a line '...'."""
    lines = fresh.rstrip("\n").split("\n")
    kept = old.rstrip("\n").split("\n")
    if "..." not in kept:
        return "\n".join(lines)
    head = kept.index("...")
    tail = len(kept) - head - 1
    return "\n".join([*lines[:head], "...", *(lines[-tail:] if tail else [])])


def fault_rows(text: str) -> str:
    """The README's rows of faults as the trials' first table has them. Raises KeyError for a fault not in it."""
    result = FAULTS.search(TRIALS.read_text(encoding="utf-8"))
    if result is None:
        raise RuntimeError(f"{TRIALS}: no table of faults")
    rows = {line.split(" | ")[0]: line.rsplit(" | ", 1)[0] + " |" for line in result[0].splitlines()}
    rule = next(first for first in rows if set(first) <= set("|-"))
    rows[rule] = "|" + "---|" * rows["| fault"].count(" | ") + "---|"

    def again(match: re.Match[str]) -> str:
        firsts = [line.split(" | ")[0].removesuffix(" |") for line in match[0].splitlines()]
        return "\n".join(rows[rule if set(first) <= set("|-") else first] for first in firsts) + "\n"

    return FAULTS.sub(again, text)


def rewritten(text: str) -> str:
    """The README with every command's output and every fault fresh."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "configs").symlink_to(ROOT / "configs")

        def again(match: re.Match[str]) -> str:
            command, block = match[2], match[1]
            old = block.split("\n", 1)[1]
            return f"```text\n$ {command}\n{shown(old, output_of(command, folder))}\n```"

        return BLOCK.sub(again, fault_rows(text))


def main() -> None:
    """Rewrite or check."""
    old = README.read_text(encoding="utf-8")
    new = rewritten(old)
    if "--check" in sys.argv[1:]:
        if new != old:
            sys.stderr.write("README.md does not show what its commands print; run: python tools/readme.py\n")
            raise SystemExit(1)
    else:
        README.write_text(new, encoding="utf-8")


if __name__ == "__main__":
    main()
