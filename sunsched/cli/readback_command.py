"""`readback`: read a table back from any of its forms and compare it with a fresh plan."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from sunsched.cli import console
from sunsched.cli.options import AsJson
from sunsched.emit.forms import kinds_of_files, list_words

_SHOWN_DAYS = 20


def readback(
    file: Annotated[str, typer.Argument(metavar="FILE", help=f"A table of ours: {list_words(kinds_of_files())}.")],
    config: Annotated[str | None, typer.Argument(metavar="[CONFIG]", help="Compare with a fresh plan of it.")] = None,
    worst_error: Annotated[int, typer.Option("--worst-error", min=0, help="Minutes a day may differ.")] = 0,
    as_json: AsJson = False,
) -> None:
    """Decode a table, show its year, and with CONFIG compare every day: exit 0 equal, 1 different, 65 damaged."""
    from sunsched.job import readback as job

    table = job.read_file(file)
    differ: list[dict[str, Any]] | None = None
    if config is not None:
        from sunsched.config import toml_file
        from sunsched.job.pipeline import plan_of

        configuration = toml_file.read(config)
        differ = job.differences(table, lambda year: plan_of(configuration, year, config), worst_error)
    if as_json:
        found: dict[str, Any] = {"kind": table.kind, "years": list(table.minutes), "days": job.days_of(table)}
        if table.image is not None:
            found["layout"] = table.image.layout.name
        if differ is not None:
            found["differences"] = differ
        console.data_json(found)
    else:
        console.data(job.words_of(table))
        if differ is not None:
            console.data(_verdict(differ))
    if differ:
        raise typer.Exit(1)


def _verdict(differ: list[dict[str, Any]]) -> str:
    if not differ:
        return "equal to a fresh plan on every day"
    lines = [f"{len(differ)} differences from a fresh plan"]
    for entry in differ[:_SHOWN_DAYS]:
        parts = []
        if "what" in entry:
            parts.append(f"clock: {entry['what']} is {entry['got']}, wanted {entry['wanted']}")
        for side in ("open_min", "close_min"):
            if side in entry:
                got, wanted = (entry[side][k] if entry[side][k] is not None else "shut" for k in ("got", "wanted"))
                parts.append(f"{side} is {got}, wanted {wanted}")
        if "facts" in entry:
            parts.append("facts differ")
        lines.append(f"  {entry.get('date', '')} {'; '.join(parts)}".rstrip())
    if len(differ) > _SHOWN_DAYS:
        lines.append(f"  and {len(differ) - _SHOWN_DAYS} more; --json lists all")
    return "\n".join(lines)
