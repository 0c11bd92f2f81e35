"""Layout plain: two 16-bit minutes for each day. Exact for every plan; 4 bytes a day."""

from __future__ import annotations

import numpy as np

from sunsched.table.wanted import Minutes, Wanted


def pack(wanted: Wanted) -> bytes:
    """The bytes of one year, nearest the guide where several minutes are accepted."""
    path = np.rint(wanted.guide).astype(np.int32)
    minutes = np.clip(path, wanted.least[0], wanted.greatest[0])
    return minutes.T.astype("<i2").tobytes()


def unpack(data: bytes, n_days: int) -> Minutes:
    """The minutes of both sides (2, n)."""
    return np.frombuffer(data[: 4 * n_days], "<i2").reshape(n_days, 2).T.astype(np.int32)
