"""The questions of `sample --ask`: each is asked again until its answer works, so that no answer is lost."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import TypeVar

from sunsched.base.civil_time import nearest_zone, zone_names
from sunsched.base.errors import ConfigError, SunschedError, UsageError
from sunsched.cli import console
from sunsched.config import sample, sample_parts, toml_file
from sunsched.config.hints import number_meant, time_meant
from sunsched.config.sample import Answers
from sunsched.config.sample_parts import PARTS, SECTIONS, Key, Section, parts_in
from sunsched.job import pipeline
from sunsched.plan.place import doubtful_place
from sunsched.plan.site import Site

T = TypeVar("T")
_ASK_TIMES = 5


def asked(defaults: Answers, year: int) -> Answers:
    """The keeper's answers. Raises UsageError when standard input ends early or no answer can be used."""
    console.say("A few questions; Enter takes what stands in brackets. A map on a phone shows latitude and longitude.")
    answers = _place(defaults, year)
    question = "Must it stay shut until some hour for the neighbours (07:00; empty: no)?"
    answers = _until_valid(question, "", lambda text: _working(replace(answers, not_before=_clock(text)), year))
    question = "How many minutes later on Saturday and Sunday?"
    answers = _until_valid(
        question, "0", lambda text: _working(replace(answers, weekend_later_min=_minutes(text)), year)
    )
    words = ", ".join(part for part in PARTS if _asks(part))
    question = f"What do you want to describe now ({words}, all; commas between; empty: nothing yet)?"
    # What is needed has been answered: a list of answers may end here.
    wanted = _until_valid(question, "", lambda text: [part for part in parts_in(text) if _asks(part)], at_end="")
    if wanted:
        console.say("Enter leaves out what you do not know: it is assumed then, and every sum says so.")
    return replace(answers, written={one.name: _section(one) for one in SECTIONS if one.part in wanted})


def _asks(part: str) -> bool:
    return any(key.ask for section in SECTIONS if section.part == part for key in section.keys)


def _place(defaults: Answers, year: int) -> Answers:
    """Name, coordinates and zone, asked again together where they cannot belong together."""
    answers = defaults
    for _ in range(_ASK_TIMES):
        answers = Answers(
            name=_until_valid("What do you call the place?", answers.name, str),
            latitude_deg=_until_valid(
                "How far north is it, in degrees (south of the equator: minus)?", "", _degrees(89.9)
            ),
            longitude_deg=_until_valid("How far east is it, in degrees (west of Greenwich: minus)?", "", _degrees(180)),
            zone=_until_valid("Whose clock do you live by (continent/city, such as Europe/Zurich)?", "", _zone),
        )
        try:
            answers = _working(answers, year)
        except ValueError as error:
            console.say(f"  That cannot be: {error}. Once more:")
            continue
        site = Site(latitude_deg=answers.latitude_deg, longitude_deg=answers.longitude_deg, zone=answers.zone)
        doubt = doubtful_place(site)
        if doubt is None:
            return answers
        if _until_valid(f"  {doubt.text}. Is the place right (yes, no)?", "no", _yes):
            return replace(answers, place_checked=True)
    raise UsageError("--ask got no place that works; see sunsched sample --help for the options")


def _working(answers: Answers, year: int) -> Answers:
    """The answers, if a year can be planned with them. Raises ValueError with what is wrong."""
    try:
        pipeline.plan_of(toml_file.parsed(sample.text(answers).encode(), ""), year)
    except SunschedError as error:
        raise ValueError(str(error)) from None
    return answers


def _section(section: Section) -> dict[str, str]:
    """The keys of a section that the keeper knows, as TOML writes them."""
    written: dict[str, str] = {}
    for key in section.keys:
        if key.ask:
            value = _until_valid(key.ask, "", partial(_value, section, key, written))
            written |= {key.name: value} if value else {}
    return written


def _value(section: Section, key: Key, written: dict[str, str], text: str) -> str:
    """The answer as TOML writes it, '' for an empty one. Raises ValueError with what was wanted."""
    if not text:
        return ""
    if key.value.startswith('"'):
        value = json.dumps(text.strip().strip("\"'"))
    else:
        value = number_meant(text)
        if not value:
            raise ValueError(f"'{text}' is not a number")
    site = sample_parts.section_text("site", {"latitude_deg": "0.0", "longitude_deg": "0.0", "zone": '"Etc/UTC"'})
    try:
        toml_file.parsed((site + sample_parts.section_text(section.name, {**written, key.name: value})).encode(), "")
    except ConfigError as error:
        raise ValueError(f"'{text}'; wanted {error.problems[0].wanted}") from None
    return value


def _yes(answer: str) -> bool:
    if answer.lower() in ("yes", "y", "no", "n"):
        return answer.lower() in ("yes", "y")
    raise ValueError(f"'{answer}' is neither yes nor no")


def _degrees(most: float) -> Callable[[str], float]:
    def read(answer: str) -> float:
        try:
            value = float(answer.replace(",", ".").rstrip("°"))
        except ValueError:
            raise ValueError(f"'{answer}' is not a number such as 47.318") from None
        if not abs(value) <= most:
            raise ValueError(f"{answer} is not between -{most:g} and {most:g}")
        return value

    return read


def _zone(answer: str) -> str:
    if answer not in zone_names():
        near = nearest_zone(answer)
        raise ValueError(f"'{answer}' is not a zone" + (f", the nearest is {near}" if near else ""))
    return answer


def _clock(answer: str) -> str:
    if not answer:
        return ""
    meant = time_meant(answer)
    if not meant:
        raise ValueError(f"'{answer}' is not a time such as 07:00")
    return meant


def _minutes(answer: str) -> int:
    if not answer.isdecimal():
        raise ValueError(f"'{answer}' is not a whole number of minutes")
    value = int(answer)
    if not 0 <= value <= 720:
        raise ValueError(f"{value} is not between 0 and 720")
    return value


def _until_valid(question: str, default: str, read: Callable[[str], T], at_end: str | None = None) -> T:
    """Ask until the answer can be read, a few times at most; `at_end` answers where the input has ended."""
    for _ in range(_ASK_TIMES):
        try:
            return read(console.ask(question, default))
        except ValueError as error:
            console.say(f"  That cannot be: {error}.")
        except EOFError:
            if at_end is not None:
                return read(at_end)
            raise UsageError("--ask needs answers on standard input; it ended early") from None
    raise UsageError("--ask got no usable answer; see sunsched sample --help for the options")
