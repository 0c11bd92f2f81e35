"""`schema`: the configuration's JSON Schema, for editors and other programs."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from sunsched.cli import console
from sunsched.cli.options import Force


def schema(
    out: Annotated[str, typer.Option("--out", "-o", help="The file to write; - is stdout.")] = "-",
    force: Force = False,
) -> None:
    """Print the JSON Schema (draft 2020-12) of the configuration: an editor that reads it completes and checks keys."""
    from sunsched.base.text_digest import EMPTY, with_digest
    from sunsched.config.schema import schema as schema_of
    from sunsched.job import files

    text = with_digest(json.dumps({**schema_of(), "$comment": EMPTY}, ensure_ascii=False, indent=1) + "\n")
    if out == "-":
        console.data(text)
        return
    files.write_all({Path(out): text.encode()}, force)
    from sunsched.report.text.answer import Answer

    console.answer(
        Answer(
            f"The configuration's schema is in {out}.",
            "It hangs on this version: write it again after an upgrade.",
            f"Next: a first line '#:schema {out}' in the configuration, for your editor.",
        )
    )
