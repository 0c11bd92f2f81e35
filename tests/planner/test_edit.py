"""Keys changed in a text: comments and all other lines stay, and what cannot be changed so is refused."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sunsched.base.errors import ConfigError
from sunsched.config import sample
from sunsched.config.toml_file import toml_of
from sunsched.planner.edit import changed
from sunsched.planner.fields import fields
from tests.conftest import CONFIGS

TEXTS = [path.read_text() for path in CONFIGS] + [sample.text(sample.Answers()), '[site]\nname = "A"\n', ""]
# A key of every kind and depth, with values that TOML writes as they are.
VALUES: dict[str, Any] = {"number": 4.5, "whole": 12, "text": 'a "b" # ü', "word": "x", "time": "21:30"}
VALUES |= {"flag": True, "words": ["light", "shut"]}


def comments(text: str) -> list[str]:
    """Every remark of a text, wherever it stands."""
    return sorted(line[line.index("#") :].rstrip() for line in text.split("\n") if "#" in line)


@settings(max_examples=60)
@given(st.sampled_from(TEXTS), st.dictionaries(st.sampled_from(sorted(fields())), st.booleans(), max_size=6))
def test_only_what_was_asked_for_changes(text: str, asked: dict[str, bool]) -> None:
    values = {key: VALUES[fields()[key].kind] if put else None for key, put in asked.items()}
    after = changed(text, values, "hut.toml")
    wanted, table = toml_of(text), toml_of(after)
    for dotted, value in values.items():
        *sections, key = dotted.split(".")
        place = wanted
        for section in sections:
            place = place.setdefault(section, {}) if value is not None else place.get(section, {})
        place.pop(key, None)
        if value is not None:
            place[key] = value
    assert table == wanted
    for remark in comments(text):
        assert remark in after
    untouched = [line for line in text.split("\n") if not any(key.rpartition(".")[2] in line for key in values)]
    assert [line for line in after.split("\n") if line in set(untouched)][: len(untouched)] == untouched or all(
        line in after for line in untouched
    )


def test_a_new_key_stands_in_its_section_and_a_removed_one_leaves_its_remark() -> None:
    text = sample.text(sample.Answers())
    after = changed(text, {"evening.depression_deg": 5.0, "evening.twilight": None}, "hut.toml")
    lines = after.split("\n")
    at = lines.index("depression_deg = 5.0")
    section = [line for line in lines[:at] if line.startswith("[")][-1]
    assert section.startswith("[evening]")
    assert '# or "sunset", "nautical", "astronomical"; or one of the two lines below instead' in lines
    assert not any(line.startswith('twilight = "civil"') for line in lines[lines.index(section) : at])


def test_nothing_asked_leaves_every_byte() -> None:
    for text in TEXTS:
        assert changed(text, {}, "x") == text
        same = {"site.name": toml_of(text)["site"]["name"]} if text else {}
        assert changed(text, same, "x") == text


@pytest.mark.parametrize(
    ("text", "key"),
    [("evening = {later_min = 3}\n", "evening.later_min"), ("evening.later_min = 3\n", "evening.later_min")],
)
def test_other_ways_of_writing_a_section_are_understood(text: str, key: str) -> None:
    assert toml_of(changed(text, {key: 4}, "x")) == {"evening": {"later_min": 4}}
    more = changed(text, {"evening.depression_deg": 4.0}, "x")
    assert toml_of(more) == {"evening": {"later_min": 3, "depression_deg": 4.0}}


@pytest.mark.parametrize("text", ["[site", 'site = "a text"\n', "a = 1\na = 2\n"])
def test_what_cannot_be_changed_is_refused_with_the_line_to_write(text: str) -> None:
    with pytest.raises(ConfigError, match=r"wanted by hand: site\.latitude_deg = 4\.5"):
        changed(text, {"site.latitude_deg": 4.5}, "hut.toml")


def test_a_new_part_of_a_section_stands_below_it_so_that_the_section_can_be_changed_again() -> None:
    text = '[evening]\ntwilight = "civil"\ncell_from_min = -5\n\n# Birds kept.\n[flock]\nbirds = 4\n'
    after = changed(text, {"evening.weekday_later_min.fri": 12, "evening.cell_from_min": None}, "hut.toml")
    assert (
        after
        == '[evening]\ntwilight = "civil"\n[evening.weekday_later_min]\nfri = 12\n\n# Birds kept.\n[flock]\nbirds = 4\n'
    )
