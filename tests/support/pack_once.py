"""Tables that several tests pack from the same minutes are packed once in a test run, for all of its processes.

The packers are pure: tests/table holds them to their results, and whoever packs through here still reads back what it
gets and compares it with the plan. A test that is about packing twice asks for the fixture `packed_anew`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path

from filelock import FileLock

from sunsched.table.layout import Codec, pack
from sunsched.table.wanted import Wanted

Packer = Callable[[Codec, Wanted], bytes | None]
_NONE = b"no table"


def in_folder(folder: Path) -> Packer:
    """`layout.pack`, its results kept in a folder by what they were packed from."""

    def packed(codec: Codec, wanted: Wanted) -> bytes | None:
        digest = hashlib.sha256(f"{codec} {wanted.first_year} {wanted.least.shape}".encode())
        for array in (wanted.least, wanted.greatest, wanted.guide):
            digest.update(array.tobytes())
        path = folder / digest.hexdigest()
        if not path.exists():
            with FileLock(path.with_suffix(".lock")):
                if not path.exists():
                    data = pack(codec, wanted)
                    partial = path.with_suffix(".partial")
                    partial.write_bytes(_NONE if data is None else data)
                    partial.rename(path)
        kept = path.read_bytes()
        return None if kept == _NONE else kept

    return packed
