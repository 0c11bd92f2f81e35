"""`boards` and docs/boards.md: every board of the registry, nothing claimed that stands in no proof."""

from __future__ import annotations

import dataclasses
import json

import pytest
from typer.testing import CliRunner

from sunsched.cli.app import app
from sunsched.hardware.board_proofs import Proof
from sunsched.hardware.boards import BOARDS
from sunsched.job import board_list
from sunsched.report.text import boards
from tools import boards_page

RAN = Proof(
    board="atmega2560",
    part="program",
    executed_on="simavr 1.6",
    compiled_with="avr-gcc 5.4.0",
    command="x",
    beside="the same program on a computer",
    days=120,
    decisions=10_368_000,
    flash_bytes=25_226,
    ram_bytes=899,
    stack_bytes=187,
    step_cycles=1000,
    differing=0,
    sources="0" * 16,
)
COMPILED = Proof(
    board="ESP32", part="table reader", executed_on="", compiled_with="xtensa gcc 12", command="x", flash_bytes=900
)


@pytest.fixture
def known(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(board_list, "proofs", lambda: (COMPILED, RAN))


def run(*words: str) -> str:
    done = CliRunner().invoke(app, ["boards", *words])
    assert done.exit_code == 0, done.output
    return done.stdout


@pytest.mark.usefixtures("known")
def test_a_board_without_a_proof_is_not_run_and_one_compiled_says_no_more() -> None:
    lines = {(line["name"], line["part"]): line for line in json.loads(run("--json"))["boards"]}
    assert {name for name, _ in lines} >= {*BOARDS, "ESP32", "ATmega4809", "AVR128DA"}
    words = {place: line["word"] for place, line in lines.items()}
    assert [place for place, word in words.items() if word == "executed"] == [("atmega2560", "program")]
    assert words["ESP32", "table reader"] == "compiled only"
    assert words["attiny85", "table reader"] == words["micropython-esp32", "program"] == "not run"
    assert lines["atmega2560", "program"]["needs"]["pins_used"] == 17
    assert lines["atmega1284p", "program"]["proof"] is None


@pytest.mark.usefixtures("known")
def test_the_answer_counts_what_was_executed() -> None:
    text = " ".join(run("--all").split())
    assert f"is there for {sum(bool(board.program) for board in BOARDS.values())} boards; on 1 of them" in text
    assert "10,368,000 25,226 899 187 1,000" in text
    cells = {line.name: boards.proof_cells(line) for line in board_list.board_list() if line.part == "table reader"}
    assert cells["ESP32"] == ("ESP32", "xtensa gcc 12", "compiled only", "-", "-", "900", "-", "-", "-")
    assert cells["ATmega4809"][1:3] == ("-", "not run")


@pytest.mark.usefixtures("known")
def test_a_proof_of_another_text_of_the_program_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    assert "Proven with an earlier text of the program: atmega2560." in " ".join(run().split())
    now = dataclasses.replace(RAN, sources=board_list.sources_of(BOARDS["atmega2560"]))
    monkeypatch.setattr(board_list, "proofs", lambda: (now,))
    assert "earlier text" not in run()


def test_the_page_is_current() -> None:
    assert boards_page.text() == boards_page.PAGE.read_text("utf-8"), "run: python tools/boards_page.py"
