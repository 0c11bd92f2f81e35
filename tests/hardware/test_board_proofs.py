"""The file of what was run: it reads back as written, and it names what exists."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from sunsched.hardware import board_proofs
from sunsched.hardware.board_proofs import Proof
from sunsched.hardware.boards import BOARDS
from tests.support import board_proofs as writing

ONE = Proof(board="atmega328p", part="program", executed_on="simavr 1.6", compiled_with="avr-gcc 5.4.0", command="x")


def test_a_later_record_takes_the_place_of_an_earlier_one_of_the_same_thing(tmp_path: Path) -> None:
    path = tmp_path / "proofs.json"
    path.write_text("[]\n")
    newer = replace(ONE, executed_on="simavr 1.7", days=3)
    reader = replace(ONE, part="table reader")
    writing.put([ONE, reader], path)
    writing.put([newer], path)
    assert board_proofs.read(path.read_bytes()) == (newer, reader)
    assert path.read_text() == board_proofs.text_of([reader, ONE, newer])


def test_a_record_with_a_field_too_many_or_too_few_is_refused() -> None:
    with pytest.raises(ValueError, match="a record with the fields board"):
        board_proofs.read(b'[{"board": "atmega328p"}]')


def test_what_is_shipped_is_in_order_and_claims_nothing_without_a_run() -> None:
    shipped = board_proofs.proofs()
    assert writing.PATH.read_text() == board_proofs.text_of(shipped)
    for proof in shipped:
        if not proof.executed_on:
            ran = (proof.days, proof.decisions, proof.moves, proof.differing, proof.stack_bytes, proof.step_cycles)
            assert ran == (None,) * len(ran), proof.board
        if proof.decisions:
            assert proof.beside and proof.differing == 0, proof.board
        if proof.board in BOARDS and proof.flash_bytes is not None:
            assert proof.flash_bytes <= BOARDS[proof.board].flash_bytes
