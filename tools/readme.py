"""Run the commands that README.md and docs/ show and put their output back, so that they show what is printed.

    python tools/readme.py [PAGE ...]    write the pages again, all of them unless some are named
    python tools/readme.py --long ...    also the outputs whose whole run takes long (marked "run instead")
    python tools/readme.py --check ...   end with 1 and name the page if one does not show what its commands print

tools/examples.py says what an example is. A line `...` in a block stands for lines left out. The rows of the table in
docs/faults.md are those of the first table of docs/door_trials.md without its last column; docs/faults.md says which.
What the program needs, in docs/chip.md, are the figures of tests/chip/measured.json.
"""

from __future__ import annotations

import json
import re
import sys
import tempfile
from pathlib import Path

from tools import examples

FAULTS = examples.ROOT / "docs" / "faults.md"
TRIALS = examples.ROOT / "docs" / "door_trials.md"
CHIP = examples.ROOT / "docs" / "chip.md"
MEASURED = re.compile(r"^<!-- measured -->\n\n(?:\|.*\n)*\n*", re.MULTILINE)
NEEDS = {
    "flash_bytes": "flash, bytes of 32,768",
    "static_sram_bytes": "static SRAM, bytes of 2,048",
    "deepest_stack_bytes": "deepest stack, bytes",
    "cycles_awake_a_second": "cycles awake a second, of 16,000,000",
    "share_idle": "share of the time in idle sleep; the rest is powered down",
    "estimated_standby_ma_of_the_chip_alone": "mA of the chip alone, estimated",
}
ROWS = re.compile(r"^\| fault \|.*\n(?:\|.*\n)+", re.MULTILINE)


def fault_rows(text: str) -> str:
    """The page with its rows of faults as the trials' first table has them. Raises KeyError for a fault not in it."""
    found = ROWS.search(TRIALS.read_text(encoding="utf-8"))
    if found is None:
        raise RuntimeError(f"{TRIALS}: no table of faults")
    rows = {line.split(" | ")[0]: line.rsplit(" | ", 1)[0] + " |" for line in found[0].splitlines()}
    rule = next(first for first in rows if set(first) <= set("|-"))
    rows[rule] = "|" + "---|" * rows["| fault"].count(" | ") + "---|"

    def again(match: re.Match[str]) -> str:
        firsts = [line.split(" | ")[0].removesuffix(" |") for line in match[0].splitlines()]
        return "\n".join(rows[rule if set(first) <= set("|-") else first] for first in firsts) + "\n"

    return ROWS.sub(again, text)


def measured_rows(text: str) -> str:
    """The page with what the program needs as it was measured last. Raises KeyError for a figure without words."""
    measured = json.loads((examples.ROOT / "tests" / "chip" / "measured.json").read_text(encoding="utf-8"))["program"]
    rows = [f"| {NEEDS[key]} | {value:,} |\n" for key, value in measured.items()]
    return MEASURED.sub(f"<!-- measured -->\n\n| what | figure |\n|---|---|\n{''.join(rows)}\n", text)


def rewritten(page: Path, long: bool = False) -> str:
    """A page with every shown output fresh; commands and files of the page run and are written in its order."""
    text = page.read_text(encoding="utf-8")
    if page == FAULTS:
        text = fault_rows(text)
    if page == CHIP:
        text = measured_rows(text)
    with tempfile.TemporaryDirectory() as name, examples.workshop(Path(name)):
        for example in examples.examples(page, text):
            if example.mark == "file":
                examples.write(example)
            if example.mark == "run instead" and not long:
                examples.output_of(example.instead[0])
                continue
            if example.mark == "not run":
                continue
            for command in example.commands:
                examples.output_of(command)
            if example.shown:
                head, _, old = example.body.partition("\n")
                fresh = examples.left_out(old, examples.output_of(example.shown))
                # The first block with this text: the ones before it show what is printed already.
                text = text.replace(f"```{example.kind}\n{example.body}```", f"```text\n{head}\n{fresh}\n```", 1)
    return text


def main() -> None:
    """Write or check."""
    words = [word for word in sys.argv[1:] if not word.startswith("--")]
    wrong = []
    for page in [Path(word).resolve() for word in words] or examples.pages():
        new = rewritten(page, "--long" in sys.argv)
        if new != page.read_text(encoding="utf-8"):
            wrong.append(str(page.relative_to(examples.ROOT)))
            if "--check" not in sys.argv:
                page.write_text(new, encoding="utf-8")
    if "--check" in sys.argv and wrong:
        sys.stderr.write(f"not what the commands print: {', '.join(wrong)}; run: python tools/readme.py\n")
        raise SystemExit(1)


if __name__ == "__main__":
    main()
