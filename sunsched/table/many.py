"""Tables that a program is compiled with: one for all its years where the error allowed permits it, else several."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from sunsched.base.errors import CapacityError
from sunsched.plan.rules import Rules
from sunsched.plan.year import YearPlan
from sunsched.table.choose import Table, fitting
from sunsched.table.image import ChipSettings
from sunsched.table.layout import CODECS, Codec

Progress = Callable[[str], None]
# Packed differences are worked out at once; straight pieces take seconds a year and two thirds of the bytes.
QUICK = (CODECS["curves"], CODECS["blocks"])
SHORT = (CODECS["curves"], CODECS["slopes"], CODECS["blocks"])


def tables_of_years(
    plans: Sequence[YearPlan],
    rules: Rules,
    settings: ChipSettings,
    worst_error_min: int,
    single: tuple[Codec, ...] = QUICK,
    progress: Progress | None = None,
) -> tuple[Table, ...]:
    """The tables of calendar years that follow each other, in their order, each within `worst_error_min`.

    Years that one table cannot hold are halved until one can; where not even two years fit together (fallbacks near
    the polar circle fall on other days each year) each gets a table of its own, exact if QUICK.

    single   the layouts that a table of one year may have, the first that fits: QUICK or SHORT
    """
    if len(plans) > 1:
        one = fitting(plans, rules, settings, CODECS["years"], worst_error_min)
        if one is not None:
            return (one,)
        if len(plans) > 2 and fitting(plans[:2], rules, settings, CODECS["years"], worst_error_min) is not None:
            half = len(plans) // 2
            first = tables_of_years(plans[:half], rules, settings, worst_error_min, single, progress)
            return first + tables_of_years(plans[half:], rules, settings, worst_error_min, single, progress)
    tables = []
    for number, plan in enumerate(plans, 1):
        if progress is not None:
            progress(f"a table for each year: {number} of {len(plans)}")
        tables.append(_of_one_year(plan, rules, settings, single, 0 if single == QUICK else worst_error_min))
    return tuple(tables)


def _of_one_year(
    plan: YearPlan, rules: Rules, settings: ChipSettings, single: tuple[Codec, ...], error_min: int
) -> Table:
    for layout in single:
        table = fitting([plan], rules, settings, layout, error_min)
        if table is not None:
            return table
    raise CapacityError("no table holds these minutes")  # layout blocks holds every plan


def one_with_more_error(
    plans: Sequence[YearPlan], rules: Rules, settings: ChipSettings, worst_error_min: int
) -> Table | None:
    """The one table of all years with one to three minutes of error more, the least that does; None if none does."""
    for more in (1, 2, 3):
        table = fitting(plans, rules, settings, CODECS["years"], worst_error_min + more)
        if table is not None:
            return table
    return None


def years_text(tables: Sequence[Table]) -> str:
    """The years of tables that follow each other: 2027, or 2027 to 2047."""
    first, last = tables[0].image, tables[-1].image
    until = last.first_year + last.n_years - 1
    return str(until) if until == first.first_year else f"{first.first_year} to {until}"
