"""A sample shows every key that there is; each line of it works, and so does every sample of options and answers."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from typer.testing import CliRunner

from sunsched.base.civil_time import WEEKDAYS
from sunsched.base.errors import CannotWriteError
from sunsched.cli.app import app
from sunsched.config import sample_parts
from sunsched.config.configuration import Configuration
from sunsched.config.sample import Answers, text
from sunsched.config.sample_parts import PARTS, SECTIONS, core_of, parts_in
from sunsched.config.schema import schema
from sunsched.config.toml_file import parsed
from sunsched.job import files
from sunsched.job.drive_and_battery import drive_of
from sunsched.job.pipeline import plan_of

ROOT = Path(__file__).parents[2]
HEAD = re.compile(r"(?:# )?\[{1,2}([\w.]+)\]{1,2}\s*(?:#.*)?")
LINE = re.compile(r"(# )?(\w+) = (.*?)\s*(?:# .*)?")


def lines_of(sample: str) -> list[tuple[str, bool, str, str]]:
    """(section, whether commented, key, value) of each line of a sample that holds a key."""
    found, section = [], ""
    for line in sample.splitlines():
        head, key = HEAD.fullmatch(line), LINE.fullmatch(line)
        if head is not None:
            section = head[1]
        elif key is not None and section:
            found.append((section, key[1] is not None, key[2], key[3]))
    return found


def keys_of_the_schema() -> dict[str, set[str]]:
    """Every section by its dotted name with its keys, from the schema alone."""
    made = schema()
    found: dict[str, set[str]] = {}

    def walk(name: str, part: dict[str, Any]) -> None:
        found[name] = set(part["properties"])
        for key, about in part["properties"].items():
            inner = about.get("$ref") or about.get("items", {}).get("$ref")
            if inner:
                walk(f"{name}.{key}", made["$defs"][inner.rpartition("/")[2]])

    for section, about in made["properties"].items():
        inner = about.get("$ref") or about.get("items", {}).get("$ref")
        walk(section, made["$defs"][inner.rpartition("/")[2]])
    return found


def test_every_key_of_the_schema_can_be_found() -> None:
    sample, known = text(Answers()), keys_of_the_schema()
    assert len(known) > 20
    shown: dict[str, set[str]] = {}
    for section, _, key, _ in lines_of(sample):
        shown.setdefault(section, set()).add(key)
    of_weekdays = {section for section, keys in known.items() if keys == set(WEEKDAYS)}
    for section, keys in known.items():
        if section.startswith(("season.morning", "season.evening")):
            assert "[season.evening]               # and [season.morning]: any key of [evening] and [morning]" in sample
        elif section in of_weekdays:
            assert f"[{section}]" in sample
        else:
            inner = {name.rpartition(".")[2] for name in known if name.rpartition(".")[0] == section}
            assert keys - inner <= shown[section], section
    heads = [line for line in sample.splitlines() if "[morning.weekday_" in line]
    assert all(any(day in head for head in heads) for day in WEEKDAYS)
    assert len(of_weekdays) >= 6


def test_no_key_of_the_sample_is_unknown_and_each_value_of_it_is_taken() -> None:
    """Each commented line, brought to life alone in its section."""
    known = keys_of_the_schema()
    base: dict[str, dict[str, Any]] = {
        "site": {"latitude_deg": 47.318, "longitude_deg": 8.949, "zone": "Europe/Zurich"},
        "season": {"name": "x", "from": "04-15", "to": "07-10"},
        "kept_in": {"from": "2027-11-20", "to": "2027-12-15"},
        "site.skyline": {"azimuth_deg": 110, "altitude_deg": 7},
        "pins": {},
        "light_cell.reading": {"at": "2027-03-01 18:20", "counts": 520},
    }
    checked = 0
    for section, commented, key, value in lines_of(text(Answers())):
        assert key in known[section], f"{section}.{key}"
        keys = {**base.get(section, {}), key: tomllib.loads(f"v = {value}")["v"]}
        if (section, key) == ("pins", "motor_current"):
            keys["hand_down"] = "PD3"  # the line says that its pin has to be free
        assert commented or section in ("site", "chip", "morning", "evening", "warn"), section
        Configuration.model_validate(placed(section, keys, base["site"]))
        checked += 1
    assert checked > 120


def placed(section: str, keys: dict[str, Any], site: dict[str, Any]) -> dict[str, Any]:
    """A configuration with keys in one section; those of which there may be several get one entry."""
    outer, _, inner = section.partition(".")
    body: Any = keys if not inner else {inner: [keys] if inner in ("skyline", "reading") else keys}
    if outer == "season" and inner:
        body |= {"name": "x", "from": "04-15", "to": "07-10"}
    if outer in ("season", "kept_in"):
        body = [body]
    if outer == "site":
        body = {**site, **body}
    return {"site": site, outer: body}


@given(
    st.lists(st.sampled_from(PARTS), unique=True),
    st.sampled_from(((47.3, 8.9, "Europe/Zurich"), (69.4, 24.4, "Europe/Oslo"), (-45.9, 169.5, "Pacific/Auckland"))),
    st.sampled_from(("", "07:00")),
    st.sampled_from((0, 45)),
)
@settings(max_examples=25)
def test_every_sample_works(parts: list[str], place: tuple[float, float, str], not_before: str, weekend: int) -> None:
    written = {name: keys for part in parts for name, keys in core_of(part).items()}
    answers = Answers("Hut", *place, not_before=not_before, weekend_later_min=weekend, written=written)
    configuration = parsed(text(answers).encode(), "sample")
    plan = plan_of(configuration, 2027)
    assert not [warned for warned in plan.warnings if "weekday_later_min" in str(warned)]
    for section in (one for one in SECTIONS if not one.several):
        keys = getattr(configuration, section.name).model_fields_set if section.part in parts else set()
        assert keys == set(written.get(section.name, {})), section.name
    if {"door", "motor"} <= set(parts):
        assert not [judged for judged in drive_of(configuration, "").verdicts if judged.state == "fails"]


def test_what_messages_say_of_the_sample_is_there() -> None:
    said = 0
    for path in (ROOT / "sunsched").rglob("*.py"):
        for parts in re.findall(r"sunsched sample --with ([\w,]+)", path.read_text(encoding="utf-8")):
            assert parts_in(parts), path
            said += 1
    assert said >= 2


def run(*words: str, answers: str = "") -> tuple[int, str, str]:
    """Exit code, standard output and standard error."""
    done = CliRunner().invoke(app, ["sample", *words], input=answers)
    return done.exit_code, done.stdout, done.stderr


def test_with_writes_sections_active() -> None:
    code, out, _ = run("--with", "door,battery", "--with", "clock")
    table = tomllib.loads(out)
    assert code == 0
    assert {"door", "spool", "battery", "clock"} <= set(table)
    assert not {"motor", "light_cell", "flock", "model", "pins"} & set(table)
    assert table["battery"]["capacity_ah"] == 7
    assert set(tomllib.loads(run("--with", "all")[1])) >= {one.name for one in SECTIONS if not one.several}
    code, out, err = run("--with", "doors")
    assert (code, out) == (2, "")
    assert err == "error: --with: 'doors' is not one of cell, clock, door, motor, battery, flock, model, pins, all\n"


PLACE = "My hut\n53,945\n-9.086\nEurope/Dublin\n"


def test_questions_are_asked_again_and_no_answer_is_lost() -> None:
    machine = [
        "door motor,battery",
        "1",
        "350",
        "2,4",
        "3",
        "x",
        "30",
        *[""] * 2,
        *["", "24", "", "", "", "", ""],
        "",
        "12",
    ]
    answers = [PLACE.strip(), "7.30", "40", *machine, *[""] * 6]
    code, out, err = run("--ask", answers="\n".join(answers) + "\n")
    assert code == 0, err
    table = tomllib.loads(out)
    assert table["site"] == {"name": "My hut", "latitude_deg": 53.945, "longitude_deg": -9.086, "zone": "Europe/Dublin"}
    assert table["morning"]["not_before"] == "07:30"
    assert table["morning"]["weekday_not_before"] == {"sat": "08:10", "sun": "08:10"}
    assert table["door"] == {"travel_mm": 350, "plate_kg": 2.4, "guide_friction_n": 3}
    assert table["spool"] == {"core_diameter_mm": 30}
    assert table["motor"] == {"volts": 24}
    assert table["battery"] == {"capacity_ah": 12}
    assert "That cannot be: '1'; wanted a number from 50 to 3000." in err
    assert "That cannot be: 'x' is not a number." in err


def test_a_place_that_cannot_be_is_asked_for_again() -> None:
    wrong = "My hut\n53.945\n170\nEurope/Dublin\n"
    code, out, err = run("--ask", answers=f"{wrong}{PLACE}\n\n\n")
    assert code == 0, err
    assert tomllib.loads(out)["site"]["longitude_deg"] == -9.086
    assert "Once more:" in err


def test_a_file_that_is_there_is_told_before_the_questions(tmp_path: Path) -> None:
    hut = tmp_path / "hut.toml"
    hut.write_text("mine\n")
    code, _, err = run("--ask", "-o", str(hut), answers="")
    assert code == 73
    assert "What do you call" not in err
    assert hut.read_text() == "mine\n"


def test_answers_that_cannot_be_written_are_printed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> None:
        raise CannotWriteError("the disk is full")

    monkeypatch.setattr(files, "write_all", full)
    code, out, err = run("--ask", "-o", str(tmp_path / "hut.toml"), answers=f"{PLACE}\n\n\n")
    assert code == 73
    assert err.endswith("error: the disk is full\n")
    assert tomllib.loads(out)["site"]["latitude_deg"] == 53.945


def test_parts_by_name() -> None:
    assert parts_in("battery, door") == ["battery", "door"]
    assert parts_in("spool,light_cell") == ["door", "cell"]
    assert parts_in("") == []
    assert parts_in("all") == list(PARTS)
    with pytest.raises(ValueError, match="'x' is not one of"):
        parts_in("x")
    assert sample_parts.padded("a = 1") == "a = 1"
