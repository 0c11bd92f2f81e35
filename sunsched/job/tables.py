"""The request of `table` and its result: plans, files by name, and the summary."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from sunsched.base.civil_time import date_of
from sunsched.base.errors import CapacityError
from sunsched.base.warned import Warned
from sunsched.config.configuration import Configuration
from sunsched.emit.forms import FORMS, asked, packed_files
from sunsched.job.pipeline import Built, built, named_files, summary_of
from sunsched.job.warnings import all_warnings
from sunsched.plan.year import YearPlan

if TYPE_CHECKING:
    from sunsched.job.compact import Compact

Progress = Callable[[str], None]


class Ask(NamedTuple):
    """Which tables: years in a row, forms, and for a compact one its layout, worst error and room.

    layout   empty: rows that can be read, or the smallest where only that can be held (many years, a chip's memory)
    room_bytes   of the image; None: the board's EEPROM where a form is made for it
    """

    years: tuple[int, ...]
    forms: tuple[str, ...]
    layout: str = ""
    worst_error_min: int = 0
    room_bytes: int | None = None

    @property
    def for_memory(self) -> bool:
        """Whether a form holds nothing but a packed table, for a chip's memory."""
        return any(not FORMS[form].plain for form in self.forms)

    @property
    def plain_header(self) -> bool:
        """One year, readable row by row, in a header that needs nothing else."""
        return self.layout in ("", "plain") and len(self.years) == 1 and not self.for_memory and not self.room_bytes

    @property
    def packed_layout(self) -> str:
        """The layout of a packed table."""
        readable = "plain" if len(self.years) == 1 and not self.for_memory else "auto"
        many = len(self.years) > 1 and self.layout == "plain"
        return "auto" if many else self.layout or readable


class Made(NamedTuple):
    """The plans of the years, the files' bytes by their names, the summary for the keeper, and every warning."""

    plans: tuple[YearPlan, ...]
    files: dict[str, bytes]
    summary: dict[str, Any]
    warnings: tuple[Warned, ...]


def tables(configuration: Configuration, ask: Ask, name: str = "", progress: Progress | None = None) -> Made:
    """All files of `ask`; `name` is the configuration's file, for errors.

    `progress` is called with a line of text for each attempt.
    Forms that hold the plan itself give one file a year. Raises UsageError, ConfigError or CapacityError.
    """
    asked(ask.forms)
    works = [built(configuration, year, name) for year in ask.years]
    plans = tuple(work.plan for work in works)
    files: dict[str, bytes] = {}
    if ask.plain_header:
        each_year, summary = ask.forms, _plain_summary(works[0].plan)
    else:
        each_year = tuple(form for form in ask.forms if not FORMS[form].packed)
        from sunsched.job import compact

        table = _for_the_board(works, ask, progress)
        summary = compact.summary_of(table)
        for form in ask.forms:
            if form not in each_year:
                files |= packed_files(form, plans, table.table, table.stamp)
    for one in works:
        files |= named_files(one, each_year)
    warnings = all_warnings(configuration, *plans)
    told = {"warnings": [warned.text for warned in warnings]}
    return Made(plans, files, summary | _all_years(plans) | told, warnings)


def year_files(work: Built, forms: Sequence[str]) -> dict[str, bytes]:
    """A year's files: readable ones row by row, and the memory image, if asked for, as small as it can be."""
    files = named_files(work, [form for form in forms if FORMS[form].plain])
    for_memory = tuple(form for form in forms if not FORMS[form].plain)
    if for_memory:
        table = _for_the_board([work], Ask((date_of(work.plan.first_day).year,), for_memory), None)
        for form in for_memory:
            files |= packed_files(form, table.plans, table.table, table.stamp)
    return files


def _for_the_board(works: Sequence[Built], ask: Ask, progress: Progress | None) -> Compact:
    """The packed table of `ask`; one for a chip's memory has to fit the board's EEPROM unless a room is given."""
    from sunsched.job import compact

    board = works[0].configuration.chip.on
    bound = ask.for_memory and ask.room_bytes is None
    try:
        room_bytes = board.table_bytes if bound else ask.room_bytes
        return compact.packed(works, ask.packed_layout, ask.worst_error_min, room_bytes, progress)
    except CapacityError as error:
        if not bound or f"the room of {board.table_bytes}" not in str(error):
            raise
        slots = f", of which its program has {board.slot_bytes} for each table" if board.slot_bytes else ""
        raise CapacityError(
            f"{error}; an {board.title} has {board.eeprom_bytes} bytes of EEPROM{slots}; "
            "--room BYTES says that another memory holds the table"
        ) from None


def _plain_summary(plan: YearPlan) -> dict[str, Any]:
    from sunsched.table.layout import CODECS, decoder_bytes

    return {
        "layout": "plain",
        # Two 16-bit minutes a day.
        "data_bytes": 4 * plan.n_days,
        "decoder_bytes": decoder_bytes(CODECS["plain"], b""),
        "worst_error_min": 0,
        "days_inexact": 0,
    }


def _all_years(plans: tuple[YearPlan, ...]) -> dict[str, Any]:
    """The summaries of the years as one: days and reasons added up, the extremes of all."""
    parts = [summary_of(plan) for plan in plans]
    whole = dict(parts[0])
    for part in parts[1:]:
        whole["days"] += part["days"]
        for side in ("open", "close"):
            for word, pick in (("earliest", min), ("latest", max)):
                key = f"{word}_{side}"
                both = [extreme for extreme in (whole[key], part[key]) if extreme]
                whole[key] = pick(both, key=lambda extreme: str(extreme["civil"])) if both else None
            counts, more = dict(whole["reasons"][side]), part["reasons"][side]
            whole["reasons"] = whole["reasons"] | {side: counts | {k: counts.get(k, 0) + more[k] for k in more}}
    return whole
