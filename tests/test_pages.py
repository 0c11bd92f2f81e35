"""README.md and the pages under docs/: examples run, words are counted, the site is built without a warning."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from sunsched.base.errors import ConfigError
from sunsched.config import toml_file
from sunsched.config.schema import schema
from tests.conftest import ROOT
from tests.support import toolchain
from tools import configuration_page, examples, readme

PAGES = examples.pages()
SHORTEST = '[site]\nlatitude_deg = 47.318\nlongitude_deg = 8.949\nzone = "Europe/Zurich"\n'
# Python of these pages runs in tests/test_library.py and tests/test_adding.py; code of a recipe may be of any kind.
PYTHON = ("api.md", "adding.md")
ASKED = r"""
#ifndef __AVR__
#include <stdio.h>
#include <stdlib.h>
#endif
int main(int n, char **words)
{
    volatile int8_t down = door_down_now(1, 1, 0, 0);
    (void)down;
#ifndef __AVR__
    for (int at = 1; at + 2 < n; at += 3) {
        const int minute = atoi(words[at + 2]);
        printf("%d\n", door_down_now(atoi(words[at]), atoi(words[at + 1]), minute / 60, minute % 60));
    }
#endif
    return (n < 0 || words == 0) ? 1 : 0;
}
"""


def name_of(page: Path) -> str:
    return page.name


@pytest.mark.parametrize("page", PAGES, ids=name_of)
def test_a_page_shows_what_its_commands_print(page: Path) -> None:
    # Every block of sh runs too; a command that fails raises.
    assert readme.rewritten(page) == page.read_text(encoding="utf-8"), f"run: python tools/readme.py docs/{page.name}"


@pytest.mark.parametrize("page", PAGES, ids=name_of)
def test_every_example_of_a_page_is_run_or_says_why_not(page: Path, tmp_path: Path) -> None:
    for example in examples.examples(page):
        if example.mark == "not run":
            assert len(example.said.split()) >= 4, f"{example.where}: no reason"
        elif example.mark == "run instead":
            command, reason = example.instead
            assert example.shown or example.commands, f"{example.where}: no command to be run"
            assert len(reason.split()) >= 4, f"{example.where}: no reason"
            assert command.startswith("sunsched "), f"{example.where}: no smaller run"
        elif example.kind == "toml":
            assert read_as_configuration(example.body, tmp_path / "part.toml")
        elif example.kind in ("sh", "", "text"):
            assert example.commands or example.kind != "sh", f"{example.where}: no command"
        else:
            known = example.kind == "console" or page.name in PYTHON
            assert known, f"{example.where}: nothing runs a block of {example.kind}; mark it, with the reason"


def read_as_configuration(text: str, path: Path) -> bool:
    """Whether a configuration, or a part of one, is read; raises ConfigError with what is wrong."""
    whole = text if "site" in tomllib.loads(text) else SHORTEST + text
    path.write_text(whole, encoding="utf-8")
    return bool(toml_file.read(str(path)))


def test_a_wrong_key_in_an_example_is_found(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match="later_mins"):
        read_as_configuration("[evening]\nlater_mins = 3\n", tmp_path / "part.toml")


def test_a_command_that_fails_and_one_that_is_not_ours_are_found(tmp_path: Path) -> None:
    with examples.workshop(tmp_path):
        with pytest.raises(RuntimeError, match="exit code 66"):
            examples.output_of("sunsched day nowhere.toml 2027-03-28")
        with pytest.raises(RuntimeError, match="only sunsched is run here"):
            examples.output_of("pip install sunsched")
        with pytest.raises(RuntimeError, match="exit code 66"):
            examples.output_of("sunsched day nowhere.toml 2027-03-28 > day.txt")


def test_the_readme_is_short() -> None:
    assert len((ROOT / "README.md").read_text(encoding="utf-8").split()) <= 1500


def test_the_readmes_test_command_is_what_ci_runs() -> None:
    assert "`bash tools/check`" in (ROOT / "README.md").read_text(encoding="utf-8")
    assert "bash tools/check" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_every_key_means_something_on_the_page() -> None:
    page = configuration_page.PAGE.read_text(encoding="utf-8")
    assert configuration_page.text() == page, "run: python tools/man_page.py"
    assert re.findall(r"^\| `\w+` \|.*\| (?:\?|) \|$", page, re.MULTILINE) == []
    parts = set(schema()["$defs"])
    # A season's patch has the keys of the moment that it replaces.
    assert set(re.findall(r"<!-- keys: (\w+) -->", page)) == parts - {"MomentPatch"}


@pytest.fixture(scope="module")
def sketch(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The C of docs/chip.md beside the header that the page has written."""
    folder = tmp_path_factory.mktemp("sketch")
    (code,) = [one.body for one in examples.examples(ROOT / "docs" / "chip.md") if one.kind == "c"]
    (folder / "door.c").write_text(code + ASKED, encoding="utf-8")
    with examples.workshop(folder):
        examples.output_of("sunsched table configs/larch_end.toml --year 2027 --as c")
    return folder


