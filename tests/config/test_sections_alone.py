"""A file's sections checked one by one give what the whole model gives, and are refused where that refuses."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sunsched.base.model import Settings
from sunsched.config import configuration as module
from sunsched.config.configuration import Configuration
from sunsched.plan.rules import AS_WRITTEN, MomentPatch, MomentRule, WeekdayLater, WeekdayLimits
from tests.conftest import CONFIGS
from tests.support.strategies import configurations

SECTIONS = [
    type(part)
    for _, part in Configuration.of_sections(
        {"site": {"latitude_deg": 47.0, "longitude_deg": 8.0, "zone": "Europe/Zurich"}}, AS_WRITTEN
    )
    if isinstance(part, Settings)
]
WITH_DEFAULTS = [*(kind for kind in SECTIONS if kind.__name__ != "Site"), WeekdayLater, WeekdayLimits, MomentPatch]
JUNK: st.SearchStrategy[Any] = st.sampled_from(
    (0, 1.5, -9999, 99_999, True, "", "a", "12:00", [], {}, {"mon": 3}, "civil", None)
)


def told(model: Settings) -> dict[str, Any]:
    """Every value with what was written, whole models as well as theirs."""
    return {"": model.model_fields_set} | {
        key: told(value) if isinstance(value, Settings) else value for key, value in model
    }


def dumped(c: Configuration) -> dict[str, Any]:
    """The same settings through pydantic's own writer, with a season's keys as they were written."""
    whole = c.model_dump(mode="python", exclude_none=True, exclude={"season"})
    return whole | c._seasons()


def both(table: dict[str, Any]) -> tuple[Configuration | None, Configuration | None]:
    """The configuration by its sections, and by the whole model; None where it is refused."""
    found: list[Configuration | None] = []
    for read in (Configuration.of_sections, Configuration.model_validate):
        try:
            found.append(read(table, context=AS_WRITTEN))
        except ValueError:
            found.append(None)
    return found[0], found[1]


def assert_the_same(table: dict[str, Any]) -> None:
    alone, whole = both(table)
    assert (alone is None) == (whole is None)
    if alone is None or whole is None:
        return
    assert alone == whole
    assert told(alone) == told(whole)
    assert list(alone.as_written().items()) == list(dumped(whole).items())


@given(configurations())
def test_a_possible_table_is_the_same_configuration(table: dict[str, Any]) -> None:
    assert_the_same(table)


@given(configurations(), st.data())
def test_a_changed_value_is_refused_by_both_or_by_none(table: dict[str, Any], data: st.DataObject) -> None:
    section = data.draw(st.sampled_from([key for key, value in table.items() if isinstance(value, dict)]))
    key = data.draw(st.sampled_from([*table[section], "not_before", "cell_from_min", "nothing_such"]))
    table[section] = {**table[section], key: data.draw(JUNK)}
    assert_the_same(table)


SPANS = st.fixed_dictionaries(
    {"from": st.sampled_from(["03-01", "12-20", "2027-02-01", "13-01", 5])},
    optional={
        "to": st.sampled_from(["03-09", "01-06", "2027-02-03", "02-30"]),
        "name": st.sampled_from(["cold", "", 3]),
        "why": st.sampled_from(["fox", "x" * 201]),
        "morning": st.sampled_from(
            [{}, {"later_min": 9}, {"later_min": 9999}, {"twilight": "civil", "clear_sky_lux": 3.0}, 7]
        ),
        "evening": st.sampled_from([{}, {"not_before": "17:00"}, {"nothing_such": 1}]),
        "nothing_such": st.just(1),
    },
)
LISTS: st.SearchStrategy[Any] = st.one_of(st.lists(st.one_of(SPANS, JUNK), max_size=3), JUNK, SPANS)
PINS = st.dictionaries(
    st.sampled_from(["pulse", "raise_motor", "motor_speed", "light_cell", "motor_current", "nothing_such"]),
    st.sampled_from(["PB0", "PB1", "PD6", "PC0", "PC1", "PD2", "PA1", "GP3", "x", 7]),
    max_size=3,
)


@given(
    st.fixed_dictionaries(
        {"site": st.just({"latitude_deg": 47.0, "longitude_deg": 8.0, "zone": "Europe/Zurich"})},
        optional={
            "season": LISTS,
            "kept_in": LISTS,
            "pins": st.one_of(PINS, JUNK),
            "chip": st.sampled_from(
                [{}, {"board": "atmega2560"}, {"board": "rp2040"}, {"board": "attiny85"}, {"board": "x"}]
            ),
        },
    )
)
def test_lists_and_pins_are_the_same_or_refused_by_both(table: dict[str, Any]) -> None:
    assert_the_same(table)


@pytest.mark.parametrize("count", [100, 101, 500, 501])
def test_more_spans_than_are_checked_one_by_one_are_the_same(count: int) -> None:
    site = {"latitude_deg": 47.0, "longitude_deg": 8.0, "zone": "Europe/Zurich"}
    span = {"from": "2027-02-01", "to": "2027-02-03"}
    assert_the_same({"site": site, "kept_in": [span] * count})
    assert_the_same({"site": site, "season": [{"name": "a", "from": "02-01", "to": "02-01"}] * count})


@pytest.mark.parametrize("path", CONFIGS, ids=lambda path: path.stem)
def test_a_shipped_file_is_the_same_configuration(path: Path) -> None:
    table = tomllib.loads(path.read_text(encoding="utf-8"))
    assert_the_same(table)
    for left_out in table:
        assert_the_same({key: value for key, value in table.items() if key != left_out})


@pytest.mark.parametrize("kind", WITH_DEFAULTS, ids=lambda kind: kind.__name__)
def test_an_unwritten_section_is_that_of_an_empty_one(kind: type[Settings]) -> None:
    made, read = kind.unwritten(), kind.model_validate({})
    assert made == read
    assert told(made) == told(read)
    assert module._section_as_written(made) == read.model_dump(exclude_none=True)


def test_the_rule_of_a_side_names_its_twilight() -> None:
    assert MomentRule.unwritten().model_fields_set == {"twilight"}
