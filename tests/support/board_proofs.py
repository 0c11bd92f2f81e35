"""How a proof command writes its records into the package: `put([Proof(...)])`, and what a record's digest is of."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from pathlib import Path

import sunsched
from sunsched.hardware import board_proofs
from sunsched.hardware.board_proofs import Proof

PATH = Path(sunsched.__file__).parent / "hardware" / board_proofs.FILE


def put(records: Iterable[Proof], path: Path = PATH) -> None:
    """Write these records into the shipped file; each takes the place of an earlier one of the same thing."""
    path.write_text(board_proofs.text_of([*board_proofs.read(path.read_bytes()), *records]), encoding="ascii")


def digest_of(texts: Iterable[bytes]) -> str:
    """The first 16 hexadecimal digits of SHA-256 over texts as they are shipped, in the order given."""
    whole = hashlib.sha256()
    for text in texts:
        whole.update(len(text).to_bytes(4, "little") + text)
    return whole.hexdigest()[:16]
