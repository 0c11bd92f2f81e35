"""The tools behind the pages: links and lists for the site, lines left out of an output, examples found on a page."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.conftest import ROOT
from tools import examples
from tools.site_pages import with_links, with_lists

LINES = st.lists(st.sampled_from(["text", "- item", "1. first", "  more", "| a |", "", "```"]), max_size=12)
WORDS = st.lists(st.text("abc ", min_size=1).filter(str.strip), min_size=1, max_size=9)


@pytest.mark.parametrize(
    ("place", "written", "wanted"),
    [
        ("README.md", "[a](docs/chip.md#the-line)", "[a](chip.md#the-line)"),
        ("README.md", "![a](docs/report.png)", "![a](report.png)"),
        ("docs/chip.md", "[the\nrules](../sunsched/controller/RULES.md)", "[the\nrules](door_rules.md)"),
        ("docs/chip.md", "[a](limits.md), [b](#here)", "[a](limits.md), [b](#here)"),
        ("docs/chip.md", "[start](../README.md)", "[start](index.md)"),
        ("docs/chip.md", "[the tool](../tools/readme.py)", "the tool"),
        ("docs/chip.md", "[a](https://example.org/x.md)", "[a](https://example.org/x.md)"),
    ],
)
def test_links_hold_in_the_site(place: str, written: str, wanted: str) -> None:
    assert with_links(written, place) == wanted


def test_a_link_to_nothing_is_an_error() -> None:
    with pytest.raises(ValueError, match=r"docs/chip\.md: a link to nothing\.md"):
        with_links("[a](nothing.md)", "docs/chip.md")


@given(LINES)
def test_lists_get_an_empty_line_before_them_and_nothing_else_changes(lines: list[str]) -> None:
    made = with_lists("\n".join(lines))
    assert [line for line in made.split("\n") if line] == [line for line in lines if line]
    assert with_lists(made) == made
    fenced, before = False, ""
    for line in made.split("\n"):
        fenced ^= line.startswith("```")
        if line in ("- item", "1. first") and not fenced:
            assert before != "text"
        before = line


@given(WORDS, st.integers(0, 9), st.integers(0, 9))
def test_what_was_left_out_of_an_output_is_left_out_again(fresh: list[str], head: int, tail: int) -> None:
    fresh = [line.strip() for line in fresh]
    head, tail = min(head, len(fresh)), min(tail, len(fresh))
    old = "\n".join(["x"] * head + ["..."] + ["y"] * tail)
    made = examples.left_out(old, "\n".join(fresh) + "\n").split("\n")
    assert made == [*fresh[:head], "...", *fresh[len(fresh) - tail :]]
    assert examples.left_out("x", "\n".join(fresh)).split("\n") == fresh


def test_examples_are_found_with_their_marks_and_lines() -> None:
    page = ROOT / "README.md"
    text = (
        "a\n\n<!-- not run: a reason -->\n```sh\nsunsched x \\\n  --y  # why\n\n# nothing\n"
        'sunsched z "#1"\n```\n\n```text\n$ sunsched day\n9\n```\n'
    )
    first, second = examples.examples(page, text)
    assert (first.mark, first.said, first.kind, first.line) == ("not run", "a reason", "sh", 4)
    assert [command.split() for command in first.commands] == [["sunsched", "x", "--y"], ["sunsched", "z", '"#1"']]
    assert (second.mark, second.shown, second.commands) == ("", "sunsched day", [])
