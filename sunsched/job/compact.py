"""Compact tables: from a configuration and its years to a table that has been read back, and its files."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from sunsched.base.civil_time import date_of
from sunsched.base.errors import UsageError
from sunsched.config.configuration import Configuration
from sunsched.emit.forms import packed_files
from sunsched.emit.stamp import Stamp
from sunsched.hardware.light_cell import divider_counts
from sunsched.hardware.parts import LightCell
from sunsched.job.pipeline import Built, built
from sunsched.plan.year import YearPlan
from sunsched.table.choose import Table, choose
from sunsched.table.image import ChipSettings
from sunsched.table.layout import CODECS, names

Progress = Callable[[str], None]


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
    progress: Progress | None = None,
) -> Compact:
    """The smallest table of one year, or of years that follow each other.

    layout   `auto` or the name of one; `years` is the only one for more than one year
    worst_error_min, room_bytes, progress   as in table/choose.py
    name   the configuration's file, for errors and the stamp
    Raises CapacityError if nothing fits.
    """
    _refuse_layout(layout, len(years))
    return packed([built(configuration, year, name) for year in years], layout, worst_error_min, room_bytes, progress)


def packed(
    works: Sequence[Built],
    layout: str = "auto",
    worst_error_min: int = 0,
    room_bytes: int | None = None,
    progress: Progress | None = None,
) -> Compact:
    """The table of years that have been worked out; see `compact`."""
    _refuse_layout(layout, len(works))
    configuration, plans, stamp = works[0].configuration, tuple(work.plan for work in works), works[0].stamp
    chosen = None if layout == "auto" else CODECS[layout]
    settings = replace(chip_settings(configuration), worst_error_min=worst_error_min)
    table = choose(plans, configuration.rules, settings, chosen, worst_error_min, room_bytes, progress)
    years = [date_of(plan.first_day).year for plan in plans]
    return Compact(plans, table, stamp._replace(command=_command(stamp.command, years, layout, worst_error_min)))


def _refuse_layout(layout: str, n_years: int) -> None:
    if layout not in names():
        raise UsageError(f"--layout is '{layout}'; wanted one of {', '.join(names())}")
    many = [codec.name for codec in CODECS.values() if codec.many_years]
    if n_years > 1 and layout not in ("auto", *many):
        raise UsageError(f"--layout {layout} holds one year; --years takes layout {', '.join(many)} or auto")


def _command(one_year: str, years: Sequence[int], layout: str, worst_error_min: int) -> str:
    """What to run for the same table again; `one_year` is the command of the first year's plain table."""
    command = one_year
    if len(years) > 1:
        command = command.replace(f"--year {years[0]}", f"--years {years[0]}..{years[-1]}")
    command += f" --layout {layout}"
    return f"{command} --worst-error {worst_error_min}" if worst_error_min else command


def chip_settings(configuration: Configuration) -> ChipSettings:
    """The program's settings that an image carries beside the table."""
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
        "layout": table.image.layout.name,
        "data_bytes": table.data_bytes,
        "decoder_bytes": table.decoder_bytes,
        "worst_error_min": table.worst_error_min,
        "days_inexact": table.days_inexact,
        "rule_bytes": table.rule_bytes,
        "rules_applied_by_decoder": list(table.decoder_rules),
        "fact_bytes": len(table.image.facts),
        "setting_bytes": len(table.image.settings),
        "image_bytes": len(table.raw),
        "years": [work.table.image.first_year, work.table.image.first_year + work.table.image.n_years - 1],
    }
