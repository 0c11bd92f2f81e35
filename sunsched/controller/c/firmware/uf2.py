"""A program as a file that an RP2040 takes as a drive: python3 uf2.py door.bin door.uf2

UF2 is an open format of Microsoft's: blocks of 512 bytes, each with 256 bytes of the program and its address.
"""

import struct
import sys

FLASH_AT, RP2040 = 0x10000000, 0xE48BFF56
PAYLOAD = 256


def blocks(program: bytes) -> bytes:
    """The file's bytes; the program is filled up with zeros to whole pages."""
    pages = [program[at : at + PAYLOAD].ljust(PAYLOAD, b"\0") for at in range(0, len(program), PAYLOAD)]
    made = b""
    for n, page in enumerate(pages):
        address = FLASH_AT + n * PAYLOAD
        head = struct.pack("<8I", 0x0A324655, 0x9E5D5157, 0x2000, address, PAYLOAD, n, len(pages), RP2040)
        made += head + page.ljust(476, b"\0") + struct.pack("<I", 0x0AB16F30)
    return made


if __name__ == "__main__":
    with open(sys.argv[1], "rb") as source, open(sys.argv[2], "wb") as target:
        target.write(blocks(source.read()))
