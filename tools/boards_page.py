"""Write the tables of docs/boards.md again: `python tools/boards_page.py`; `--check` ends with 1 if they are old.

A table follows a line `<!-- boards: NAME -->`; its cells are those of `sunsched boards`.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Sequence
from pathlib import Path

from sunsched.job.board_list import BoardLine, board_list
from sunsched.report.text import boards

PAGE = Path(__file__).parent.parent / "docs" / "boards.md"
TABLE = re.compile(r"^<!-- boards: (\w+) -->\n\n(?:\|.*\n)*\n*", re.MULTILINE)


def text() -> str:
    """The page with its tables fresh."""
    lines = board_list()
    own = {line.name: line for line in lines if line.needs is not None}
    tables = {
        "programs": proofs([line for line in lines if line.part == "program"], boards.PROOF_HEAD),
        "needs": markdown([boards.NEEDS_HEAD, *map(boards.needs_cells, own.values())]),
        "readers": proofs([line for line in lines if line.part != "program"], boards.READER_HEAD),
    }
    return TABLE.sub(lambda found: f"{found[0].splitlines()[0]}\n\n{tables[found[1]]}\n", PAGE.read_text("utf-8"))


def proofs(lines: Sequence[BoardLine], head: tuple[str, ...]) -> str:
    """A table of what was run."""
    return markdown([head, *(boards.proof_cells(line)[: len(head)] for line in lines)])


def markdown(rows: Sequence[Sequence[str]]) -> str:
    """Rows as a table, the first of them its heading."""
    head, *body = rows
    return "".join(f"| {' | '.join(row)} |\n" for row in (head, ["---"] * len(head), *body))


def main() -> None:
    """Write or check."""
    fresh = text()
    if "--check" in sys.argv[1:]:
        sys.exit(int(fresh != PAGE.read_text("utf-8")))
    PAGE.write_text(fresh, "utf-8")


if __name__ == "__main__":
    main()
