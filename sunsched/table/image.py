"""The table image: head, settings, facts, rules, data, checksum. FORMAT.md describes every byte.

The settings are those of the program that reads the image: 16-bit numbers in a fixed order.
"""

from __future__ import annotations

import struct
from dataclasses import astuple, dataclass, fields
from itertools import pairwise

from sunsched.base.civil_time import year_days
from sunsched.base.errors import DamagedError, RangeError
from sunsched.plan.year import YearPlan
from sunsched.table import rule_block
from sunsched.table.framing import OF_ONE_YEAR, REVISION, crc16
from sunsched.table.layout import Codec, of_number, unpack
from sunsched.table.rule_block import Rule
from sunsched.table.wanted import Minutes

_LEAST_NUMBERS = 9


@dataclass(frozen=True, slots=True)
class ChipSettings:
    """The program's settings that an image carries; a new image renews them without changing the program.

    latitude_cdeg, longitude_cdeg   the site [hundredths of a degree, north and east positive]
    morning_cell_*, evening_cell_*   when the light cell may act, around the planned minute [minutes]
    dark_counts, light_counts   of the cell's converter, at which it counts as dark and as light
    confirm_s   steady dark or light before anything moves [seconds]
    worst_error_min   how far a minute may be from the plan [minutes]; 0 is not stored
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
    worst_error_min: int = 0

    def to_bytes(self) -> bytes:
        """The block of an image. Raises ValueError for a number that 16 bits cannot hold."""
        try:
            numbers = astuple(self) if self.worst_error_min else astuple(self)[:_LEAST_NUMBERS]
            return struct.pack(f"<{len(numbers)}h", *numbers)
        except struct.error as error:
            raise ValueError(f"a setting does not fit 16 bits: {error}") from None

    @classmethod
    def of_bytes(cls, data: bytes) -> ChipSettings | None:
        """The settings of an image, or None if it carries none."""
        count = min(len(data) // 2, len(fields(cls)))
        if count < _LEAST_NUMBERS:
            return None
        return cls(*struct.unpack(f"<{count}h", data[: 2 * count]))


MARK = 0xD5
HEAD_BYTES = 12
MOST_BLOCK_BYTES = 255  # of settings, of facts, of rules
KEEPS = ("standard", "utc", "civil")


@dataclass(frozen=True, slots=True)
class Image:
    """The parts of an image.

    first_year, n_years   calendar years covered, 2000 to 2099
    offset_min   the chip's clock minus UTC, without summer time [minutes]
    settings, facts   their blocks; see chip_settings and facts
    """

    layout: Codec
    keeps: str
    first_year: int
    n_years: int
    offset_min: int
    settings: bytes
    facts: bytes
    rules: tuple[Rule, ...]
    data: bytes

    def to_bytes(self) -> bytes:
        """The image. Raises RangeError for years or sizes it cannot hold."""
        if not (self.first_year >= 2000 and self.first_year + self.n_years <= 2100 and self.n_years >= 1):
            raise RangeError(f"an image holds years of 2000 to 2099, not {self.n_years} from {self.first_year}")
        blocks = (self.settings, self.facts, rule_block.to_bytes(self.rules))
        if any(len(block) > MOST_BLOCK_BYTES for block in blocks):
            raise RangeError(f"settings, facts and rules of an image may take {MOST_BLOCK_BYTES} bytes each")
        length = HEAD_BYTES + sum(map(len, blocks)) + len(self.data) + 2
        head = bytes([MARK, self.revision, self.layout.number | KEEPS.index(self.keeps) << 4])
        head += length.to_bytes(2, "little")
        head += bytes([self.first_year - 2000, self.n_years])
        head += self.offset_min.to_bytes(2, "little", signed=True)
        head += bytes(len(block) for block in blocks)
        body = head + b"".join(blocks) + self.data
        return body + crc16(body).to_bytes(2, "little")

    @property
    def revision(self) -> int:
        """The lowest revision that holds the image."""
        return REVISION if all(rule.year is None for rule in self.rules) else OF_ONE_YEAR

    def minutes(self, year: int) -> Minutes:
        """The minutes (2, n) of a covered year, rules applied: the twin of sunsched_minute in C."""
        if not self.first_year <= year < self.first_year + self.n_years:
            raise RangeError(f"the table covers {self.first_year} to {self.first_year + self.n_years - 1}, not {year}")
        return rule_block.applied(self.rules, year, unpack(self.layout, self.data, year))


def of_bytes(raw: bytes) -> Image:
    """The image that raw bytes begin with; bytes after it are ignored, as a chip's memory is longer.

    Raises DamagedError if it is not an image, is of another revision, or a single bit of it has changed.
    """
    if len(raw) < HEAD_BYTES + 2 or raw[0] != MARK:
        raise DamagedError("not a table image: it does not begin with the mark 0xD5")
    if raw[1] not in (REVISION, OF_ONE_YEAR):
        raise DamagedError(
            f"a table image of revision {raw[1]}; this software reads revisions {REVISION} and {OF_ONE_YEAR}"
        )
    length = int.from_bytes(raw[3:5], "little")
    if not HEAD_BYTES + 2 <= length <= len(raw):
        raise DamagedError(f"the image says it has {length} bytes, the file has {len(raw)}")
    want = int.from_bytes(raw[length - 2 : length], "little")
    if crc16(raw[: length - 2]) != want:
        raise DamagedError(f"the checksum is 0x{crc16(raw[: length - 2]):04X}, the image says 0x{want:04X}")
    try:
        return _taken_apart(raw[: length - 2])
    except (ValueError, IndexError) as error:
        raise DamagedError(f"the image is whole but makes no sense: {error}") from None


def _taken_apart(body: bytes) -> Image:
    ends = [HEAD_BYTES]
    for size in body[9:12]:
        ends.append(ends[-1] + size)
    if ends[-1] > len(body):
        raise ValueError("its blocks are longer than it is")
    settings, facts, rules = (body[a:b] for a, b in pairwise(ends))
    image = Image(
        layout=of_number(body[2] & 15),
        keeps=KEEPS[body[2] >> 4],
        first_year=2000 + body[5],
        n_years=body[6],
        offset_min=int.from_bytes(body[7:9], "little", signed=True),
        settings=settings,
        facts=facts,
        rules=rule_block.of_bytes(rules),
        data=body[ends[-1] :],
    )
    if not 1 <= image.n_years <= 2100 - image.first_year:
        raise ValueError(f"it covers {image.n_years} years from {image.first_year}")
    if image.n_years > 1 and not image.layout.many_years:
        raise ValueError(f"layout {image.layout.name} holds one year, not {image.n_years}")
    if image.revision > body[1]:
        raise ValueError(f"revision {body[1]} has no rule of one year")
    image.minutes(image.first_year)
    return image


def covers_year(plan: YearPlan, year: int) -> bool:
    """Whether a plan is exactly one calendar year."""
    return (plan.first_day, plan.n_days) == year_days(year)
