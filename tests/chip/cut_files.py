"""What a file system in flash holds after the power is cut at any moment of some changes: littlefs itself, cut.

MicroPython puts littlefs on both boards. Blocks of 4096 bytes and programs of 256 are those of its RP2040 port, from
memory. A cut falls before each program or erase of the flash, and amid it: the first half of a page or block is done.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from littlefs import LittleFS, UserContext

BLOCK_BYTES, PAGE_BYTES, BLOCKS = 4096, 256, 48
Change = tuple[Any, ...]  # ("write", path, content), ("rename", old, new) or ("remove", path)
Files = dict[str, bytes]


class _Flash(UserContext):
    """Flash that writes down each program and erase."""

    def __init__(self, content: bytes | None = None) -> None:
        super().__init__(buffer=bytearray(content or b"\xff" * BLOCK_BYTES * BLOCKS))
        self.done: list[tuple[int, bytes]] = []

    def prog(self, cfg: Any, block: int, off: int, data: bytes) -> int:
        self.done.append((block * BLOCK_BYTES + off, bytes(data)))
        self._put(*self.done[-1])
        return 0

    def erase(self, cfg: Any, block: int) -> int:
        self.done.append((block * BLOCK_BYTES, b"\xff" * BLOCK_BYTES))
        self._put(*self.done[-1])
        return 0

    def _put(self, at: int, content: bytes) -> None:
        self.buffer[at : at + len(content)] = content


def _mounted(flash: _Flash, *, mount: bool = True) -> LittleFS:
    return LittleFS(
        context=flash,
        mount=mount,
        block_size=BLOCK_BYTES,
        block_count=BLOCKS,
        prog_size=PAGE_BYTES,
        read_size=PAGE_BYTES,
        cache_size=4 * PAGE_BYTES,
        lookahead_size=32,
    )


def formatted(files: Mapping[str, bytes], age: int = 0) -> bytes:
    """The flash with a file system that holds some files; `age` counts changes of another file before."""
    flash = _Flash()
    system = _mounted(flash, mount=False)
    system.format()
    system.mount()
    for name, content in files.items():
        changed(system, ("write", f"/{name}", content))
    for n in range(age):
        changed(system, ("write", "/log.csv", b"%d" % n))
    return bytes(flash.buffer)


def changed(system: LittleFS, change: Change) -> None:
    """Do one change."""
    if change[0] == "write":
        with system.open(change[1], "wb") as file:
            file.write(change[2])
    elif change[0] == "rename":
        system.rename(change[1], change[2])
    else:
        system.remove(change[1])


def held(content: bytes) -> Files:
    """All files of a flash."""
    system = _mounted(_Flash(content))
    found = {}
    for name in system.listdir("/"):
        with system.open(f"/{name}", "rb") as file:
            found[name] = file.read()
    return found


def after_cuts(before: bytes, changes: Sequence[Change]) -> Iterator[Files]:
    """The files after a cut at each step of the changes, in order, the first before them all, the last after."""
    flash = _Flash(before)
    system = _mounted(flash)
    for change in changes:
        changed(system, change)
    now = bytearray(before)
    yield held(bytes(now))
    for at, content in flash.done:
        half = len(content) // 2
        for part in (content[:half], content):
            now[at : at + len(part)] = part
            yield held(bytes(now))
