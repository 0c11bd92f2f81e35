"""`sample --with door` wrote an example machine without a word, and `firmware` took it as the keeper's own."""

from __future__ import annotations

import pytest

from tests.support.command_line import sunsched


@pytest.mark.parametrize(
    ("parts", "warned"), [("door", True), ("motor", True), ("battery", True), ("cell,clock", False)]
)
def test_a_sample_with_a_machine_says_that_its_figures_are_an_examples(parts: str, warned: bool) -> None:
    done = sunsched("sample", "--with", parts)
    assert done.returncode == 0
    assert ("the figures of the machine are an example's" in done.stderr) == warned
