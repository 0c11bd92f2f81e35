"""What a report shows beside the year where it is asked for: comparison, fault nights, noted nights, table's proof."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from sunsched.base.civil_time import date_of
from sunsched.job import pipeline
from sunsched.job.pipeline import Built
from sunsched.report.comparison_charts import LastBird
from sunsched.report.comparison_section import comparison_section, fault_section, nights_section
from sunsched.report.html import Section

WEATHER_YEARS, WEATHER_SEED = 100, 1


def comparison_sections(work: Built, weather_years: int = WEATHER_YEARS) -> tuple[Section, ...]:
    """Light alone, clock alone and both on the same weather years; and what faults do."""
    from sunsched.job import fault_comparison
    from sunsched.job.comparison import FOLLOW_LIGHT, LATE_MINUTE, comparison_of
    from sunsched.job.comparison_chart import trade_offs
    from sunsched.job.comparison_tables import plain

    c, year = work.configuration, date_of(work.plan.first_day).year
    found = comparison_of(c, year, weather_years, WEATHER_SEED)
    panels = trade_offs(found) if c.flock.birds else []
    faults = fault_comparison.fault_comparison_of(c, year, weather_years, WEATHER_SEED, FOLLOW_LIGHT, LATE_MINUTE)
    return comparison_section(plain(found), panels), fault_section(fault_comparison.plain(faults))


def nights_of_log(work: Built, log: Path, name: str = "") -> Section:
    """The noted nights of a list against the plans of their own years.

    Nights on which the plan keeps the door down are left out. Raises what `angle_of` raises.
    """
    from sunsched.job.angle_fit import angle_of

    fit = angle_of(work.configuration, log)
    plans = {night.date.year: pipeline.plan_of(work.configuration, night.date.year, name) for night in fit.nights.noted}
    found = []
    for night, utc_min in zip(fit.nights.noted, fit.nights.utc_min.tolist(), strict=True):
        plan = plans[night.date.year]
        closing = float(plan.utc_min(plan.close_min)[plan.row(night.date)])
        if not np.isnan(closing):
            found.append(LastBird(night.date.timetuple().tm_yday - 1, utc_min - closing))
    return nights_section(found, fit.chance_next_later, fit.warnings)


def table_proof(work: Built) -> dict[str, str]:
    """Size of the plain table, packed and read back here, day by day."""
    from sunsched.table.choose import choose
    from sunsched.table.layout import Layout

    table = choose([work.plan], work.configuration.rules, layout=Layout.PLAIN)
    return {
        "Days": str(work.plan.n_days),
        "Minutes, plain layout": f"{table.data_bytes} bytes",
        "With rules, facts and checksum": f"{len(table.raw)} bytes",
        "Decoder on an ATmega328P": f"{table.decoder_bytes} bytes, day index to minute",
        "Packed and read back": f"{table.days_inexact} days differ, worst {table.worst_error_min} min",
    }
