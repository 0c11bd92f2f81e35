"""Compact tables: from a configuration and its years to a table that has been read back, and its files.

What `table` asks for, and what it gets: plans, files by name, and the summary.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from sunsched.base.civil_time import date_of
from sunsched.base.errors import CapacityError, UsageError
from sunsched.config.configuration import Configuration
from sunsched.emit.forms import FORMS, asked, packed_files
from sunsched.emit.stamp import Stamp
from sunsched.hardware.parts import LightCell
from sunsched.job.pipeline import Built, built, named_files
from sunsched.job.pipeline import summary_of as plan_summary
from sunsched.plan.year import YearPlan

if TYPE_CHECKING:
    from sunsched.table.choose import Table
    from sunsched.table.image import ChipSettings

Told = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Compact:
    """A table with the plans it was made of and the stamp for its files."""

    plans: tuple[YearPlan, ...]
    table: Table
    stamp: Stamp


def compact(
    configuration: Configuration,
    years: Sequence[int],
    layout: str = "auto",
    worst_error_min: int = 0,
    room_bytes: int | None = None,
    name: str = "",
    told: Told | None = None,
) -> Compact:
    """The smallest table of one year, or of years that follow each other.

    layout   `auto`, or the name of one; `years` is the only one for more than one year
    worst_error_min, room_bytes, told   as in table/choose.py
    name   the configuration's file, for errors and the stamp
    Raises CapacityError if nothing fits.
    """
    _refuse_layout(layout, len(years))
    works = [built(configuration, year, name) for year in years]
    return packed(works, layout, worst_error_min, room_bytes, told)


def packed(
    works: Sequence[Built],
    layout: str = "auto",
    worst_error_min: int = 0,
    room_bytes: int | None = None,
    told: Told | None = None,
) -> Compact:
    """The table of years that have been worked out; see `compact`."""
    from sunsched.table.choose import choose
    from sunsched.table.layout import Layout

    _refuse_layout(layout, len(works))
    configuration, plans = works[0].configuration, tuple(work.plan for work in works)
    chosen = None if layout == "auto" else Layout[layout.upper()]
    table = choose(plans, configuration.rules, chip_settings(configuration), chosen, worst_error_min, room_bytes, told)
    years = [date_of(plan.first_day).year for plan in plans]
    stamp = works[0].stamp
    return Compact(plans, table, replace(stamp, command=_command(stamp.command, years, layout, worst_error_min)))


def _refuse_layout(layout: str, n_years: int) -> None:
    from sunsched.table.layout import Layout

    known = ("auto", *(layout.word for layout in Layout))
    if layout not in known:
        raise UsageError(f"--layout is '{layout}'; wanted one of {', '.join(known)}")
    if n_years > 1 and layout not in ("auto", "years"):
        raise UsageError(f"--layout {layout} holds one year; --years takes layout years or auto")


def _command(one_year: str, years: Sequence[int], layout: str, worst_error_min: int) -> str:
    """What to run for the same table again; `one_year` is the command of the first year's plain table."""
    command = one_year
    if len(years) > 1:
        command = command.replace(f"--year {years[0]}", f"--years {years[0]}..{years[-1]}")
    command += f" --layout {layout}"
    return f"{command} --worst-error {worst_error_min}" if worst_error_min else command


def chip_settings(configuration: Configuration) -> ChipSettings:
    """What an image tells the door's program beside the table."""
    from sunsched.table.image import ChipSettings

    site, cell, rules = configuration.site, configuration.light_cell, configuration.rules
    return ChipSettings(
        latitude_cdeg=round(site.latitude_deg * 100),
        longitude_cdeg=round(site.longitude_deg * 100),
        morning_cell_from_min=rules.morning.cell_from_min,
        morning_cell_until_min=rules.morning.cell_until_min,
        evening_cell_from_min=rules.evening.cell_from_min,
        evening_cell_until_min=rules.evening.cell_until_min,
        dark_counts=_counts(cell, cell.dark_lux),
        light_counts=_counts(cell, cell.light_lux),
        confirm_s=cell.confirm_s,
    )


