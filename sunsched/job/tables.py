"""What `table` asks for, and what it gets: plans, files by name, and the summary."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from sunsched.base.errors import UsageError
from sunsched.config.configuration import Configuration
from sunsched.emit.stamp import file_stem
from sunsched.job import pipeline
from sunsched.plan.year import YearPlan

FORMS = (*pipeline.FORMS, "eeprom")


@dataclass(frozen=True, slots=True)
class Ask:
    """Which tables: years in a row, forms, and for a compact one its layout, worst error and room.

    layout   None: the smallest where a memory image is asked for, else plain
    room_bytes   of a memory image; None: what the board's EEPROM holds
    """

    years: tuple[int, ...]
    forms: tuple[str, ...]
    layout: str | None = None
    worst_error_min: int = 0
    room_bytes: int | None = None

    @property
    def plain_header(self) -> bool:
        """One year, readable row by row, in a header that needs nothing else."""
        return self.packing == "plain" and len(self.years) == 1 and "eeprom" not in self.forms and not self.room_bytes

    @property
    def packing(self) -> str:
        """The layout meant, one of LAYOUTS; a table of many years has one of its own."""
        if self.layout is None:
            return "auto" if "eeprom" in self.forms or len(self.years) > 1 else "plain"
        return "auto" if self.layout == "plain" and len(self.years) > 1 else self.layout


@dataclass(frozen=True, slots=True)
class Made:
    """The plans of the years, the files' bytes by their names, and the summary for the keeper."""

    plans: tuple[YearPlan, ...]
    files: dict[str, bytes]
    summary: dict[str, Any]


def tables(
    configuration: Configuration, ask: Ask, name: str = "", progress: Callable[[str], None] | None = None
) -> Made:
    """All files of `ask`; `name` is the configuration's file, for errors.

    `progress` is called with a line of text for each attempt.

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
        found, packed = _packed(configuration, ask, name, progress)
    for work in works:
        stem = file_stem(work.plan)
        found |= {f"{stem}.{pipeline.FORMS[f][0]}": text for f, text in pipeline.texts_of(work, forms).items()}
    plans = tuple(work.plan for work in works)
    whole = packed | _all_years(plans)
    whole["warnings"] = [*whole["warnings"], *_slot_warning(configuration, ask, packed)]
    return Made(plans, found, whole)


def _slot_warning(configuration: Configuration, ask: Ask, packed: dict[str, Any]) -> list[str]:
    """An image that the door's own program has no place for, though the EEPROM would hold it."""
    board, image_bytes = configuration.chip.on, packed.get("image_bytes", 0)
    if "eeprom" not in ask.forms or not board.program or image_bytes <= board.slot_bytes:
        return []
    return [
        f"the image takes {image_bytes} bytes; the door program of an {board.title} takes images of "
        f"{board.slot_bytes} at most over its serial line, so this one is for a program of your own"
    ]


def _packed(
    configuration: Configuration, ask: Ask, name: str, progress: Callable[[str], None] | None
) -> tuple[dict[str, bytes], dict[str, Any]]:
    from sunsched.job import compact

    board, room_bytes, room_of = configuration.chip.on, ask.room_bytes, ""
    if room_bytes is None and "eeprom" in ask.forms:
        room_bytes, room_of = board.eeprom_bytes, f"the {board.title}'s EEPROM"
    error_min, layout = ask.worst_error_min, ask.packing
    work = compact.compact(configuration, ask.years, layout, error_min, room_bytes, name, progress, room_of)
    files: dict[str, bytes] = {}
    for form in ask.forms:
        if form in ("c", "eeprom"):
            files |= compact.files_of(work, form)
    return files, compact.summary_of(work)


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
