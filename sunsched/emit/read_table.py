"""A table as read back from a file, and what the readers of several forms need."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import date_of, year_days
from sunsched.base.errors import DamagedError
from sunsched.plan.year import NO_MINUTE

if TYPE_CHECKING:
    from sunsched.table.image import Image


@dataclass(frozen=True, slots=True)
class ReadTable:
    """A table as read: the minutes (2, n) of each year [chip minutes], opening and closing.

    image   None for forms that hold the plan itself
    keeps, offset_min   of the clock; None where the form does not say
    kind   what kind of file it was; filled in by the registry of forms
    """

    minutes: dict[int, NDArray[np.int32]]
    image: Image | None = None
    keeps: str | None = None
    offset_min: int | None = None
    kind: str = ""


def of_image(image: Image) -> ReadTable:
    """What an image holds."""
    years = range(image.first_year, image.first_year + image.n_years)
    return ReadTable({year: image.minutes(year) for year in years}, image, image.keeps, image.offset_min)


def text_of(raw: bytes) -> str:
    """The text of a file. Raises DamagedError when it is none."""
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError:
        raise DamagedError("neither a table image nor text") from None


def refuse_other_dates(year: int, dates: Iterable[str]) -> None:
    """Raise DamagedError when dates are not every day of a year in order."""
    first, n_days = year_days(year) if 1 < year < 9998 else (0, 0)
    wanted = [date_of(first + row).isoformat() for row in range(n_days)]
    if list(dates) != wanted:
        raise DamagedError(f"its rows are not the {n_days} days of {year} in order")


def refuse_beyond_16_bits(minutes: NDArray[np.int64]) -> None:
    """Raise DamagedError when a minute is none that a table can hold."""
    if np.abs(minutes).max(initial=0) > -NO_MINUTE:
        raise DamagedError("a minute that 16 bits cannot hold")
