"""Small changes to the core's text, one at a time, and whether the tests' inputs tell them from the core.

`python -m tests.controller.mutants [--every N] [--first K]` prints each survivor with its line, and the counts. A
mutant is killed when anything differs from what the core says, and with it the twin: an output, a field of the
state, or what is stored, in any moment (moments.py), stretch (stress.py) or recorded day (vectors.py).
"""

from __future__ import annotations

import argparse
import re
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.controller import mutant_judge as judge
from tests.controller.core_library import CORE_FILES

SWAPS = (
    (r"<=", ("<", ">=")), (r">=", (">", "<=")), (r"(?<![<>=!-])<(?![<=])", ("<=", ">")),
    (r"(?<![<>=!-])>(?![>=])", (">=", "<")), (r"==", ("!=",)), (r"!=", ("==",)), (r"&&", ("||",)), (r"\|\|", ("&&",)),
    (r"(?<=\w\)) \+ |(?<=\w) \+ ", (" - ",)), (r"(?<=\w) - (?=\w)", (" + ",)), (r"\+\+", ("--",)), (r"\|=", ("&=",)),
    (r"(?<=[ (])!(?=[\w(])", ("",)), (r"(?<=[ (=\-])(\d+)(?=u?(?:[ ;,)]|$))", ("+1", "-1")),
    (r"= 1;", ("= 0;",)), (r"= 0;", ("= 1;",)),
    (r"LATCH_DOWN", ("LATCH_NONE",)), (r"LATCH_UP", ("LATCH_NONE",)), (r"FALL_NATURAL", ("FALL_ABRUPT",)),
    (r"DOOR_WANT_DOWN", ("DOOR_WANT_UP",)), (r"DOOR_WANT_UP", ("DOOR_WANT_DOWN",)), (r"PLACE_UP", ("PLACE_UNKNOWN",)),
    (r"PLACE_DOWN", ("PLACE_UNKNOWN",)), (r"(?<=\w) / (?=\w)", (" * ",)),
    (r"^ +(?=\S)(?!return|static|u?int\d|sight_t|door_row_t)[^{};]*;\s*$", ("",)),
    (r"(?<=[ )])\{ [^{}]*; \}", ("{ }",)),
)  # fmt: skip
INNER, SHORTENED = "door_inner.h", "door_decision.h"
DECLARES = re.compile(r"(static |u?int\d*_t |void |sight_t |#)(?!.*[{?])(?!define DOOR_\w+ +\(|define \w+ +[(-]*\d)")


@dataclass(frozen=True)
class Mutant:
    """One changed line of one file."""

    file: str
    line: int
    was: str
    now: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line + 1}: {self.was.strip()}  ->  {self.now.strip()}"


def _changes(line: str) -> Iterator[str]:
    for pattern, choices in SWAPS:
        for match in re.finditer(pattern, line):
            for choice in choices:
                text = str(max(0, int(match[0]) + int(choice))) if choice in ("+1", "-1") else choice
                if text != match[0]:
                    yield line[: match.start()] + text + line[match.end() :]


def _code_lines(name: str) -> Iterator[tuple[int, str]]:
    """Lines that decide something: not comments, includes and declarations; of the shared header the constants."""
    text = judge.core_text(name)
    code = re.sub(r"/\*.*?\*/", lambda match: re.sub(r"[^\n]", " ", match[0]), text, flags=re.DOTALL)
    for number, line in enumerate(code.splitlines()):
        wanted = re.match(r"#define \w+ \d", line) if name == SHORTENED else not DECLARES.match(line)
        if line.strip() and wanted:
            yield number, line


def mutants() -> list[Mutant]:
    """Every change of every line that decides something."""
    return [
        Mutant(name, number, line, now)
        for name in (*CORE_FILES, INNER, SHORTENED)
        for number, line in _code_lines(name)
        for now in dict.fromkeys(_changes(line))
    ]


class Trial:
    """Judges mutants one after the other; a program already judged is not judged again."""

    def __init__(self, inputs: judge.Recorded) -> None:
        self.inputs = inputs
        self._folder = TemporaryDirectory()
        self._build = judge.Build(Path(self._folder.name))
        self._known = {self._build.core_code(): judge.SAME_CODE}

    def killer(self, mutant: Mutant) -> str:
        """What tells the mutant from the core, empty if nothing does; SAME_CODE or NO_C if there is nothing to ask."""
        lines = judge.core_text(mutant.file).splitlines()
        lines[mutant.line] = mutant.now
        code = self._build.changed(mutant.file, "\n".join(lines) + "\n")
        if code is None:
            return judge.NO_C
        if code not in self._known:
            self._known[code] = judge.killer(self._build.linked(), self.inputs)
        return self._known[code]

    def surviving(self, chosen: Sequence[Mutant]) -> list[Mutant]:
        """Try the mutants, print the survivors and the counts, return the survivors."""
        left, killers = [], Counter[str]()
        for mutant in chosen:
            killer = self.killer(mutant)
            killers[killer] += 1
            if not killer:
                left.append(mutant)
                print(mutant, flush=True)
        same = killers.pop(judge.SAME_CODE, 0)
        no_c, survive = killers.pop(judge.NO_C, 0), killers.pop("", 0)
        print(f"{len(chosen)} changes: {no_c} do not compile, {same} compile to the core itself, ", end="")
        print(f"{killers.total()} killed, {survive} survive")
        print(", ".join(f"{name} {n}" for name, n in killers.most_common()), flush=True)
        return left


def main(words: list[str] | None = None) -> int:
    """Run the mutants and print the survivors."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--first", type=int, default=0)
    asked = parser.parse_args(words)
    Trial(judge.recorded()).surviving(mutants()[asked.first :: asked.every])
    return 0


if __name__ == "__main__":
    sys.exit(main())
