"""Every packed table of every shipped configuration on every chip and memory: `python -m tests.chip.table_proof`.

--write puts the figures found into measured_tables.md; words choose the tables whose names have one of them, as in
`python -m tests.chip.table_proof --write blocks larch_end-2027`. All take some five minutes on two cores.
Ends with 1 if a chip says other than the plan or a figure is not the one kept.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from tests.chip import packed, table_figures, table_targets
from tests.chip.packed import Case


def tried(case: Case, target: str) -> tuple[list[str], str | None]:
    """What is wrong with a table on a target, and its row of figures where they are measured."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        lines = table_targets.said(table_targets.program(case, target, folder), target)
        wrong = table_targets.wrong(case, lines)
        if target not in table_figures.MEASURED:
            return wrong, None
        return wrong, table_figures.measured(case, target, lines, folder).row(case, target)


def everywhere(case: Case) -> list[tuple[str, list[str], str | None]]:
    """A table on every target where it can be."""
    targets = [target for target in table_targets.TARGETS if table_targets.cannot(case, target) is None]
    return [(f"{case} on {target}", *tried(case, target)) for target in targets]


def unpackable() -> Iterator[str]:
    """What is wrong with the tables that cannot be: each has to be refused in the words expected."""
    from sunsched.base.errors import CapacityError

    for (name, layout), words in packed.CANNOT_PACK.items():
        case = Case(name, packed.MANY[0], layout)
        try:
            packed.packed(case)
        except CapacityError as error:
            if words not in str(error):
                yield f"{case} is refused with other words: {error}"
        else:
            yield f"{case} can be packed; CANNOT_PACK says it cannot"


def untrue(rows: list[str], cases: list[Case]) -> Iterator[str]:
    """Rows found that the file does not have or has otherwise, and rows it has that were not found."""
    names = set(map(str, cases))
    kept = {place: row for place, row in table_figures.kept_rows().items() if place[0] in names}
    for row in rows:
        was = kept.pop(place_of(row), None)
        if was is None or not table_figures.still_true(was, row):
            yield f"kept {was}, found {row}"
    yield from (f"kept, not found: {row}" for row in kept.values())


def place_of(row: str) -> tuple[str, str]:
    """Table and target of a row."""
    cells = row.strip("| ").split(" | ")
    return cells[0], cells[1]


def rewritten(rows: list[str], cases: list[Case]) -> None:
    """Put the rows of the cases tried into the file, in place of those it has of them."""
    tried_names = {str(case) for case in cases}
    kept = table_figures.kept_rows() if table_figures.KEPT.exists() else {}
    by_place = {(name, target): row for (name, target), row in kept.items() if name not in tried_names}
    by_place |= {place_of(row): row for row in rows}
    ordered = [
        by_place[str(case), target]
        for case in packed.CASES
        for target in table_targets.TARGETS
        if (str(case), target) in by_place
    ]
    table_figures.KEPT.write_text(table_figures.text(ordered), encoding="ascii")


def main(arguments: list[str]) -> int:
    """Print the proof."""
    words = [word for word in arguments if word != "--write"]
    cases = [case for case in packed.CASES if not words or any(word in str(case) for word in words)]
    rows, faults = [], [] if words else list(unpackable())
    count = 0
    with ProcessPoolExecutor() as pool:
        for found in pool.map(everywhere, cases):
            for where, wrong, row in found:
                count += 1
                faults += [f"{where}: {fault}" for fault in wrong]
                rows += [] if row is None else [row]
                print(f"{where}: {len(wrong)} faults", flush=True)
    if "--write" in arguments:
        rewritten(rows, cases)
    else:
        faults += list(untrue(rows, cases))
    print(f"{count} combinations, {len(faults)} faults", *faults, sep="\n")
    return 1 if faults else 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
