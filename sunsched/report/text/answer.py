"""What every command says first: the answer, what it hangs on, what to do next; and how its tables stand behind.

One shape for all commands. The three are sentences of at most 80 columns where the names in them allow it; a longer one
is folded under itself. Tables that are long wait for `--all`, and the last line names them.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from sunsched.report.text.plain import wrapped


class Answer(NamedTuple):
    """The first three lines of a command.

    answer   what the keeper asked, in a sentence with its figures
    hangs_on   what would change it: what was assumed, measured, or is in doubt
    next_step   what to do now
    """

    answer: str
    hangs_on: str
    next_step: str

    def lines(self) -> list[str]:
        """The three as lines of a terminal."""
        told = (self.answer, self.hangs_on, self.next_step)
        return [line for text in told for line in wrapped(text, "", "  ").split("\n")]


class Block(NamedTuple):
    """A table or a list behind the answer.

    name   what the last line calls it where it is left out; empty for what always stands there
    """

    text: str
    name: str = ""


def told(answer: Answer, blocks: Iterable[Block], every: bool = False) -> str:
    """The answer, then the blocks; without `every` those with a name are left out and named in the last line."""
    found = [block for block in blocks if block.text]
    shown = [block.text.rstrip("\n") for block in found if every or not block.name]
    left = [block.name for block in found if block.name and not every]
    parts = ["\n".join(answer.lines()), *shown]
    if left:
        parts.append(wrapped(f"--all adds: {', '.join(left)}.", "", "  "))
    return "\n\n".join(parts) + "\n"
