"""`sample`: a commented configuration to start from, with questions for those who want them."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Annotated, TypeVar

import typer

from sunsched.base.civil_time import nearest_zone, zone_names
from sunsched.base.errors import UsageError
from sunsched.cli import console
from sunsched.cli.options import Force
from sunsched.config.sample import Answers

T = TypeVar("T")
_ASK_TIMES = 5
_TRY_YEAR = 2027  # the year that the sample's own text names


def sample(
    latitude: Annotated[float | None, typer.Option("--latitude", help="Degrees, north positive.")] = None,
    longitude: Annotated[float | None, typer.Option("--longitude", help="Degrees, east positive.")] = None,
    zone: Annotated[str | None, typer.Option("--zone", help="IANA zone, such as Europe/Zurich.")] = None,
    name: Annotated[str | None, typer.Option("--name", help="What the place is called.")] = None,
    ask: Annotated[bool, typer.Option("--ask", help="Ask for what is needed, in plain words.")] = False,
    output: Annotated[str, typer.Option("--out", "-o", "--output", help="The file to write; - is stdout.")] = "-",
    force: Force = False,
) -> None:
    """Write a commented configuration that works as it is."""
    from sunsched.config import sample as sample_text
    from sunsched.config import toml_file
    from sunsched.job import files, pipeline

    place = (latitude, longitude, zone)
    if not ask and any(part is not None for part in place) and any(part is None for part in place):
        raise UsageError("--latitude, --longitude and --zone go together: give all three, or --ask")
    answers = Answers()
    if ask:
        answers = _asked(answers)
    elif latitude is not None and longitude is not None and zone is not None:
        answers = Answers(name or "Hut", latitude, longitude, zone)
    elif name is not None:
        answers = Answers(name)
    # Checked before it becomes text: the message names a wrong place, and the sample works as it is.
    site = {"name": answers.name, "latitude_deg": answers.latitude_deg}
    site |= {"longitude_deg": answers.longitude_deg, "zone": answers.zone}
    toml_file.validated({"site": site}, "sample")
    text = sample_text.text(answers)
    pipeline.plan_of(toml_file.parsed(text.encode(), "sample"), _TRY_YEAR, "sample")
    if output == "-":
        console.data(text)
        return
    files.write_all({Path(output): text.encode()}, force, configuration=True)
    console.say(f"wrote {output}; next: sunsched table {output} --year {_TRY_YEAR}")


def _asked(defaults: Answers) -> Answers:
    console.say("A few questions; Enter takes what stands in brackets. A map on a phone shows latitude and longitude.")
    name = _until_valid("What do you call the place?", defaults.name, str)
    latitude = _until_valid("How far north is it, in degrees (south of the equator: minus)?", "", _degrees(89.9))
    longitude = _until_valid("How far east is it, in degrees (west of Greenwich: minus)?", "", _degrees(180))
    zone = _until_valid("Whose clock do you live by (continent/city, such as Europe/Zurich)?", "", _zone)
    earliest = _until_valid("Must it stay shut until some hour for the neighbours (07:00; empty: no)?", "", _clock)
    weekend = _until_valid("How many minutes later on Saturday and Sunday?", "0", _minutes)
    return replace(
        defaults,
        name=name,
        latitude_deg=latitude,
        longitude_deg=longitude,
        zone=zone,
        not_before=earliest,
        weekend_later_min=weekend,
    )


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
    if answer and not re.fullmatch(r"([01]\d|2[0-3]):[0-5]\d", answer):
        raise ValueError(f"'{answer}' is not a time such as 07:00")
    return answer


def _minutes(answer: str) -> int:
    if not answer.isdecimal():
        raise ValueError(f"'{answer}' is not a whole number of minutes")
    value = int(answer)
    if not 0 <= value <= 720:
        raise ValueError(f"{value} is not between 0 and 720")
    return value


def _until_valid(question: str, default: str, read: Callable[[str], T]) -> T:
    """Ask until the answer can be read, a few times at most."""
    for _ in range(_ASK_TIMES):
        try:
            return read(console.ask(question, default))
        except ValueError as error:
            console.say(f"  That cannot be: {error}.")
        except EOFError:
            raise UsageError("--ask needs answers on standard input; it ended early") from None
    raise UsageError("--ask got no usable answer; see sunsched sample --help for the options")
