"""Every field of the decision core says what it holds, in the same words in C and in Python."""

import re
from pathlib import Path

import pytest

import sunsched.controller as controller

HERE = Path(controller.__file__).parent
C_TEXT = (HERE / "c" / "door_decision.h").read_text(encoding="utf-8")
PAIRS = [
    ("door_inputs_t", "door_state.py", "Inputs"),
    ("door_outputs_t", "door_state.py", "Outputs"),
    ("door_kept_t", "door_state.py", "KeptOver"),
    ("door_t", "door_state.py", "DoorState"),
    ("door_settings_t", "door_settings.py", "DoorSettings"),
]


def c_comments(structure: str) -> list[tuple[str, str]]:
    """(field, comment) of a structure; a line that declares two fields gives a field that Python has not."""
    body = re.search(r"typedef struct \{\n([^}]*)\} " + structure + ";", C_TEXT)
    assert body is not None
    return re.findall(r"^ +u?int\d+_t ([^;]+); *(?:/\* (.*) \*/)?$", body[1], flags=re.MULTILINE)


def python_comments(file: str, name: str) -> list[tuple[str, str]]:
    """(field, comment) of a dataclass."""
    text = (HERE / file).read_text(encoding="utf-8")
    body = text.partition(f"\nclass {name}:\n")[2].partition("\n\n\n")[0]
    return re.findall(r"^    (\w+): (?:int|[IU]\d+) = [^#\n]*?(?:  # (.*))?$", body, flags=re.MULTILINE)


@pytest.mark.parametrize(("structure", "file", "name"), PAIRS, ids=[name for _, _, name in PAIRS])
def test_each_field_has_its_comment_in_the_same_words(structure: str, file: str, name: str) -> None:
    fields = python_comments(file, name)
    assert len(fields) > 8
    assert fields == c_comments(structure)
    assert [field for field, comment in fields if not comment] == []


@pytest.mark.parametrize(("structure", "file", "name"), PAIRS, ids=[name for _, _, name in PAIRS])
def test_a_field_of_time_or_level_states_its_unit(structure: str, file: str, name: str) -> None:
    units = {"_s": r"\[s\b", "_min": r"\[min\b|minute of the day", "_day": r"\[days", "_counts": r"\[counts"}
    missing = [
        field
        for field, comment in python_comments(file, name)
        for ending, unit in units.items()
        if field.endswith(ending) and not re.search(unit, comment)
    ]
    assert missing == []
