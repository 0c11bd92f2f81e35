"""`readback`: read a table back from any of its forms and compare it with a fresh plan."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any

import typer

from sunsched.base.civil_time import clock_text
from sunsched.cli import console
from sunsched.cli.options import AsJson
from sunsched.emit.forms import kinds_of_files, list_words

_SHOWN_DAYS = 20
_PROOFS = {
    "digest": "by the digest it carries",
    "checksum": "by the image's checksum",
    "made anew": "made anew and compared",
}


def readback(
    file: Annotated[str, typer.Argument(metavar="FILE", help=f"A table of ours: {list_words(kinds_of_files())}.")],
    config: Annotated[str | None, typer.Argument(metavar="[CONFIG]", help="Compare with a fresh plan of it.")] = None,
    worst_error: Annotated[int, typer.Option("--worst-error", min=0, help="Minutes a day may differ.")] = 0,
    as_json: AsJson = False,
) -> None:
    """Decode a table, show its year, and with CONFIG compare every day and prove the whole text.

    Ends with 0 when it is equal, 1 when it differs or its text cannot be proven, 65 when it is damaged.
    """
    from sunsched.job import readback as job

    table = job.read_file(file)
    differ: list[dict[str, Any]] | None = None
    proof = table.proof
    if config is not None:
        from sunsched.cli.configuration import configuration_in

        differ, proof = job.compared(table, configuration_in(config), config, worst_error)
    if as_json:
        report: dict[str, Any] = {"kind": table.kind, "years": list(table.minutes), "days": job.days_of(table)}
        report |= {"proof": proof, "within_min": table.within_min}
        if table.image is not None:
            report["layout"] = table.image.layout.name
        if differ is not None:
            report["differences"] = differ
        console.data_json(report)
    else:
        from sunsched.report.text.answer import Block, told
        from sunsched.report.text.answers import readback_answer
        from sunsched.report.text.plain import wrapped

        within, years = max(worst_error, table.within_min), list(table.minutes)
        span = f"{years[0]}" if len(years) == 1 else f"{years[0]} to {years[-1]}"
        verdict = "" if differ is None else _verdict(differ, proof, within)
        answer = readback_answer(table.kind, span, f"{years[-1]}-12-31", differ, proof or table.proof, within)
        texts = (
            "\n".join(wrapped(line, "", "  ") for line in text.split("\n")) for text in (verdict, job.words_of(table))
        )
        console.data(told(answer, [Block(text) for text in texts]))
    last_year = max(table.minutes)
    if last_year < dt.date.today().year:
        console.warn(f"its last day was {last_year}-12-31: make this year's with sunsched renew or table")
    if differ or (differ is not None and not proof):
        raise typer.Exit(1)


def _verdict(differ: list[dict[str, Any]], proof: str, within_min: int) -> str:
    if not differ:
        within = f"within {within_min} min of" if within_min else "equal to"
        if proof:
            return f"{within} a fresh plan on every day; the whole text is proven ({_PROOFS[proof]})"
        return (
            f"the minutes are {within} a fresh plan on every day, but the text beside them is not proven:\n"
            "it carries no digest and is not what this version writes; make the table again before it is compiled"
        )
    lines = [f"{len(differ)} differences from a fresh plan"]
    for entry in differ[:_SHOWN_DAYS]:
        parts = []
        if "what" in entry:
            parts.append(f"{entry['what']} is {entry['got']}, wanted {entry['wanted']}")
        for side in ("open_min", "close_min"):
            if side in entry:
                got, wanted = (_time(entry[side][key]) for key in ("got", "wanted"))
                parts.append(f"{side} is {got}, wanted {wanted}")
        if "facts" in entry:
            parts.append("facts differ")
        lines.append(f"  {entry.get('date', '')} {'; '.join(parts)}".rstrip())
    if len(differ) > _SHOWN_DAYS:
        lines.append(f"  and {len(differ) - _SHOWN_DAYS} more; --json lists all")
    return "\n".join(lines)


def _time(minute: int | None) -> str:
    return "shut" if minute is None else f"{clock_text(minute)} ({minute} min)"
