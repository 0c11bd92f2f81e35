"""How a proof command writes its records into the package: `put([Proof(...)])`."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import sunsched
from sunsched.hardware import board_proofs
from sunsched.hardware.board_proofs import Proof

PATH = Path(sunsched.__file__).parent / "hardware" / board_proofs.FILE


def put(records: Iterable[Proof], path: Path = PATH) -> None:
    """Write these records into the shipped file; each takes the place of an earlier one of the same thing."""
    path.write_text(board_proofs.text_of([*board_proofs.read(path.read_bytes()), *records]), encoding="ascii")
