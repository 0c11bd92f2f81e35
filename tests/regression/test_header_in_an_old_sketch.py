"""A header did not compile in an old sketch: C++ before C++11 hides INT16_MIN, which meant "the door stays down".

IDEs for such boards built sketches as gnu++98 before 2015, and avr-g++ 5 still does where no standard is named.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.conftest import ROOT
from tests.support import toolchain


@pytest.mark.parametrize("header", ["fig_yard_2028.h", "larch_end_2027.h"])
def test_a_header_compiles_as_old_cpp(header: str, tmp_path: Path) -> None:
    toolchain.needed("avr-g++")
    (tmp_path / "old.cpp").write_text(
        f'#include <stdint.h>\n#include "{header}"\nint16_t made = door_close_min(3, 28);\n'
        "bool none = door_open_min(3, 28) == DOOR_NONE_HERE;\n",
        encoding="utf-8",
    )
    none = "DOOR_NONE" if header.startswith("fig") else "SUNSCHED_NONE"
    folders = [f"-I{ROOT / 'tests' / 'golden'}", f"-I{ROOT / 'sunsched' / 'controller' / 'c'}"]
    words = ["avr-g++", "-std=gnu++98", "-mmcu=atmega328p", "-Wall", "-Werror", f"-DDOOR_NONE_HERE={none}", *folders]
    toolchain.run([*words, "-c", "-o", tmp_path / "old.o", tmp_path / "old.cpp"])
