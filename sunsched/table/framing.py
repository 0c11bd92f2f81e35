"""The checksum of tables and images.

The revision of the table format, apart from the software's version: FORMAT.md says what changed.
"""

from __future__ import annotations

import binascii

REVISION = 1
OF_ONE_YEAR = 2  # of an image with a rule that holds in one year only


_START = 0xFFFF


def crc16(data: bytes) -> int:
    """CRC-16 with polynomial 0x1021, start 0xFFFF, no reflection (CRC-16/IBM-3740 of the RevEng catalogue).

    Notices every error of one, two or any odd number of bits in up to 4095 bytes, and every burst of
    up to 16 bits. Check value: 0x29B1 for the nine digits "123456789".
    """
    return binascii.crc_hqx(data, _START)