@pytest.mark.parametrize("standard", ["gnu++98", "gnu++17"])
def test_the_sketch_of_the_chips_page_compiles_for_the_chip(sketch: Path, standard: str) -> None:
    # gnu++98 is that of IDEs before 2015, which an old sketch may still be built with: INT16_MIN is hidden there.
    toolchain.needed("avr-g++")
    words = ["avr-g++", f"-std={standard}", "-x", "c++", "-mmcu=atmega328p", "-Os", "-Wall", "-Werror"]
    toolchain.run([*words, "-c", "-o", sketch / "door.o", sketch / "door.c"])


def test_the_sketch_of_the_chips_page_closes_and_opens_by_the_plan(sketch: Path) -> None:
    toolchain.needed("gcc")
    toolchain.run(["gcc", "-Wall", "-Werror", "-o", sketch / "door", sketch / "door.c"])
    (sketch / "told").mkdir()
    with examples.workshop(sketch / "told"):
        told = examples.output_of("sunsched day configs/larch_end.toml 2027-03-28")
    opens, closes = map(int, re.findall(r"chip minute (\d+)", told))
    asked = [(3, 28, minute) for minute in (0, opens - 1, opens, closes - 1, closes, 1439)] + [
        (12, 1, 720),
        (2, 30, 720),
    ]
    words = [str(number) for one in asked for number in one]
    # 1 December is a day kept in, and there is no 30 February.
    assert toolchain.run([sketch / "door", *words]).stdout.split() == ["1", "1", "0", "0", "1", "1", "1", "-1"]


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The built site. A broken link, a page that no list names, or any other warning fails the build."""
    folder = tmp_path_factory.mktemp("site")
    # Not with --quiet: it keeps warnings from being counted, and a broken link would pass.
    command = [sys.executable, "-m", "mkdocs", "build", "--strict", "--site-dir", str(folder)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    return folder


def test_the_site_is_whole_and_fetches_nothing(site: Path) -> None:
    made = {page.stem for page in site.glob("*.html")}
    assert {page.stem for page in PAGES if page.name != "README.md"} <= made
    for page in site.glob("*.html"):
        text = page.read_text(encoding="utf-8")
        fetched = re.findall(r'<(?:script|link|img|iframe|source)[^>]*(?:src|href)="([^"]*)"', text)
        assert [one for one in fetched if re.match(r"(https?:)?//", one)] == [], page.name
    for sheet in site.rglob("*.css"):
        assert not re.search(r"(@import|url\()\s*['\"]?(https?:)?//", sheet.read_text(encoding="utf-8")), sheet.name


def test_tables_and_lists_of_a_page_are_tables_and_lists_in_the_site(site: Path) -> None:
    for page in site.glob("*.html"):
        text = re.sub(r"<pre.*?</pre>", "", page.read_text(encoding="utf-8"), flags=re.DOTALL)
        assert re.findall(r"<p>[^<]*\n(?:- |\d+\. |\| )", text) == [], page.name
