"""`--write` of the commands that advise a set of values."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from sunsched.cli import console

if TYPE_CHECKING:
    from sunsched.hardware.advice import Advice

WriteAdvised = Annotated[
    bool, typer.Option("--write", help="Put the advised values into CONFIG; its comments and all else stay.")
]


def write_advised(config: str, advice: Advice) -> None:
    """Put the set into the configuration's file and say so; nothing is written where nothing is advised."""
    from sunsched.job.advised import put_in

    if not advice.settings:
        console.say("nothing to write: no values are advised")
        return
    path = put_in(config, advice.settings)
    console.say(f"wrote {path}: {advice.words()}")
    console.say("Build it so, and measure it, before the door is relied on: the file now describes that machine.")
