"""The main job on one page: configuration -> plan -> table -> texts.

read (config/toml_file) -> Configuration
plan_of                 -> YearPlan: the minutes, their reasons, the warnings
texts_of                -> the file of each form asked for (emit/forms.py)
summary_of              -> what a keeper needs first
files_of                -> the texts under their file names, for job/files.write_all
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from sunsched import __version__
from sunsched.base.civil_time import clock_text, date_of
from sunsched.base.errors import ConfigError, RangeError
from sunsched.config.configuration import Configuration
from sunsched.emit.forms import FORMS, plain_file
from sunsched.emit.stamp import Stamp, command_line, file_stem, plan_sha256
from sunsched.plan.day import TraceFn
from sunsched.plan.planning import span_plan, year_plan, year_plans
from sunsched.plan.reasons import Reason
from sunsched.plan.year import NO_MINUTE, YearPlan


class Built(NamedTuple):
    """A year worked out: the configuration it came from, the plan, and the stamp for its outputs."""

    configuration: Configuration
    plan: YearPlan
    stamp: Stamp


def plan_of(configuration: Configuration, year: int, name: str = "") -> YearPlan:
    """The plan of one calendar year. `name` is the configuration's file, for errors."""
    c = configuration
    try:
        return year_plan(c.site, c.chip, c.rules, year, c.light_cell)
    except ConfigError as error:
        raise _in_file(error, name) from None


def plans_of(configurations: Sequence[Configuration], year: int) -> list[YearPlan | ConfigError | RangeError]:
    """The plans of sites whose rules, chip and light cell are those of the first, each as `plan_of` or why not."""
    c = configurations[0]
    return year_plans([one.site for one in configurations], c.chip, c.rules, year, c.light_cell)


def span_of(
    configuration: Configuration, first_day: int, n_days: int, name: str = "", trace: TraceFn | None = None
) -> YearPlan:
    """The plan of any span of days [day numbers]; `trace`, if given, is called for every step."""
    c = configuration
    try:
        return span_plan(c.site, c.chip, c.rules, first_day, n_days, c.light_cell, trace)
    except ConfigError as error:
        raise _in_file(error, name) from None


def _in_file(error: ConfigError, name: str) -> ConfigError:
    return ConfigError(*(problem.in_file(name) for problem in error.problems))


def built(configuration: Configuration, year: int, name: str = "") -> Built:
    """A year worked out and stamped, ready to be written in any form."""
    plan = plan_of(configuration, year, name)
    return Built(configuration, plan, stamp_of(configuration, plan, year, name))


def stamp_of(configuration: Configuration, plan: YearPlan, year: int, name: str = "") -> Stamp:
    """The origin of a plan's outputs. A path is cut to the file's name: outputs are the same on any machine."""
    command = command_line("table", name, "--year", str(year))
    return Stamp(__version__, command, plan.tzdata, plan_sha256(plan), configuration.as_written())


def texts_of(work: Built, forms: Iterable[str]) -> dict[str, bytes]:
    """The bytes of each form asked for; forms of packed tables alone are not among them."""
    return {form: plain_file(form, work.plan, work.stamp) for form in forms}


def named_files(work: Built, forms: Iterable[str]) -> dict[str, bytes]:
    """The files of a year by name, `<site>_<year>.<ending>`."""
    stem = file_stem(work.plan)
    return {f"{stem}.{FORMS[form].endings[0]}": content for form, content in texts_of(work, forms).items()}


def files_of(work: Built, forms: Iterable[str], folder: Path) -> dict[Path, bytes]:
    """The files of a year in `folder`, with their bytes."""
    return {folder / name: content for name, content in named_files(work, forms).items()}


def summary_of(plan: YearPlan) -> dict[str, Any]:
    """What a keeper needs first: the extremes with their dates, days by reason, warnings."""
    up = plan.open_min != NO_MINUTE
    summary: dict[str, Any] = {"days": plan.n_days}
    for side, column in (("open", plan.open_min), ("close", plan.close_min)):
        civil = np.where(up, plan.civil_min(column), np.nan)
        for word, find in (("earliest", np.nanargmin), ("latest", np.nanargmax)):
            summary[f"{word}_{side}"] = _extreme(plan, civil, find) if up.any() else None
    summary["reasons"] = {
        "open": _count(plan.open_reason),
        "close": _count(plan.close_reason),
    }
    summary["warnings"] = [warned.text for warned in plan.warnings]
    return summary


def _extreme(plan: YearPlan, civil: Any, find: Any) -> dict[str, str]:
    row = int(find(civil))
    return {"civil": clock_text(round(float(civil[row]))), "date": date_of(plan.first_day + row).isoformat()}


def _count(reasons: Any) -> dict[str, int]:
    counts = np.bincount(reasons, minlength=len(Reason))
    return {reason.word: int(counts[reason]) for reason in Reason if counts[reason]}
