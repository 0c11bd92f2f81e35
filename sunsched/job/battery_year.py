"""The `battery` command's work: a configuration and a climate -> the battery through a year and many winters."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import date_of, year_days
from sunsched.base.errors import ConfigError, Problem
from sunsched.base.rounding import printed_values
from sunsched.config.configuration import Configuration
from sunsched.hardware.battery_sums import BatterySums, Place, Weather, battery_sums
from sunsched.hardware.drive_results import drive_results, drive_spans
from sunsched.hardware.figures import ask_first
from sunsched.hardware.parts import Door, Motor, Spool
from sunsched.hardware.solar_input import month_of_row
from sunsched.hardware.spread import Span, propagated
from sunsched.job.climate_file import MonthlyClimate, read_climate
from sunsched.job.files import write_all
from sunsched.job.picture_file import checked_ending, origin_of, picture
from sunsched.study.weather import assumed_climate, daily_clearness

WEATHER_YEARS, WEATHER_SEED = 200, 1
ROW_OF_LEAP_DAY = 59
DAILY = ("start", "panel", "overflow", "used", "self_discharge", "unmet", "end")


@dataclass(frozen=True)
class BatteryYear:
    """The battery's sums with the year and the climate they were held against."""

    site_name: str
    year: int
    first_day: int
    climate: MonthlyClimate
    climate_is_given: bool
    sums: BatterySums
    notes: tuple[str, ...]


def battery_of(
    configuration: Configuration,
    year: int,
    name: str,
    climate_path: Path | None = None,
    weather_years: int = WEATHER_YEARS,
) -> BatteryYear:
    """Follow the battery through `weather_years` winters of the site's climate.

    Raises ConfigError where there is no [battery], and what `read_climate` raises.
    """
    if configuration.battery is None:
        wanted = "the section with the battery, panel and currents (sunsched sample shows one)"
        raise ConfigError(Problem(name, "[battery]", "missing", wanted))
    site = configuration.site
    climate = _climate(site.latitude_deg, climate_path)
    first_day, n_days = year_days(year)
    clearness = daily_clearness(climate.clearness, weather_years, WEATHER_SEED)
    if n_days == 366:
        # 29 February has the weather of the day before it
        clearness = np.insert(clearness, ROW_OF_LEAP_DAY, clearness[:, ROW_OF_LEAP_DAY - 1], axis=1)
    hills = site.skyline
    place = Place(site.latitude_deg, tuple(h.azimuth_deg for h in hills), tuple(h.altitude_deg for h in hills))
    moves, notes = _moves(configuration)
    weather = Weather(clearness, _warmer_c(climate, n_days), climate_path is not None)
    sums = battery_sums(configuration.battery, moves, place, weather)
    return BatteryYear(site.name, year, first_day, climate, climate_path is not None, sums, notes)


def _climate(latitude_deg: float, path: Path | None) -> MonthlyClimate:
    if path is not None:
        return read_climate(path, latitude_deg)
    return MonthlyClimate(
        assumed_climate(latitude_deg).monthly_clearness, None, "assumed for the latitude, not verified"
    )


def _warmer_c(climate: MonthlyClimate, n_days: int) -> NDArray[np.float64]:
    """Each day's warmth above the coldest weeks; without temperatures the cold is kept all year."""
    if climate.temperature_c is None:
        return np.zeros(n_days)
    mean = np.asarray(climate.temperature_c)
    return np.asarray((mean - mean.min())[month_of_row(n_days)])


def _moves(configuration: Configuration) -> tuple[Span, tuple[str, ...]]:
    """Charge of one raising and one lowering [Ah]; the default machine's where a section is missing."""
    door, spool, motor = configuration.door, configuration.spool, configuration.motor
    spans, _ = drive_spans(door or Door(), spool or Spool(), motor or Motor())
    mah = propagated(drive_results, spans)["moves_mah_per_day"]
    missing = [key for key, part in (("door", door), ("spool", spool), ("motor", motor)) if part is None]
    notes = (f"no [{'], ['.join(missing)}]: the default's moves are counted",) if missing else ()
    return Span(mah.value / 1000.0, mah.low / 1000.0, mah.high / 1000.0), notes


def days_of(work: BatteryYear, weather_year: int) -> list[dict[str, Any]]:
    """Each day's charge [Ah] in one of the weather years; end = start + panel - overflow - used - self + unmet."""
    years = work.sums.stated.years
    shares = {name: float(value) for name, value in work.sums.used_ah.items()}
    columns = {name: getattr(years, name)[weather_year] for name in DAILY}
    return [
        {
            "date": date_of(work.first_day + row).isoformat(),
            **{f"{name}_ah": float(column[row]) for name, column in columns.items()},
            **{f"used_{name}": value for name, value in shares.items()},
        }
        for row in range(years.end.shape[1])
    ]


def winters_of(work: BatteryYear) -> dict[str, Any]:
    """What the many winters came to, as plain values."""
    sums, outcome = work.sums, work.sums.stated.outcome
    lowest = int(np.argmin(outcome.lowest_ah))
    low_row = int(outcome.lowest_row[lowest])
    return {
        "weather_years": sums.stated.n_years,
        "chance_over_limit": list(sums.chance(sums.stated.n_over_limit)),
        "chance_flat": list(sums.chance(sums.stated.n_flat)),
        "chance_over_limit_inputs_drawn": list(sums.chance(sums.drawn.n_over_limit)),
        "chance_flat_inputs_drawn": list(sums.chance(sums.drawn.n_flat)),
        "most_days_over_limit": int(outcome.over_limit_days.max()),
        "longest_flat_run_days": int(outcome.longest_flat_run.max()),
        "longest_run_not_full_days": int(outcome.longest_unfilled_run.max()),
        "lowest_ah": float(outcome.lowest_ah[lowest]),
        "lowest_date": date_of(work.first_day + low_row).isoformat(),
        "years_full_again": int(np.count_nonzero(outcome.refilled)),
    }


def plain(work: BatteryYear) -> dict[str, Any]:
    """Everything as plain values, for JSON; chances are [share, low, high] with 95 % limits."""
    sums = work.sums
    values = {
        "site": work.site_name,
        "year": work.year,
        "climate": {"clearness": list(work.climate.clearness), "source": work.climate.source},
        "figures": [figure.plain() for figure in sums.figures],
        "worst_month": sums.worst_month,
        "verdicts": [judged.plain() for judged in sums.verdicts],
        "winters": winters_of(work),
        "changes": [{**asdict(change), "settings": dict(change.settings)} for change in sums.changes],
        "at_disconnect": list(sums.at_disconnect),
        "ask_first": list(ask_first(sums.verdicts, sums.assumptions)),
        "assumptions": [assumed.plain() for assumed in sums.assumptions],
        "notes": list(work.notes),
        "days_typical_year": days_of(work, sums.typical),
        "days_worst_year": days_of(work, sums.worst),
        "cautions": list(sums.cautions),
    }
    return dict(printed_values(values))


def write_chart(work: BatteryYear, path: Path, force: bool = False) -> Path:
    """Draw the charge held and write it as `.svg` or `.png`; a foreign file is left alone unless `force`."""
    from sunsched.report.battery_chart import battery_chart

    drawing = battery_chart(work.sums, work.site_name)
    content = picture(drawing, checked_ending(path, "--chart"), origin_of("battery --chart"))
    write_all({path: content}, force)
    return path
