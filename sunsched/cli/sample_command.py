"""`sample`: a commented configuration to start from, with questions for those who want them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from sunsched.base.errors import CannotWriteError, UsageError
from sunsched.cli import console
from sunsched.cli.options import Force
from sunsched.config import sample_parts
from sunsched.config.sample import Answers
from sunsched.config.sample_parts import PARTS

_MACHINE = {"door", "motor", "battery"}  # parts whose figures a motor runs by
_TRY_YEAR = 2027  # the year that the sample's own text names


def sample(
    latitude: Annotated[float | None, typer.Option("--latitude", help="Degrees, north positive.")] = None,
    longitude: Annotated[float | None, typer.Option("--longitude", help="Degrees, east positive.")] = None,
    zone: Annotated[str | None, typer.Option("--zone", help="IANA zone, such as Europe/Zurich.")] = None,
    name: Annotated[str | None, typer.Option("--name", help="What the place is called.")] = None,
    with_parts: Annotated[
        list[str] | None,
        typer.Option(
            "--with",
            metavar="PARTS",
            help=f"Write these sections active: {', '.join(PARTS)}, all; commas between, or repeat.",
        ),
    ] = None,
    ask: Annotated[bool, typer.Option("--ask", help="Ask for what is needed, in plain words.")] = False,
    output: Annotated[str, typer.Option("--out", "-o", "--output", help="The file to write; - is stdout.")] = "-",
    force: Force = False,
) -> None:
    """Write a commented configuration that works as it is."""
    from sunsched.cli import sample_questions
    from sunsched.cli.configuration import ask_about_place
    from sunsched.config import sample as sample_text
    from sunsched.config import toml_file
    from sunsched.job import files, pipeline
    from sunsched.report.text.answers import sample_answer

    place = (latitude, longitude, zone)
    if not ask and any(part is not None for part in place) and any(part is None for part in place):
        raise UsageError("--latitude, --longitude and --zone go together: give all three, or --ask")
    try:
        wanted = sample_parts.parts_in(",".join(with_parts or ()))
    except ValueError as error:
        raise UsageError(f"--with: {error}") from None
    if ask and output != "-" and not force:
        files.refuse_foreign(Path(output), b"", configuration=True)  # before the questions, not after the last
    answers = Answers()
    if ask:
        answers = sample_questions.asked(answers, _TRY_YEAR)
    elif latitude is not None and longitude is not None and zone is not None:
        answers = Answers(name or "Hut", latitude, longitude, zone)
    elif name is not None:
        answers = Answers(name)
    for part in wanted:
        answers = replace(answers, written={**sample_parts.core_of(part), **answers.written})
    # Checked before it becomes text: the message names a wrong place, and the sample works as it is.
    site = {"name": answers.name, "latitude_deg": answers.latitude_deg}
    site |= {"longitude_deg": answers.longitude_deg, "zone": answers.zone}
    if not ask:
        ask_about_place(toml_file.validated({"site": site}, "sample"), "sample")
    text = sample_text.text(answers)
    pipeline.plan_of(toml_file.parsed(text.encode(), "sample"), _TRY_YEAR, "sample")
    if _MACHINE & set(wanted) and not ask:
        console.warn(
            "the figures of the machine are an example's: measure yours first; "
            "firmware takes what stands there as your machine's"
        )
    if output == "-":
        console.data(text)
        return
    try:
        files.write_all({Path(output): text.encode()}, force, configuration=True)
    except CannotWriteError:
        if ask:
            console.data(text)  # the answers are not lost
        raise
    console.answer(sample_answer(answers.name, answers.latitude_deg, answers.longitude_deg, answers.zone, output))
