"""The JSON Schema takes what the program takes, and refuses the mistakes that a schema can know."""

from __future__ import annotations

import datetime as dt
import json
import tomllib
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import given

from sunsched.base.errors import ConfigError
from sunsched.config.sample import Answers, text
from sunsched.config.schema import schema
from sunsched.config.toml_file import parsed, validated
from tests.config.broken import BROKEN, SITE
from tests.conftest import CONFIGS
from tests.support.command_line import sunsched_bytes
from tests.support.strategies import configurations

SCHEMA = schema()
CHECKER = jsonschema.Draft202012Validator(SCHEMA)
# Mistakes that show only across keys, or in a year that has no 29 February; all others a schema knows.
ACROSS_KEYS = {
    *("twilight_of_the_other_side", "limits_cross", "season_limits_cross", "seasons_overlap", "kept_in_mixed"),
    *("kept_in_backwards", "kept_in_impossible_date", "cell_minutes_cross", "cell_dark_above_light"),
}
NOT_TOML = {
    *("not_toml", "dotted_keys_twice", "latitude_with_a_comma", "both_degrees_with_a_comma", "time_without_quotes"),
    *("another_mistake_before_the_comma", "zone_without_quotes"),
}
# JSON has no such number; jsonschema compares it as Python does, and no comparison with it holds.
NOT_JSON = {"latitude_nan"}


def as_json(toml: str) -> Any:
    """A TOML text as JSON says it: dates and times as their texts."""
    return json.loads(json.dumps(tomllib.loads(toml), default=lambda value: value.isoformat()))


def mistakes(data: Any) -> list[str]:
    """Where the schema finds fault."""
    return [error.json_path for error in CHECKER.iter_errors(data)]


def test_it_is_a_schema_of_the_draft_it_names() -> None:
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


def test_the_shipped_configurations_are_taken(config_path: Path) -> None:
    assert mistakes(as_json(config_path.read_text(encoding="utf-8"))) == []


@pytest.mark.parametrize("latitude_deg", [47.0, 69.0])
def test_the_sample_is_taken_and_names_the_schema(latitude_deg: float) -> None:
    sample = text(Answers(latitude_deg=latitude_deg))
    assert sample.startswith("#:schema ")
    assert mistakes(as_json(sample)) == []


@pytest.mark.parametrize("name", sorted(set(BROKEN) - NOT_TOML - NOT_JSON))
def test_a_broken_configuration_is_refused_where_a_schema_can_know(name: str) -> None:
    found = mistakes(as_json(BROKEN[name][0]))
    assert bool(found) is (name not in ACROSS_KEYS), found


@pytest.mark.parametrize(
    ("keys", "good"),
    [
        ('[morning]\nnot_before = "06:30"', True),
        ('[morning]\nnot_before = "24:00"', False),
        ('[morning]\nnot_before = "6:30"', False),
        ('[[season]]\nname = "a"\nfrom = "12-10"\nto = "02-29"', True),
        ('[[season]]\nname = "a"\nfrom = "12-32"\nto = "02-01"', False),
        ('[[season]]\nname = "a"\nfrom = "11-31"\nto = "02-01"', False),
        ('[[season]]\nname = "a"\nfrom = "2027-12-10"\nto = "02-01"', False),
        ('[[kept_in]]\nfrom = "2027-12-10"\nto = "2028-02-29"', True),
        ("[[kept_in]]\nfrom = 2027-12-10\nto = 2028-02-29", True),
        ('[[kept_in]]\nfrom = "12-10"\nto = "12-24"', True),
        ('[[kept_in]]\nfrom = "2027-13-10"\nto = "2027-13-11"', False),
        ('[evening]\nno_twilight = ["light", "light"]', False),
    ],
)
def test_times_and_dates_as_the_program_takes_them(keys: str, good: bool) -> None:
    assert (mistakes(as_json(f"{SITE}{keys}\n")) == []) is good
    try:
        parsed(f"{SITE}{keys}\n".encode(), "x")
    except ConfigError:
        assert not good
    else:
        assert good


def test_every_day_of_the_year_is_a_date_and_no_other() -> None:
    days = {(dt.date(2028, 1, 1) + dt.timedelta(days=n)).strftime("%m-%d") for n in range(366)}
    for month in range(14):
        for day in range(33):
            date = f"{month:02d}-{day:02d}"
            data = {"site": as_json(SITE)["site"], "season": [{"name": "a", "from": date, "to": "01-01"}]}
            assert (mistakes(data) == []) is (date in days), date


@given(configurations())
def test_what_the_program_takes_and_writes_is_taken(table: dict[str, Any]) -> None:
    written = validated(table).as_written()
    for data in (table, written):
        assert mistakes(json.loads(json.dumps(data))) == []


def test_the_command_prints_it_and_writes_it(tmp_path: Path) -> None:
    shown = sunsched_bytes("schema", cwd=tmp_path)
    printed = json.loads(shown.stdout)
    assert printed.pop("$comment").startswith("sunsched-text:")
    assert printed == SCHEMA
    for _ in range(2):  # its own file is replaced without --force
        assert sunsched_bytes("schema", "-o", "x.json", cwd=tmp_path).returncode == 0
    assert (tmp_path / "x.json").read_bytes() == shown.stdout


def test_the_keys_of_every_shipped_configuration_are_known() -> None:
    sections = {key for path in CONFIGS for key in as_json(path.read_text(encoding="utf-8"))}
    assert len(sections) > 8
    assert sections <= set(SCHEMA["properties"])
