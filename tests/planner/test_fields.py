"""The fields are the models': none is missing, none made up, and what is typed becomes what TOML holds."""

from __future__ import annotations

import re
import tomllib
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sunsched.config import problems, toml_file
from sunsched.config.configuration import Configuration
from sunsched.planner.fields import CHOSEN, SLIDERS, fields, shown, typed, with_rivals
from tests.conftest import CONFIGS


def leaves(table: dict[str, Any], head: str = "") -> set[str]:
    """The dotted keys of a table that are no lists of sections."""
    found = set()
    for key, value in table.items():
        if isinstance(value, dict):
            found |= leaves(value, f"{head}{key}.")
        elif not (isinstance(value, list) and value and isinstance(value[0], dict)):
            found.add(f"{head}{key}")
    return found


def test_every_key_of_the_shipped_files_has_a_field() -> None:
    for path in CONFIGS:
        assert leaves(tomllib.loads(path.read_text())) <= set(fields()), path


def test_every_value_of_the_models_has_a_field() -> None:
    # Lists of sections are changed in the file itself; everything else that a file may hold is a field.
    lists = {"site.skyline", "season", "kept_in", "light_cell.reading"}
    for section, about in Configuration.model_fields.items():
        models = problems._models_in(about.annotation)
        for model in models if section not in lists else []:
            for key, field in model.model_fields.items():
                inner = problems._models_in(field.annotation)
                name = f"{section}.{field.alias or key}"
                if name not in lists:
                    assert name in fields() or (inner and any(one.startswith(f"{name}.") for one in fields())), name


def test_what_stands_first_are_fields_with_sliders_inside_their_range() -> None:
    for key in (key for keys in CHOSEN.values() for key in keys):
        assert key in fields()
    for name, (low, high, step) in SLIDERS.items():
        field = fields()[f"evening.{name}"]
        assert field.low is not None and field.high is not None
        assert field.low <= low < high <= field.high and 0 < step < high - low


def test_ranges_units_and_words_are_the_models() -> None:
    angle, panel, board = (fields()[key] for key in ("evening.depression_deg", "battery.panel_w", "chip.board"))
    assert (angle.kind, angle.low, angle.high, angle.unit) == ("number", -10, 18, "°")
    assert (panel.low, panel.high, panel.unit, panel.default) == (0, 1000, "W", 10.0)
    assert board.kind == "word" and "atmega328p" in board.choices
    assert fields()["motor.shunt_ohm"].above_low and fields()["morning.not_before"].kind == "time"
    assert fields()["site.latitude_deg"].needed and not fields()["site.name"].needed


def test_a_moment_says_the_angle_it_comes_to_and_the_sample_its_remark() -> None:
    table = {"site": {"latitude_deg": 47.0, "longitude_deg": 8.0, "zone": "Europe/Zurich"}}
    found = shown(table, toml_file.validated(table))
    assert found["evening.depression_deg"] == {"given": "", "holds": "6"}
    assert fields()["light_cell.sky_view"].remark == "share of the sky that the cell sees"


@pytest.mark.parametrize(
    ("key", "raw", "value"),
    [
        ("evening.depression_deg", " 4.5 ", 4.5),
        ("evening.depression_deg", "4,5", 4.5),
        ("evening.depression_deg", "steep", "steep"),
        ("evening.depression_deg", "1e999", "1e999"),
        ("evening.later_min", "-5", -5),
        ("evening.later_min", "4.5", 4.5),
        ("evening.later_min", "4,0", 4),
        ("site.latitude_deg", "44.62 S", -44.62),
        ("site.latitude_deg", "s44,62°", -44.62),
        ("site.latitude_deg", "44° 37' 12\" S", -44.62),
        ("site.latitude_deg", "44°37.2′N", 44.62),
        ("site.latitude_deg", "44.62 W", "44.62 W"),
        ("site.latitude_deg", "44° 61' S", "44° 61' S"),
        ("site.longitude_deg", "169.02° E", 169.02),
        ("site.longitude_deg", "0 W", 0.0),
        ("site.longitude_deg", "9 O", "9 O"),
        ("site.longitude_deg", "-9 W", "-9 W"),
        ("site.longitude_deg", "9" + " " * 9000 + "x", "9" + " " * 9000 + "x"),
        ("site.name", "44.62 S", "44.62 S"),
        ("evening.later_min", "1e9", 10**9),
        ("flock.birds", "99999999999", 99999999999),
        ("flock.birds", "9" * 30, "9" * 30),
        ("flock.birds", "twelve", "twelve"),
        ("evening.not_before", "7:30 pm", "19:30"),
        ("evening.not_before", "late", "late"),
        ("site.place_checked", "true", True),
        ("site.name", "true", "true"),
        ("evening.no_twilight", "light, shut", ["light", "shut"]),
        ("evening.later_min", "", None),
    ],
)
def test_what_is_typed_becomes_what_the_file_holds(key: str, raw: str, value: object) -> None:
    assert typed(key, raw) == value and type(typed(key, raw)) is type(value)


@settings(max_examples=50)
@given(st.sampled_from(sorted(fields())), st.text(max_size=30))
def test_anything_may_be_typed(key: str, raw: str) -> None:
    typed(key, raw)


def test_of_the_three_moments_the_last_one_stands() -> None:
    assert with_rivals({"evening.depression_deg": 5.0}) == {
        "evening.twilight": None,
        "evening.clear_sky_lux": None,
        "evening.depression_deg": 5.0,
    }
    assert with_rivals({"evening.depression_deg": None}) == {"evening.depression_deg": None}


def test_what_is_shown_reads_back_as_it_was() -> None:
    for path in CONFIGS:
        table = tomllib.loads(path.read_text())
        configuration = toml_file.read(path)
        for key, told in shown(table, configuration).items():
            place: Any = table
            for part in key.split("."):
                place = place.get(part, {}) if isinstance(place, dict) else {}
            if told["given"]:
                assert typed(key, told["given"]) == place, key
            else:
                assert place in ({}, ""), key
            # What holds for a key that the file leaves out is told too, where anything does.
            if re.search(r"later_min$|cell_from_min$", key):
                assert told["holds"]
