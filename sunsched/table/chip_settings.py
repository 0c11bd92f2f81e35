"""The settings that an image carries for the program that reads it: 16-bit numbers in a fixed order."""

from __future__ import annotations

import struct
from dataclasses import astuple, dataclass, fields


@dataclass(frozen=True, slots=True)
class ChipSettings:
    """What the door's program may want beside the table; a new image renews it without touching the program.

    latitude_cdeg, longitude_cdeg   the site [hundredths of a degree, north and east positive]
    morning_cell_*, evening_cell_*   when the light cell may act, around the planned minute [minutes]
    dark_counts, light_counts   of the cell's converter, at which it counts as dark and as light
    confirm_s   steady dark or light before anything moves [seconds]
    """

    latitude_cdeg: int
    longitude_cdeg: int
    morning_cell_from_min: int = 0
    morning_cell_until_min: int = 0
    evening_cell_from_min: int = 0
    evening_cell_until_min: int = 0
    dark_counts: int = 0
    light_counts: int = 0
    confirm_s: int = 0

    def to_bytes(self) -> bytes:
        """The block of an image. Raises ValueError for a number that 16 bits cannot hold."""
        try:
            return struct.pack("<9h", *astuple(self))
        except struct.error as error:
            raise ValueError(f"a setting does not fit 16 bits: {error}") from None

    @classmethod
    def of_bytes(cls, data: bytes) -> ChipSettings | None:
        """The settings of an image, or None if it carries none."""
        if len(data) < 2 * len(fields(cls)):
            return None
        return cls(*struct.unpack("<9h", data[: 2 * len(fields(cls))]))
