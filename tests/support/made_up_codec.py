"""A layout of our own invention, which the tests add to the registry: what a minute is above 600."""

from __future__ import annotations

import numpy as np

from sunsched.table.layout import Codec
from sunsched.table.wanted import Minutes, Wanted

CODEC = Codec(
    name="offsets",
    number=9,
    packer="tests.support.made_up_codec:pack",
    unpacker="tests.support.made_up_codec:unpack",
    c_minute="0",
    decoder_bytes=(8,),
    shut_days=True,
)


def pack(wanted: Wanted) -> bytes:
    """Two bytes a day and side."""
    minutes = np.clip(np.rint(wanted.guide).astype(np.int32), wanted.least[0], wanted.greatest[0])
    return (minutes - 600).astype("<i2").tobytes()


def unpack(data: bytes, n_days: int) -> Minutes:
    """The minutes (2, n). Raises ValueError on data cut short."""
    pairs = np.frombuffer(data[: 4 * n_days], "<i2").astype(np.int32).reshape(2, n_days)
    return (pairs + 600 + 32768) % 65536 - 32768
