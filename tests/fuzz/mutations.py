"""Chance damage to bytes and texts: what disks, editors, terminals and hasty hands do, and what hostile hands would."""

from __future__ import annotations

import random
from collections.abc import Sequence

HOSTILE = (
    b"9" * 5000, b"1e-320", b"1e999", b"nan", b"-inf", b"0x" + b"f" * 300, b"0", b"-1", b"99999999999999999999",
    b"\x1b[31m", b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", "\u202e".encode(), "٣".encode(), "²".encode(), "＝1+1".encode(),
    b"[" * 3000, b"{" * 3000, b"a." * 3000, b'"' * 99, b"'''", b"x" * 120_000, b"../../etc/passwd", b"CON", b"\r\n",
    b"0000-01-01", b"0001-01-01", b"9999-12-31", b"2027-02-29", b"24:60", b"-00:05", b"*/", b"??/", b"\\", b"%s%n",
    b"\r",
)  # fmt: skip


def damaged(chance: random.Random, whole: bytes, others: Sequence[bytes] = ()) -> bytes:
    """`whole` after one to four mishaps; `others` are files whose parts may land in it."""
    data = whole
    for _ in range(chance.choice((1, 1, 1, 2, 4))):
        data = _mishap(chance, data, others)
    return data


def _mishap(chance: random.Random, data: bytes, others: Sequence[bytes]) -> bytes:
    if not data:
        return chance.choice(HOSTILE)
    at = chance.randrange(len(data))
    end = min(len(data), at + chance.choice((1, 1, 2, 8, 64, 1000)))
    kind = chance.randrange(11)
    if kind == 0:
        return data[:at] + bytes([data[at] ^ 1 << chance.randrange(8)]) + data[at + 1 :]
    if kind == 1:
        return data[:at] + data[end:]
    if kind == 2:
        return data[:end] + data[at:end] + data[end:]
    if kind == 3:
        return data[:at]
    if kind == 4:
        return data[:at] + chance.choice(HOSTILE) + data[chance.choice((at, end)) :]
    if kind == 5:
        return data[:at] + bytes(end - at) + data[end:]
    if kind == 6:
        return _lines_moved(chance, data)
    if kind == 7:
        return _number_changed(chance, data)
    if kind == 8 and others:
        other = chance.choice(others)
        start = chance.randrange(len(other) + 1)
        return data[:at] + other[start : start + 200] + data[at:]
    if kind == 9:
        return data.replace(b"\n", b"\r\n") if chance.random() < 0.5 else b"\xef\xbb\xbf" + data
    return data[:at] + bytes([chance.randrange(256)]) + data[at + 1 :]


def _lines_moved(chance: random.Random, data: bytes) -> bytes:
    lines = data.split(b"\n")
    one, other = chance.randrange(len(lines)), chance.randrange(len(lines))
    if chance.random() < 0.5:
        lines[one], lines[other] = lines[other], lines[one]
    else:
        lines.insert(one, lines[other])
    return b"\n".join(lines)


def _number_changed(chance: random.Random, data: bytes) -> bytes:
    places = [at for at, byte in enumerate(data[:20_000]) if 48 <= byte < 58]
    if not places:
        return data + b"\n"
    at = chance.choice(places)
    new = chance.choice((str(chance.randrange(10)).encode(), str(chance.randrange(-9999, 9999)).encode(), b"", b"0"))
    return data[:at] + new + data[at + 1 :]
