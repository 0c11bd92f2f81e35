"""Objects that a run compiles once: taken where the source, all that it includes and the command are the same."""

from __future__ import annotations

import ctypes
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.support import objects, toolchain

MAKEFILE = """CFLAGS = -Wall
%.o: %.c $(wildcard *.h)
\t@echo $< >>../compiled
\t@gcc $(CFLAGS) -c -o $@ $<
all: a.o b.o
"""
TEXTS = {
    "a.c": '#include "one.h"\nint a(void) { return ONE; }\n',
    "b.c": "#include <stdint.h>\nint32_t b(void) { return 2; }\n",
    "one.h": '#include "two.h"\n#define ONE TWO - 1\n',
    "two.h": "#define TWO 2\n",
}
Folder = Callable[..., Path]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Folder:
    """Makes a folder with the texts above, some of them changed, beside the list of what was compiled."""
    toolchain.needed("gcc", "make")
    shared = tmp_path / "shared"
    shared.mkdir()
    monkeypatch.setattr(toolchain, "shared_builds", [shared])

    def made(name: str, **changed: str) -> Path:
        place = tmp_path / name
        place.mkdir()
        for file, text in {"Makefile": MAKEFILE, **TEXTS, **changed}.items():
            (place / file).write_text(text)
        (tmp_path / "compiled").write_text("")
        return place

    return made


def compiled(place: Path) -> list[str]:
    return sorted((place.parent / "compiled").read_text().split())


def test_a_source_is_compiled_again_where_something_that_it_includes_has_changed(folder: Folder) -> None:
    first = folder("first")
    assert objects.make(first, "all") == "" and compiled(first) == ["a.c", "b.c"]
    same = folder("same")
    assert objects.make(same, "all") == "" and compiled(same) == []
    assert [(same / name).read_bytes() for name in ("a.o", "b.o")] == [
        (first / name).read_bytes() for name in ("a.o", "b.o")
    ]
    other = folder("other", **{"two.h": "#define TWO 3\n"})
    assert objects.make(other, "all") == "" and compiled(other) == ["a.c"]
    assert (other / "a.o").read_bytes() != (first / "a.o").read_bytes()
    source = folder("source", **{"b.c": "int b(void) { return 3; }\n"})
    assert objects.make(source, "all") == "" and compiled(source) == ["b.c"]


def test_another_command_compiles_all_again(folder: Folder) -> None:
    objects.make(folder("first"), "all")
    words = folder("words")
    assert objects.make(words, "all", "CFLAGS=-O2") == "" and compiled(words) == ["a.c", "b.c"]
    rule = folder("rule", Makefile=MAKEFILE.replace("-Wall", "-Wextra"))
    assert objects.make(rule, "all") == "" and compiled(rule) == ["a.c", "b.c"]


def test_a_warning_is_said_each_time(folder: Folder) -> None:
    text = {"b.c": "static int never(void) { return 1; }\n"}
    for name in ("first", "second"):
        place = folder(name, **text)
        assert "defined but not used" in objects.make(place, "all") and "b.c" in compiled(place)


def test_what_a_macro_includes_is_for_the_compiler_alone(folder: Folder) -> None:
    text = {"b.c": '#define WHICH "two.h"\n#include WHICH\nint b(void) { return TWO; }\n'}
    objects.make(folder("first", **text), "all")
    again = folder("again", **text)
    objects.make(again, "all")
    assert compiled(again) == ["b.c"]
    assert objects.texts_read(again / "b.c") is None
    assert list(objects.texts_read(again / "a.c") or ()) == ["a.c", "one.h", "two.h"]


def test_a_program_linked_of_kept_objects_is_the_one_that_its_texts_make(folder: Folder, tmp_path: Path) -> None:
    main = '#include "one.h"\nint b(void);\nint main(void) { return b() * 10 + ONE; }\n'

    def code(name: str, **changed: str) -> int:
        place = folder(name, **{"a.c": main, "b.c": "int b(void) { return 2; }\n", **changed})
        out = place / "program"
        objects.link(["-std=c99"], [place], [place / "a.c", place / "b.c"], out)
        return int(toolchain.run(["sh", "-c", f"{out}; echo $?"]).stdout)

    assert code("first") == code("same") == 21
    assert code("header", **{"two.h": "#define TWO 5\n"}) == 24
    assert code("source", **{"b.c": "int b(void) { return 3; }\n"}) == 31


def test_a_macro_of_ours_is_given_to_the_sources_that_read_it(folder: Folder) -> None:
    text = {"two.h": "#define TWO OUR_TWO\n"}
    made = {}
    for value in ("2", "3"):
        place = folder(f"with{value}", **text)
        sources, out = [place / "a.c", place / "b.c"], place / "both.so"
        objects.link(["-std=c99", "-shared", "-fPIC"], [place], sources, out, ours={"OUR_TWO": value})
        made[value] = ctypes.CDLL(str(out))
    assert [made[value].a() for value in ("2", "3")] == [1, 2]
    assert [made[value].b() for value in ("2", "3")] == [2, 2]
    assert len(list(toolchain.shared_builds[0].glob("*.o"))) == 3