def _counts(cell: LightCell, illuminance_lux: float) -> int:
    """A threshold as the program reads it: counts of a divider, whole lux of a digital sensor."""
    from sunsched.hardware.light_cell import divider_counts

    if cell.kind == "lux":
        return round(illuminance_lux)
    counts = divider_counts(illuminance_lux, cell.r10_ohm, cell.gamma, cell.fixed_ohm, cell.adc_steps)
    return min(int(counts), 32767)


def files_of(work: Compact, form: str) -> dict[str, bytes]:
    """The files of a form that holds packed tables, by name."""
    return packed_files(form, work.plans, work.table, work.stamp)


def summary_of(work: Compact) -> dict[str, Any]:
    """The table's own part of the summary: layout, bytes, errors, rules, blocks."""
    table = work.table
    return {
        "layout": table.image.layout.word,
        "data_bytes": table.data_bytes,
        "decoder_bytes": table.decoder_bytes,
        "worst_error_min": table.worst_error_min,
        "days_inexact": table.days_inexact,
        "rule_bytes": table.rule_bytes,
        "rules_applied_by_decoder": list(table.riding),
        "fact_bytes": len(table.image.facts),
        "setting_bytes": len(table.image.settings),
        "image_bytes": len(table.raw),
        "years": [work.table.image.first_year, work.table.image.first_year + work.table.image.n_years - 1],
    }


@dataclass(frozen=True, slots=True)
class Ask:
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


@dataclass(frozen=True, slots=True)
class Made:
    """The plans of the years, the files' bytes by their names, and the summary for the keeper."""

    plans: tuple[YearPlan, ...]
    files: dict[str, bytes]
    summary: dict[str, Any]


def tables(configuration: Configuration, ask: Ask, name: str = "", told: Callable[[str], None] | None = None) -> Made:
    """All files of `ask`. `name` is the configuration's file, for errors; `told` hears what is being tried.

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
        work = _for_the_board(works, ask, told)
        summary = summary_of(work)
        for form in ask.forms:
            if form not in each_year:
                files |= files_of(work, form)
    for one in works:
        files |= named_files(one, each_year)
    return Made(plans, files, summary | _all_years(plans))


def year_files(work: Built, forms: Sequence[str]) -> dict[str, bytes]:
    """A year's files: readable ones row by row, and the memory image, if asked for, as small as it can be."""
    files = named_files(work, [form for form in forms if FORMS[form].plain])
    for_memory = tuple(form for form in forms if not FORMS[form].plain)
    if for_memory:
        table = _for_the_board([work], Ask((date_of(work.plan.first_day).year,), for_memory), None)
        for form in for_memory:
            files |= files_of(table, form)
    return files


def _for_the_board(works: Sequence[Built], ask: Ask, told: Told | None) -> Compact:
    """The packed table of `ask`; one for a chip's memory has to fit the board's EEPROM unless a room is given."""
    board = works[0].configuration.chip.on
    bound = ask.for_memory and ask.room_bytes is None
    try:
        room_bytes = board.table_bytes if bound else ask.room_bytes
        return packed(works, ask.packed_layout, ask.worst_error_min, room_bytes, told)
    except CapacityError as error:
        if not bound:
            raise
        kept = f", of which its program keeps {board.kept_bytes}" if board.kept_bytes else ""
        raise CapacityError(
            f"{error}; an {board.title} has {board.eeprom_bytes} bytes of EEPROM{kept}; "
            "--room BYTES says that another memory holds the table"
        ) from None


def _plain_summary(plan: YearPlan) -> dict[str, Any]:
    from sunsched.table.layout import Layout, decoder_bytes

    return {
        "layout": "plain",
        # Two 16-bit minutes a day.
        "data_bytes": 4 * plan.n_days,
        "decoder_bytes": decoder_bytes(Layout.PLAIN, b""),
        "worst_error_min": 0,
        "days_inexact": 0,
    }


def _all_years(plans: tuple[YearPlan, ...]) -> dict[str, Any]:
    """The summaries of the years as one: days and reasons added up, the extremes of all."""
    parts = [plan_summary(plan) for plan in plans]
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
        whole["warnings"] = list(dict.fromkeys([*whole["warnings"], *part["warnings"]]))
    return whole
