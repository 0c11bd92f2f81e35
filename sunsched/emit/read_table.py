"""A table as read back from a file, and what the readers of several forms need."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import date_of, year_days
from sunsched.base.errors import DamagedError
from sunsched.plan.year import NO_MINUTE

if TYPE_CHECKING:
    from sunsched.table.image import Image


class ReadTable(NamedTuple):
    """A table as read: the minutes (2, n) of each year [chip minutes], opening and closing.

    image   None for forms that hold the plan itself
    keeps, offset_min   of the clock; None where the form does not say
    within_min   how far a minute may be from the plan, as the table was made [minutes]
    plan_sha256   the digest of the plan that it says it was made of, '' where it does not say
    proof   'digest' or 'checksum' of all that a chip would compile or load, '' where it carries none
    text   as read, line ends as LF, for comparing it with one made anew; '' of bytes
    kind, form   what kind of file it was, and of which form
    The last four but one are filled in by the registry of forms.
    """

    minutes: dict[int, NDArray[np.int32]]
    image: Image | None = None
    keeps: str | None = None
    offset_min: int | None = None
    within_min: int = 0
    plan_sha256: str = ""
    proof: str = ""
    text: str = ""
    kind: str = ""
    form: str = ""


def of_image(image: Image) -> ReadTable:
    """What an image holds. Raises DamagedError where it is whole and makes no sense."""
    from sunsched.table.image import ChipSettings

    years = range(image.first_year, image.first_year + image.n_years)
    try:
        minutes = {year: image.minutes(year) for year in years}
        settings = ChipSettings.of_bytes(image.settings)
    except (ValueError, IndexError) as error:
        raise DamagedError(f"the image is whole but makes no sense: {error}") from None
    within_min = max(settings.worst_error_min, 0) if settings is not None else 0
    return ReadTable(minutes, image, image.keeps, image.offset_min, within_min, proof="checksum")


def text_of(raw: bytes) -> str:
    """The text of a file, without an editor's CRLF and byte order mark. Raises DamagedError if it is none."""
    try:
        return raw.decode("utf-8-sig").replace("\r\n", "\n")
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
