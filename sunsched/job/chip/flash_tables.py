"""The tables of many years that a program is compiled with, and what they take."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sunsched.base.errors import CapacityError
from sunsched.config.configuration import Configuration
from sunsched.job.compact import chip_settings
from sunsched.job.pipeline import plan_of
from sunsched.plan.year import YearPlan
from sunsched.table.choose import Table
from sunsched.table.many import QUICK, SHORT, Progress, one_with_more_error, tables_of_years, years_text

YEARS = 21  # this one and twenty more
LAST_YEAR = 2052  # the last for which the Sun is known
WORST_ERROR_MIN = 1


@dataclass(frozen=True, slots=True)
class FlashTables:
    """Plans of the years, and the tables that hold them, in their order."""

    plans: tuple[YearPlan, ...]
    tables: tuple[Table, ...]
    asked_error_min: int

    @property
    def first_year(self) -> int:
        """The first year that the tables cover."""
        return self.tables[0].image.first_year

    @property
    def last_year(self) -> int:
        """The last year that the tables cover."""
        return self.tables[-1].image.first_year + self.tables[-1].image.n_years - 1

    @property
    def n_bytes(self) -> int:
        """Of all images."""
        return sum(len(table.raw) for table in self.tables)

    @property
    def worst_error_min(self) -> int:
        """The furthest that any minute is from its plan."""
        return max(table.worst_error_min for table in self.tables)


def flash_tables(
    configuration: Configuration,
    years: Sequence[int],
    worst_error_min: int = WORST_ERROR_MIN,
    name: str = "",
    progress: Progress | None = None,
) -> FlashTables:
    """The tables of years that follow each other. Raises CapacityError if they take more flash than there is."""
    plans = tuple(plan_of(configuration, year, name) for year in years)
    settings = chip_settings(configuration)
    room_bytes = configuration.chip.on.tables_bytes
    made = FlashTables(plans, (), worst_error_min)
    for single in (QUICK, SHORT):
        tables = tables_of_years(plans, configuration.rules, settings, worst_error_min, single, progress)
        made = FlashTables(plans, tables, worst_error_min)
        if made.n_bytes <= room_bytes:
            break
    if made.n_bytes > room_bytes:
        fit = 0
        for n, table in enumerate(made.tables):
            if sum(len(t.raw) for t in made.tables[: n + 1]) <= room_bytes:
                fit = table.image.first_year + table.image.n_years - 1
        raise CapacityError(
            f"{len(made.tables)} tables of {years_text(made.tables)} take {made.n_bytes} bytes of flash, more than the "
            f"{room_bytes} beside the program; fewer years fit: --years {years[0]}..{fit}"
        )
    return made


def words(made: FlashTables) -> str:
    """What is compiled in, in a line; what it takes where one table within the error asked for cannot hold it."""
    years = years_text(made.tables)
    error = f"at most {made.worst_error_min} min from the plan" if made.worst_error_min else "every minute as planned"
    if len(made.tables) == 1:
        return f"compiled in: {years} in one table of {made.n_bytes} bytes, {error}"
    return (
        f"compiled in: {years} in {len(made.tables)} tables of {made.n_bytes} bytes in all, {error}: "
        f"one table cannot hold these rules within {made.asked_error_min} min"
    )


def one_table_instead(made: FlashTables, configuration: Configuration) -> str:
    """What would make several tables one: more error, or nothing."""
    settings = chip_settings(configuration)
    one = one_with_more_error(made.plans, configuration.rules, settings, made.asked_error_min)
    if one is None:
        return f"no one table would do with {made.asked_error_min + 3} min of error either"
    return f"one table of {len(one.raw)} bytes would do with --worst-error {one.worst_error_min}"
