"""The site of the hut, and the time that its chip keeps."""

import difflib
from typing import Annotated, Any, Literal

from annotated_types import Ge, Le
from pydantic import AfterValidator, BeforeValidator, Field

from sunsched.base.civil_time import nearest_zone, tzdata_release, zone_names
from sunsched.base.model import Float, Settings
from sunsched.hardware.boards import BOARDS, Board, what_works_on


def _known_zone(name: str) -> str:
    if name in zone_names():
        return name
    near = nearest_zone(name)
    hint = f", nearest is '{near}'" if near else ""
    raise ValueError(f"an IANA zone of tzdata {tzdata_release()} such as 'Europe/Zurich'{hint}")


class SkylinePoint(Settings):
    """One point of the hills as seen from the hut; between points the line is straight."""

    azimuth_deg: Annotated[Float, Ge(0), Le(360)]
    altitude_deg: Annotated[Float, Ge(0), Le(60)]


def _each_azimuth_once(points: tuple[SkylinePoint, ...]) -> tuple[SkylinePoint, ...]:
    altitudes: dict[float, float] = {}
    for point in points:
        if altitudes.setdefault(point.azimuth_deg % 360.0, point.altitude_deg) != point.altitude_deg:
            raise ValueError(f"one altitude_deg for each azimuth_deg, not two for {point.azimuth_deg:g} (0 is 360)")
    return points


class Site(Settings):
    """One spot on Earth. North and east are positive."""

    name: Annotated[str, Field(min_length=1, max_length=10_000)] = "Hut"
    latitude_deg: Annotated[Float, Ge(-89.9), Le(89.9)]
    longitude_deg: Annotated[Float, Ge(-180), Le(180)]
    zone: Annotated[str, AfterValidator(_known_zone)]
    place_checked: Annotated[bool | None, Field(strict=True)] = None  # far from its zone and right
    height_above_horizon_m: Annotated[Float, Ge(0), Le(5000)] = 0.0
    skyline: Annotated[tuple[SkylinePoint, ...], Field(max_length=720), AfterValidator(_each_azimuth_once)] = ()


def _known_board(name: Any) -> Any:
    if isinstance(name, str) and name in BOARDS:
        return name
    known = ", ".join(repr(board) for board in BOARDS)
    works = what_works_on(str(name))
    if works:
        raise ValueError(f"one of {known}; {works}")
    near = difflib.get_close_matches(str(name), BOARDS, n=1, cutoff=0.6)
    hint = f" (nearest is '{near[0]}')" if near else ""
    raise ValueError(f"one of {known}{hint}")


BoardName = Annotated[str, BeforeValidator(_known_board), Field(json_schema_extra={"enum": [*BOARDS]})]


class Chip(Settings):
    """The chip's clock: one offset all year ('standard' or 'utc'), or civil time with its summer time."""

    keeps: Literal["standard", "utc", "civil"] = "standard"
    board: BoardName = "atmega328p"

    @property
    def on(self) -> Board:
        """The board's own record: its room, pins and clock."""
        return BOARDS[self.board]
