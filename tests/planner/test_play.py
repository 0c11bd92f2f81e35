"""The play in the planner: the page of `sunsched play` for the text at hand, in a frame with a policy of its own."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path

import pytest

from sunsched.config import toml_file
from sunsched.report.play.page import play_html
from tests.conftest import CONFIGS
from tests.planner.served import DAY, Served, served

LARCH = next(path for path in CONFIGS if path.stem == "larch_end")


@pytest.fixture(scope="module")
def planner(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A planner for a copy of a shipped configuration."""
    copy = tmp_path_factory.mktemp("planner") / LARCH.name
    copy.write_bytes(LARCH.read_bytes())
    with served(copy) as one:
        yield one


def test_the_play_is_that_of_the_command(planner: Served) -> None:
    status, answer = planner.post("play", text=LARCH.read_text(encoding="utf-8"))
    assert status == 200
    status, head, content = planner.request("GET", f"/play?k={planner.planner.key}&number={answer['number']}")
    assert status == 200 and "'wasm-unsafe-eval'" in head and "frame-ancestors 'self'" in head
    wanted = play_html(toml_file.read(str(LARCH)), 2027, dt.date.fromisoformat(DAY), LARCH.name)
    assert content.decode() == wanted


def test_what_is_typed_is_played_and_what_cannot_be_is_told(planner: Served, tmp_path: Path) -> None:
    text = LARCH.read_text(encoding="utf-8")
    status, answer = planner.post("play", text=text, typed={"site.name": "Reed bank"})
    assert status == 200
    _, _, content = planner.request("GET", f"/play?k={planner.planner.key}&number={answer['number']}")
    assert b"Reed bank" in content
    status, answer = planner.post("play", text=text.replace('keeps = "standard"', 'keeps = "civil"'))
    assert status == 422 and "summer time" in answer["problems"][0]["text"]
    assert planner.told == []
