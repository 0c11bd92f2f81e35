"""The checksum of tables and images.

The revision of the table format, apart from the software's version: FORMAT.md says what changed.
"""

from __future__ import annotations

REVISION = 1
OF_ONE_YEAR = 2  # of an image with a rule that holds in one year only


_POLYNOMIAL = 0x1021
_START = 0xFFFF


def crc16(data: bytes) -> int:
    """CRC-16 with polynomial 0x1021, start 0xFFFF, no reflection (CRC-16/IBM-3740 of the RevEng catalogue).

    Notices every error of one, two or any odd number of bits in up to 4095 bytes, and every burst of
    up to 16 bits. Check value: 0x29B1 for the nine digits "123456789".
    """
    crc = _START
    for byte in data:
        crc ^= byte << 8
        for _ in range(8):
            crc = (crc << 1) ^ _POLYNOMIAL if crc & 0x8000 else crc << 1
        crc &= 0xFFFF
    return crc
