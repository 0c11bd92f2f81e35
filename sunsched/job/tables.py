"""Compact tables: from a configuration and its years to a table that has been read back, and its files.

What `table` asks for, and what it gets: plans, files by name, and the summary.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from sunsched.base.errors import UsageError
from sunsched.config.configuration import Configuration
from sunsched.emit import c_compact, eeprom_hex
from sunsched.emit.stamp import Stamp, file_stem
from sunsched.hardware.light_cell import divider_counts
from sunsched.hardware.parts import LightCell
from sunsched.job import pipeline
from sunsched.job.pipeline import plan_of, stamp_of
from sunsched.plan.year import YearPlan
from sunsched.table.choose import Table, choose
from sunsched.table.image import ChipSettings
from sunsched.table.layout import Layout

Told = Callable[[str], None]
LAYOUTS = ("auto", *(layout.word for layout in Layout))


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

    layout   one of LAYOUTS; `years` is the only one for more than one year
    worst_error_min, room_bytes, told   as in table/choose.py
    name   the configuration's file, for errors and the stamp
    Raises CapacityError if nothing fits.
    """
    if layout not in LAYOUTS:
        raise UsageError(f"--layout is '{layout}'; wanted one of {', '.join(LAYOUTS)}")
    if len(years) > 1 and layout not in ("auto", "years"):
        raise UsageError(f"--layout {layout} holds one year; --years takes layout years or auto")
    plans = tuple(plan_of(configuration, year, name) for year in years)
    chosen = None if layout == "auto" else Layout[layout.upper()]
    table = choose(plans, configuration.rules, chip_settings(configuration), chosen, worst_error_min, room_bytes, told)
    stamp = stamp_of(configuration, plans[0], years[0], name)
    return Compact(plans, table, replace(stamp, command=_command(stamp.command, years, layout, worst_error_min)))


def _command(one_year: str, years: Sequence[int], layout: str, worst_error_min: int) -> str:
    """What to run for the same table again; `one_year` is the command of the first year's plain table."""
    command = one_year
    if len(years) > 1:
        command = command.replace(f"--year {years[0]}", f"--years {years[0]}..{years[-1]}")
    command += f" --layout {layout}"
    return f"{command} --worst-error {worst_error_min}" if worst_error_min else command


def chip_settings(configuration: Configuration) -> ChipSettings:
    """What an image tells the door's program beside the table."""
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
    """The files of form `c` (header and the reader it includes) or `eeprom` (Intel HEX and raw bytes), by name."""
    stem = file_stem(work.plans[0])
    if form == "eeprom":
        return {f"{stem}.hex": eeprom_hex.text(work.table.raw).encode(), f"{stem}.bin": work.table.raw}
    readers = c_compact.reader_names(work.table.image.layout)
    header = c_compact.text(work.plans, work.table, work.stamp)
    return {f"{stem}.h": header.encode()} | {name: c_compact.reader_text(name).encode() for name in readers}


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


FORMS = (*pipeline.FORMS, "eeprom")


@dataclass(frozen=True, slots=True)
class Ask:
    """Which tables: years in a row, forms, and for a compact one its layout, worst error and room."""

    years: tuple[int, ...]
    forms: tuple[str, ...]
    layout: str = "plain"
    worst_error_min: int = 0
    room_bytes: int | None = None

    @property
    def plain_header(self) -> bool:
        """One year, readable row by row, in a header that needs nothing else."""
        return self.layout == "plain" and len(self.years) == 1 and "eeprom" not in self.forms and not self.room_bytes


@dataclass(frozen=True, slots=True)
class Made:
    """The plans of the years, the files' bytes by their names, and the summary for the keeper."""

    plans: tuple[YearPlan, ...]
    files: dict[str, bytes]
    summary: dict[str, Any]


def tables(configuration: Configuration, ask: Ask, name: str = "", told: Callable[[str], None] | None = None) -> Made:
    """All files of `ask`. `name` is the configuration's file, for errors; `told` hears what is being tried.

    JSON and CSV hold the plan, one file a year. Raises UsageError, ConfigError or CapacityError.
    """
    unknown = [form for form in ask.forms if form not in FORMS]
    if unknown:
        raise UsageError(f"--as is '{unknown[0]}'; wanted one of {', '.join(FORMS)}")
    works = [pipeline.built(configuration, year, name) for year in ask.years]
    found: dict[str, bytes] = {}
    if ask.plain_header:
        forms, packed = ask.forms, _plain_summary(works[0].plan)
    else:
        forms = tuple(form for form in ask.forms if form in ("json", "csv"))
        found, packed = _packed(configuration, ask, name, told)
    for work in works:
        stem = file_stem(work.plan)
        found |= {f"{stem}.{pipeline.FORMS[f][0]}": text for f, text in pipeline.texts_of(work, forms).items()}
    plans = tuple(work.plan for work in works)
    return Made(plans, found, packed | _all_years(plans))


def _packed(
    configuration: Configuration, ask: Ask, name: str, told: Callable[[str], None] | None
) -> tuple[dict[str, bytes], dict[str, Any]]:

    layout = "auto" if ask.layout == "plain" and len(ask.years) > 1 else ask.layout
    work = compact(configuration, ask.years, layout, ask.worst_error_min, ask.room_bytes, name, told)
    files: dict[str, bytes] = {}
    for form in ask.forms:
        if form in ("c", "eeprom"):
            files |= files_of(work, form)
    return files, summary_of(work)


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
    parts = [pipeline.summary_of(plan) for plan in plans]
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
