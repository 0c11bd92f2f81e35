"""Which years are due, and why, in words that a keeper can act on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from sunsched import __version__
from sunsched.base import inputs
from sunsched.base.civil_time import date_of
from sunsched.base.errors import ConfigError, SunschedError
from sunsched.config import toml_file
from sunsched.config.configuration import Configuration
from sunsched.emit.forms import FORMS, KEPT
from sunsched.emit.stamp import plan_sha256
from sunsched.job.renewal import record as records
from sunsched.job.renewal.record import Record, Year
from sunsched.plan.year import NO_MINUTE, YearPlan

SUN_SECTIONS = ("site", "morning", "evening", "season")
_MOST_KEYS = 3


@dataclass(frozen=True, slots=True)
class Due:
    """Why a year is due.

    damaged   its files are not what was written
    same_minutes   only its forms are others: a chip that has the table needs no new one
    """

    why: str
    damaged: bool = False
    same_minutes: bool = False


def due_years(
    live: Path, record: Record | None, configuration: Configuration, plans: Mapping[int, YearPlan], forms: Sequence[str]
) -> dict[int, Due]:
    """The years whose tables are missing, damaged, out of date with the configuration, or moved by zone rules.

    A table is right as long as it moves the door as the plan of today's configuration does: another version of this
    tool or of tzdata that moves no minute is no reason to write.
    """
    found = {year: _due(live, record, configuration, plan, year, forms) for year, plan in plans.items()}
    return {year: due for year, due in found.items() if due is not None}


def _due(
    live: Path, record: Record | None, configuration: Configuration, plan: YearPlan, year: int, forms: Sequence[str]
) -> Due | None:
    if record is None:
        if live.exists() and any(live.iterdir()):
            return Due(f"{live / records.NAME} is missing or damaged", damaged=True)
        return Due("there is no table yet")
    of_year = record.years.get(year)
    if of_year is None:
        return Due("there is no table yet")
    damaged = records.damaged_files(live, of_year)
    if damaged:
        return Due(f"{', '.join(damaged)} missing, damaged or changed by hand", damaged=True)
    table = old_table(live, of_year)
    if table is None:
        return Due("its JSON table cannot be read", damaged=True)
    out_of_date = _out_of_date(table, of_year, configuration, plan)
    kept, asked = {Path(name).suffix for name in of_year.files}, _endings(forms)
    if kept == asked:
        return out_of_date
    # Both are said: a keeper who forgot last year's forms would else not learn that the rules have changed too.
    first = f"{out_of_date.why}; " if out_of_date else ""
    words = [_names(asked - kept), f"no longer {_names(kept - asked)}" if kept - asked else ""]
    others = ", ".join(word for word in words if word)
    return Due(f"{first}other forms are asked for: {others}", same_minutes=out_of_date is None)


def _names(endings: set[str]) -> str:
    return ", ".join(sorted(ending.removeprefix(".") for ending in endings))


def _endings(forms: Sequence[str]) -> set[str]:
    return {f".{ending}" for form in forms for ending in FORMS[form].endings}


def _out_of_date(table: Mapping[str, Any], of_year: Year, configuration: Configuration, plan: YearPlan) -> Due | None:
    then = _then(table)
    if then != configuration:
        return Due(f"the configuration changed ({_changed(then, configuration)})")
    if plan_sha256(plan) == of_year.plan_sha256:
        return None
    moved = _moved(table, plan)
    if table.get("tzdata") != plan.tzdata:
        return Due(
            f"the zone rules of {plan.site.zone} changed (tzdata {table.get('tzdata')} to {plan.tzdata}), "
            f"which moves the door on {moved}"
        )
    return Due(f"sunsched {table.get('sunsched')} to {__version__} moves the door on {moved}")


def old_table(live: Path, of_year: Year) -> dict[str, Any] | None:
    """The JSON table of a year as written, None where it is missing or not what was written."""
    name = next((name for name in of_year.files if name.endswith(f".{FORMS[KEPT].endings[0]}")), None)
    if name is None:
        return None
    try:
        content = inputs.read_bytes(live / name, "a table", records.LARGEST_BYTES)
        told = inputs.json_of(content)
    except (SunschedError, ValueError):
        return None
    whole = records.sha256(content) == of_year.files[name]
    return told if whole and isinstance(told, dict) else None


def same_sun_settings(table: Mapping[str, Any], configuration: Configuration) -> bool:
    """Whether the table's configuration asks for the Sun's moments that today's asks for."""
    then = _then(table)
    return then is not None and all(getattr(then, key) == getattr(configuration, key) for key in SUN_SECTIONS)


def same_place(table: Mapping[str, Any], configuration: Configuration) -> bool:
    """Whether a table was made for the spot of today's configuration, whatever the site was called."""
    then = _then(table)
    spots = [(c.site.latitude_deg, c.site.longitude_deg) for c in (then, configuration) if c is not None]
    return len(spots) == 2 and spots[0] == spots[1]


def _then(table: Mapping[str, Any]) -> Configuration | None:
    # Read as a configuration is, so that a key which came later takes its default and is no change.
    try:
        return toml_file.validated(table["settings"], "the table's settings")
    except (ConfigError, KeyError):
        return None


def _changed(then: Configuration | None, now: Configuration) -> str:
    if then is None:
        return "its settings have other keys"
    old, new = _flat("", then.as_written()), _flat("", now.as_written())
    keys = sorted(key for key in old.keys() | new.keys() if old.get(key) != new.get(key))
    more = f" and {len(keys) - _MOST_KEYS} more" if len(keys) > _MOST_KEYS else ""
    return ", ".join(keys[:_MOST_KEYS]) + more


def _flat(key: str, value: Any) -> dict[str, Any]:
    if isinstance(value, Mapping):
        pairs = [(f"{key}.{name}" if key else str(name), inner) for name, inner in value.items()]
    elif isinstance(value, (list, tuple)) and any(isinstance(inner, Mapping) for inner in value):
        pairs = [(f"{key}[{number}]", inner) for number, inner in enumerate(value)]
    else:
        return {key: value}
    return {name: leaf for name, inner in pairs for name, leaf in _flat(name, inner).items()}


def _moved(table: Mapping[str, Any], plan: YearPlan) -> str:
    """How many days move, and the first of them."""
    old = np.array(
        [[NO_MINUTE if day[key] is None else day[key] for key in ("open_min", "close_min")] for day in table["days"]]
    )
    new = np.stack([plan.open_min, plan.close_min], axis=1)
    if old.shape != new.shape:
        return "all days"
    rows = (old != new).any(axis=1)
    if not rows.any():
        return "no day, but what the chip is told beside the minutes"
    return f"{int(rows.sum())} days, first on {date_of(plan.first_day + int(np.argmax(rows)))}"
