"""Columns and folded lines: plain text for a terminal or a sheet of paper."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

WIDTH = 80  # columns of every text: an old terminal, and half of a sheet of paper
GAP = 2
LEAST_COLUMN = 6  # a column is made no narrower while another one can be


def columns(rows: Sequence[Sequence[str]], right: frozenset[int] = frozenset(), width: int = WIDTH) -> str:
    """Rows in padded columns, the first of them a heading; those numbered in `right` are set to the right.

    Where they would pass `width`, headings are folded first, then the widest columns, until every line fits.
    """
    widths = _fitting(rows, right, width)
    lines = []
    for row in rows:
        cells = [_folded(cell, wide) for cell, wide in zip(row, widths, strict=True)]
        for n in range(max(len(cell) for cell in cells)):
            parts = [cell[n] if n < len(cell) else "" for cell in cells]
            placed = [
                part.rjust(wide) if k in right else part.ljust(wide)
                for k, (part, wide) in enumerate(zip(parts, widths, strict=True))
            ]
            lines.append((" " * GAP).join(placed).rstrip())
    return "\n".join(lines) + "\n"


def _fitting(rows: Sequence[Sequence[str]], right: frozenset[int], width: int) -> list[int]:
    """Widths of the columns whose sum fits, taken from headings, then from texts, then from all."""
    count = len(rows[0])
    widths = [max(len(row[k]) for row in rows) for k in range(count)]
    body = rows[1:] or rows
    words = [max((len(word) for row in rows for word in row[k].split()), default=0) for k in range(count)]
    least_of_body = [max(*(len(row[k]) for row in body), words[k]) for k in range(count)]
    room = width - GAP * (count - 1)
    texts = [k for k in range(count) if k not in right]
    for allowed, floors in (
        (range(count), least_of_body),
        (texts, [max(word, LEAST_COLUMN) for word in words]),
        (range(count), [max(word, LEAST_COLUMN) for word in words]),
        (range(count), [1] * count),
    ):
        while sum(widths) > room:
            free = [k for k in allowed if widths[k] > floors[k]]
            if not free:
                break
            widths[max(free, key=lambda k: widths[k])] -= 1
    return widths


def _folded(cell: str, width: int) -> list[str]:
    """The lines of a cell, its own indent kept."""
    if len(cell) <= width:
        return [cell]
    indent = cell[: len(cell) - len(cell.lstrip())]
    return textwrap.wrap(cell.strip(), width, initial_indent=indent, subsequent_indent=indent) or [""]


def cautions_text(cautions: Iterable[str]) -> str:
    """The cautions that stand beside the results."""
    return "CAUTIONS\n" + "\n".join(wrapped(caution, "  - ") for caution in cautions) + "\n"


def wrapped(text: str, head: str, later: str | None = None) -> str:
    """`text` after `head`, folded under itself, or under `later`."""
    return textwrap.fill(
        text, WIDTH, initial_indent=head, subsequent_indent=" " * len(head) if later is None else later
    )
