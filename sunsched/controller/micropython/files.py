"""Files on the board: replaced whole or not at all, read back only if whole.

A file is written beside its name and renamed over it: littlefs, which MicroPython puts on both boards, renames in one
step, so that a power cut leaves the old file or the new one. Each carries a CRC-32 of its content.
"""

import binascii
import os

KEPT = "kept.bin"
LOG, OLD_LOG = "log.csv", "log.old"
LOG_BYTES = 48_000  # two of them: about a year of a quiet door, and a tenth of the board's file system


def write_whole(name: str, content: bytes) -> None:
    """Replace a file by `content` and its CRC-32."""
    crc = binascii.crc32(content) & 0xFFFFFFFF
    with open(name + ".new", "wb") as file:
        file.write(content + bytes([crc >> shift & 255 for shift in (0, 8, 16, 24)]))
    os.rename(name + ".new", name)


def read_whole(name: str) -> bytes | None:
    """The content of such a file; None where there is none, or a bit of it has changed."""
    try:
        with open(name, "rb") as file:
            content = file.read()
    except OSError:
        return None
    crc = binascii.crc32(content[:-4]) & 0xFFFFFFFF
    return content[:-4] if content[-4:] == bytes([crc >> shift & 255 for shift in (0, 8, 16, 24)]) else None


def exists(name: str) -> bool:
    """Whether there is such a file."""
    try:
        os.stat(name)
    except OSError:
        return False
    return True


class Log:
    """The door's log, lines as LOG.md has them; the file before it is kept as log.old."""

    def __init__(self, head: list[str]) -> None:
        """Take the lines that begin a file."""
        self.head = head

    def write(self, *lines: str) -> None:
        """Lines at the end. A file system that is full or broken costs the log, not the door."""
        try:
            if not exists(LOG) or os.stat(LOG)[6] > LOG_BYTES:
                if exists(LOG):
                    os.rename(LOG, OLD_LOG)
                lines = tuple(self.head) + lines
            with open(LOG, "a") as file:
                for line in lines:
                    file.write(line + "\n")
        except OSError:
            pass
