"""The `drive` and `battery` commands' work: a configuration's machine through a year and many winters."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sunsched.base.civil_time import date_of, year_days
from sunsched.base.errors import ConfigError, Problem
from sunsched.base.model import Settings
from sunsched.base.rounding import printed_values
from sunsched.config.configuration import Configuration
from sunsched.hardware.advice import Advice
from sunsched.hardware.battery_advice import battery_advice
from sunsched.hardware.battery_case import Place, Weather
from sunsched.hardware.battery_sums import BatterySums, battery_sums
from sunsched.hardware.drive import drive_spans, results_of
from sunsched.hardware.drive_advice import drive_advice
from sunsched.hardware.drive_sums import DriveSums, drive_sums
from sunsched.hardware.figures import Number, Span, ask_first, propagated
from sunsched.hardware.model import Model
from sunsched.hardware.parts import Battery, Door, Motor, Spool
from sunsched.hardware.solar_input import month_of_row
from sunsched.job.climate_file import MonthlyClimate, climate_in_record, read_climate
from sunsched.study.measured import MeasuredClimate
from sunsched.study.weather import assumed_climate, clearness_of_drawn, drawn_days


def drive_of(configuration: Configuration, name: str) -> DriveSums:
    """The drive's sums; `name` is the configuration's file, for errors.

    Raises ConfigError naming every section that is missing: what was built cannot be guessed.
    """
    door, spool, motor = configuration.door, configuration.spool, configuration.motor
    if door is None or spool is None or motor is None:
        sections = {"door": door, "spool": spool, "motor": motor}
        wanted = "the section with what was built (sunsched sample --with door,motor writes them)"
        missing = [Problem(name, f"[{key}]", "missing", wanted) for key, part in sections.items() if part is None]
        raise ConfigError(*missing)
    return drive_sums(door, spool, motor)


WEATHER_YEARS, WEATHER_SEED = 200, 1
DAYS, ROW_OF_LEAP_DAY = 365, 59
DAILY = ("start", "panel", "overflow", "used", "self_discharge", "unmet", "end")


@dataclass(frozen=True)
class BatteryYear:
    """The battery's sums with the year and the climate behind them."""

    site_name: str
    year: int
    first_day: int
    climate: MonthlyClimate
    climate_is_given: bool
    sums: BatterySums
    notes: tuple[str, ...]
    place: Place
    weather: Weather
    moves: Span
    model: Model


def battery_of(
    configuration: Configuration,
    year: int,
    name: str,
    climate_path: Path | None = None,
    weather_years: int = WEATHER_YEARS,
    weather_path: Path | None = None,
) -> BatteryYear:
    """Follow the battery through `weather_years` winters of the site's climate.

    climate_path   twelve months; weather_path   hourly light, from which clearness and its memory come

    Raises ConfigError where there is no [battery], and what `read_climate` raises.
    """
    if configuration.battery is None:
        wanted = "the section with the battery, panel and currents (sunsched sample --with battery writes one)"
        raise ConfigError(Problem(name, "[battery]", "missing", wanted))
    site = configuration.site
    climate, warned = _climate(site.latitude_deg, climate_path), tuple[str, ...]()
    model = configuration.model
    if weather_path is not None:
        measured, warned = climate_in_record(weather_path, configuration, year)
        climate = MonthlyClimate(measured.clearness, measured.temperature_c, _measured_words(measured))
        if "day_memory" not in model.model_fields_set:
            model = model.model_copy(update={"day_memory": measured.memory})
    given = climate_path is not None or weather_path is not None
    first_day, n_days = year_days(year)

    days = drawn_days(weather_years, DAYS, np.random.default_rng(WEATHER_SEED))

    def drawn(memory: Number) -> NDArray[np.float64]:
        clearness = clearness_of_drawn(climate.clearness, days, memory)
        if n_days == 366:
            # 29 February has the weather of the day before it
            clearness = np.insert(clearness.T, ROW_OF_LEAP_DAY, clearness[:, ROW_OF_LEAP_DAY - 1], axis=0).T
        return clearness

    hills = site.skyline
    place = Place(site.latitude_deg, tuple(h.azimuth_deg for h in hills), tuple(h.altitude_deg for h in hills))
    moves, notes = _moves(configuration)
    weather = Weather(drawn(model.day_memory), _warmer_c(climate, n_days), given, drawn)
    sums = battery_sums(configuration.battery, moves, place, weather, model)
    return BatteryYear(
        site.name, year, first_day, climate, given, sums, (*warned, *notes), place, weather, moves, model
    )


def sections_of(configuration: Configuration) -> dict[str, Settings]:
    """The sections of the machine, the default's where one is missing."""
    c = configuration
    return {"door": c.door or Door(), "spool": c.spool or Spool(), "motor": c.motor or Motor()}


def drive_advice_of(configuration: Configuration, name: str) -> Advice:
    """The drive's advised set; raises as `drive_of`."""
    c = configuration
    if c.door is None or c.spool is None or c.motor is None:
        drive_of(c, name)
    return drive_advice(c.door or Door(), c.spool or Spool(), c.motor or Motor())


def battery_advice_of(configuration: Configuration, work: BatteryYear) -> Advice:
    """The battery's advised set, for the year and the weather of `work`, which `battery_of` made."""
    before = tuple(one.name for one in work.sums.verdicts if one.state != "holds")
    battery = configuration.battery or Battery()
    return battery_advice(battery, work.moves, work.place, work.weather, before, work.model)


def _measured_words(measured: MeasuredClimate) -> str:
    return (
        f"{measured.source}: {measured.n_days} whole days, memory {measured.memory:.2f} ({measured.memory_low:.2f} .. "
        f"{measured.memory_high:.2f})"
    )


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
    mah = propagated(results_of, spans)["moves_mah_per_day"]
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
