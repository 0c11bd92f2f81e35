"""The boards with what each needs and how it was proven: the registry beside the file of what was run."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

from sunsched.emit import firmware
from sunsched.hardware.board_proofs import Proof, digest_of, proofs
from sunsched.hardware.boards import BOARDS, OTHERS, Board
from sunsched.hardware.pins import pins_on
from sunsched.job.files import shipped_c

NOT_RUN, COMPILED_ONLY = "not run", "compiled only"


@dataclass(frozen=True, slots=True)
class Needs:
    """What a board of the registry has, and what the program takes of it.

    room_bytes   for a table that is loaded later [bytes]
    pins_used, pins   pins of the default wiring with bus and serial line, and all that common boards lead out
    """

    chip: str
    language: str
    hz: int
    supply_v: float
    flash_bytes: int
    eeprom_bytes: int
    room_bytes: int
    pins_used: int
    pins: int


@dataclass(frozen=True, slots=True)
class BoardLine:
    """One board, or one part of one, with its proof.

    name   for `chip.board`; of a chip that is not in the registry, as its maker writes it
    part   "program" or "table reader"
    word   "executed", "compiled only" or "not run"
    needs   None for a chip that is not in the registry
    earlier   whether the program's text has changed since the proof; None where that cannot be told here
    """

    name: str
    part: str
    word: str
    needs: Needs | None
    proof: Proof | None
    earlier: bool | None = None

    def plain(self) -> dict[str, Any]:
        """As JSON takes it."""
        return asdict(self)


def board_list() -> tuple[BoardLine, ...]:
    """Every board of the registry in its order, then what else was compiled, then what people ask for and was not."""
    known = proofs()
    return (*_registered(known), *_elsewhere(known))


def _registered(known: tuple[Proof, ...]) -> Iterator[BoardLine]:
    for board in BOARDS.values():
        own = [proof for proof in known if proof.board == board.name]
        parts = ["program"] if board.program else []
        parts += ["table reader"] if not board.program or any(proof.part == "table reader" for proof in own) else []
        for part in parts:
            lines = [_line(board.name, part, _needs(board), proof) for proof in own if proof.part == part]
            yield from lines or [_line(board.name, part, _needs(board), None)]


def _elsewhere(known: tuple[Proof, ...]) -> Iterator[BoardLine]:
    others = [proof for proof in known if proof.board not in BOARDS]
    yield from (_line(proof.board, proof.part, None, proof) for proof in others)
    titles = {board.title for board in BOARDS.values()} | {proof.board for proof in others}
    for title in dict.fromkeys(OTHERS.values()):
        if not any(one.startswith(title) and " with " not in one for one in titles):  # "ESP32 with MicroPython" is no C
            yield _line(title, "table reader", None, None)


def _line(name: str, part: str, needs: Needs | None, proof: Proof | None) -> BoardLine:
    word = NOT_RUN if proof is None else "executed" if proof.executed_on else COMPILED_ONLY
    return BoardLine(name, part, word, needs, proof, _earlier(name, part, proof))


def _needs(board: Board) -> Needs:
    wired = pins_on(board).model_dump(exclude_none=True) if board.program else {}
    return Needs(
        chip=board.title,
        language=board.language,
        hz=board.hz,
        supply_v=board.supply_v,
        flash_bytes=board.flash_bytes,
        eeprom_bytes=board.eeprom_bytes if board.language == "c" else 0,
        room_bytes=board.table_bytes,
        pins_used=len(wired) + len(board.own_pins),
        pins=len(board.pins) + len(board.own_pins),
    )


def _earlier(name: str, part: str, proof: Proof | None) -> bool | None:
    board = BOARDS.get(name)
    if proof is None or board is None or part != "program" or not board.chip_header or not proof.sources:
        return None
    return proof.sources != sources_of(board)


def sources_of(board: Board) -> str:
    """The digest of the shipped C that a board's program is compiled from."""
    return digest_of(shipped_c(name) for name in firmware.shipped_names(board))
