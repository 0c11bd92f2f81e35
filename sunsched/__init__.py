"""When a pop-hole door should open and close, for one spot on Earth, every day of the year.

The names below are the library's public face, described with examples in docs/api.md. Each is loaded when it is first
asked for: `import sunsched` by itself loads neither numpy nor pydantic. The commands call the same functions.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sunsched.base.errors import ConfigError as ConfigError
    from sunsched.base.errors import SunschedError as SunschedError
    from sunsched.config.configuration import Configuration as Configuration
    from sunsched.config.toml_file import read as read_configuration
    from sunsched.config.toml_file import validated as make_configuration
    from sunsched.job.compact import compact as pack_table
    from sunsched.job.comparison import comparison_of as compare_strategies
    from sunsched.job.one_day import day_steps as explain_day
    from sunsched.job.pipeline import plan_of as plan_year
    from sunsched.job.readback import read_bytes as unpack_table
    from sunsched.job.sun_list import sun_list as sun_events
    from sunsched.job.tables import Ask as TableRequest
    from sunsched.job.tables import tables as make_tables
    from sunsched.plan.columns import plan_columns as plan_columns
    from sunsched.plan.site import Site as Site
    from sunsched.report.text.comparison_tables import plain as comparison_figures
    from sunsched.sky.daylight import clear_sky_lux_at as clear_sky_lux_at

__version__ = "0.1.0"

__all__ = [
    "ConfigError",
    "Configuration",
    "Site",
    "SunschedError",
    "TableRequest",
    "clear_sky_lux_at",
    "compare_strategies",
    "comparison_figures",
    "explain_day",
    "make_configuration",
    "make_tables",
    "pack_table",
    "plan_columns",
    "plan_year",
    "read_configuration",
    "sun_events",
    "unpack_table",
]

# The module of each name; tests/test_library.py compares this list with the imports above.
_PLACES = {
    "ConfigError": "base.errors:ConfigError",
    "Configuration": "config.configuration:Configuration",
    "Site": "plan.site:Site",
    "SunschedError": "base.errors:SunschedError",
    "TableRequest": "job.tables:Ask",
    "clear_sky_lux_at": "sky.daylight:clear_sky_lux_at",
    "compare_strategies": "job.comparison:comparison_of",
    "comparison_figures": "report.text.comparison_tables:plain",
    "explain_day": "job.one_day:day_steps",
    "make_configuration": "config.toml_file:validated",
    "make_tables": "job.tables:tables",
    "pack_table": "job.compact:compact",
    "plan_columns": "plan.columns:plan_columns",
    "plan_year": "job.pipeline:plan_of",
    "read_configuration": "config.toml_file:read",
    "sun_events": "job.sun_list:sun_list",
    "unpack_table": "job.readback:read_bytes",
}

# Hidden from type checkers: to them a name that is not imported above does not exist.
if not TYPE_CHECKING:

    def __getattr__(name: str) -> Any:
        """Load a public name when it is first asked for. Raises AttributeError for any other."""
        if name not in _PLACES:
            raise AttributeError(f"module 'sunsched' has no attribute '{name}'")
        import importlib

        module, _, attribute = _PLACES[name].partition(":")
        value = getattr(importlib.import_module(f"sunsched.{module}"), attribute)
        globals()[name] = value
        return value


def __dir__() -> list[str]:
    """The public names, loaded or not."""
    return sorted({*globals(), *_PLACES})
