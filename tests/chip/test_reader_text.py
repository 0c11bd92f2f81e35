"""The C text of packed tables: generated headers without a warning everywhere, and MISRA departures all explained."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.chip import packed
from tests.chip.packed import OF_LAYOUT, Case
from tests.support import toolchain

READER = sorted(toolchain.C_DIR.glob("sunsched_*.h"))
USE = """#include "{header}"
int16_t use(uint16_t year, uint8_t month, uint8_t day);
int16_t use(uint16_t year, uint8_t month, uint8_t day)
{{
    (void)year;
    if ((door_check() != SUNSCHED_GOOD) || (door_facts({year}month, day) == 0u)) {{
        return door_midnight_min({year}month, day);
    }}
    return (int16_t)(door_close_min({year}month, day) - door_open_min({year}month, day));
}}
"""
# What cppcheck says that is no finding in the reader: nobody calls the function that uses it, and a macro whose
# value only the preprocessor compares was not tried with others; the folder of avr-libc is not searched.
NO_FINDING = {"unusedFunction", "ConfigurationNotChecked", "missingInclude"}
DEPARTURES = " * Departs from MISRA C:2012 in:\n"


def use_of(case: Case, folder: Path) -> Path:
    source = folder / "use.c"
    year = "year, " if len(case.years) > 1 else ""
    source.write_text(USE.format(header=packed.header(case, folder).name, year=year))
    return source


@pytest.mark.parametrize("line", toolchain.MATRIX_NAMES)
def test_a_header_of_each_layout_compiles_without_a_warning(line: str, tmp_path: Path) -> None:
    for case in OF_LAYOUT:
        toolchain.compile_text(line, use_of(case, tmp_path), tmp_path / "use.o")


def explained(path: Path) -> set[str]:
    """The rules that a C file says it departs from, each with its reason."""
    found = set()
    for block in path.read_text(encoding="ascii").split(DEPARTURES)[1:]:
        for line in block.splitlines():
            match = re.match(r" \*   (\d+\.\d+) +\w.{10,}\.$", line)
            if match is None:
                break
            found.add(match[1])
    return found


def departures(findings: list[str]) -> dict[str, set[str]]:
    """MISRA rules by the name of the file that departs from them; anything else that is found is a failure."""
    by_file: dict[str, set[str]] = {}
    for finding in findings:
        place, found = finding.rsplit(": ", 1)
        if found in NO_FINDING:
            continue
        rule = re.fullmatch(r"misra-c2012-(\d+\.\d+)", found)
        assert rule is not None, finding
        by_file.setdefault(Path(place.rsplit(":", 1)[0]).name, set()).add(rule[1])
    return by_file


@pytest.mark.parametrize("platform", ["avr8", "unix32"])
def test_every_departure_from_misra_is_explained_in_its_file_and_no_other(platform: str, tmp_path: Path) -> None:
    source = tmp_path / "use.c"
    source.write_text(
        '#include "sunsched_table.h"\n'
        "int16_t use(const uint8_t *image);\n"
        "int16_t use(const uint8_t *image) { return sunsched_open_min(image, 2u, 28u); }\n"
    )
    findings = toolchain.misra_findings([source], f"-I{toolchain.C_DIR}", platform=platform)
    found = departures(findings)
    assert found == {path.name: explained(path) for path in READER}


def test_generated_headers_depart_from_misra_in_one_type_that_only_checks(tmp_path: Path) -> None:
    for case in OF_LAYOUT[-2:]:
        source = use_of(case, tmp_path)
        found = departures(toolchain.misra_findings([source]))
        found.pop(source.name, None)
        header = packed.header(case, tmp_path).name
        # 2.3, a type that is not used: the length of the image is checked by one, C99 knowing no _Static_assert.
        assert found.pop(header) == {"2.3"}
        for name, rules in found.items():
            # Not every part is asked for everything here, so a few departures of the reader stay unseen.
            assert rules <= explained(tmp_path / name), name
