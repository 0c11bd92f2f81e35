"""An emulated ISP programmer with an ATmega328P in its socket, on a pseudo-terminal, for avrdude's `stk500v1`.

Sources: Atmel application note AVR061 (the protocol's bytes); ATmega328P data sheet DS40002061, serial programming
instruction set (what a universal command does) and fuse bytes (EESAVE: the EEPROM outlives a chip erase).
"""

from __future__ import annotations

import os
import pty
import threading
import tty

IN_SYNC, OK, CRC_EOP = 0x14, 0x10, 0x20
SIGNATURE = bytes((0x1E, 0x95, 0x0F))
EESAVE = 0x08  # programmed is 0


class Socket:
    """The chip as a programmer sees it: fuses as they leave the factory, memories erased."""

    def __init__(self) -> None:
        self.flash = bytearray(b"\xff" * 32_768)
        self.eeprom = bytearray(b"\xff" * 1024)
        self.low, self.high, self.extended, self.lock = 0x62, 0xD9, 0xFF, 0xFF

    def erase(self) -> None:
        """A chip erase: flash and lock bits always, EEPROM unless EESAVE is programmed."""
        self.flash[:] = b"\xff" * len(self.flash)
        self.lock = 0xFF
        if self.high & EESAVE:
            self.eeprom[:] = b"\xff" * len(self.eeprom)

    def universal(self, a: int, b: int, c: int, d: int) -> int:
        """One four-byte instruction of the serial programming interface; the byte that it shifts out."""
        read = {(0x50, 0x00): self.low, (0x58, 0x08): self.high, (0x50, 0x08): self.extended, (0x58, 0x00): self.lock}
        if (a, b) == (0xAC, 0x80):
            self.erase()
        elif (a, b) == (0xAC, 0xA0):
            self.low = d
        elif (a, b) == (0xAC, 0xA8):
            self.high = d
        elif (a, b) == (0xAC, 0xA4):
            self.extended = d | 0xF8
        elif a == 0x30:
            return SIGNATURE[c & 3]
        elif a == 0xA0:
            return self.eeprom[(b << 8 | c) % 1024]
        elif a == 0xC0:
            self.eeprom[(b << 8 | c) % 1024] = d
        elif a in (0x20, 0x28):
            return self.flash[2 * (b << 8 | c) + (a == 0x28)]
        return read.get((a, b), 0)


class Programmer:
    """Serves one socket in a thread while it is entered; `port` is what avrdude's -P takes."""

    def __init__(self, socket: Socket) -> None:
        self.socket = socket
        self.unknown: list[int] = []
        self._host, self._device = pty.openpty()
        tty.setraw(self._device)
        self.port = os.ttyname(self._device)
        self._address = 0
        self._thread = threading.Thread(target=self._serve, daemon=True)

    def __enter__(self) -> Programmer:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        os.close(self._device)
        self._thread.join(5)
        os.close(self._host)

    def _take(self, n: int) -> bytes:
        found = b""
        while len(found) < n:
            found += os.read(self._host, n - len(found))
        return found

    def _serve(self) -> None:
        try:
            while True:
                answer = self._answer(self._take(1)[0])
                os.write(self._host, bytes((IN_SYNC, *answer, OK)))
        except OSError:
            return  # the other end is closed

    def _answer(self, command: int) -> bytes:
        if command == 0x55:  # load address
            self._address = int.from_bytes(self._take(2), "little")
            answer = b""
        elif command == 0x56:  # universal
            answer = bytes((self.socket.universal(*self._take(4)),))
        elif command in (0x64, 0x74):  # program, read a page
            answer = self._page(command == 0x64)
        elif command == 0x75:
            answer = SIGNATURE
        else:
            skipped = {0x30: 0, 0x41: 1, 0x40: 2, 0x42: 20, 0x45: 5, 0x50: 0, 0x51: 0}
            if command not in skipped:
                self.unknown.append(command)
            self._take(skipped.get(command, 0))
            answer = bytes((2,)) if command == 0x41 else b""
        assert self._take(1)[0] == CRC_EOP
        return answer

    def _page(self, write: bool) -> bytes:
        size = int.from_bytes(self._take(2), "big")
        in_flash = self._take(1) == b"F"
        memory, at = (self.socket.flash, 2 * self._address) if in_flash else (self.socket.eeprom, self._address)
        if not write:
            return bytes(memory[at : at + size])
        content = self._take(size)
        for place, byte in enumerate(content, at):
            # flash bits only fall between two erases; a byte of EEPROM is erased as it is written
            memory[place] = memory[place] & byte if in_flash else byte
        return b""
