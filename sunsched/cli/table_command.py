"""`table`: a year, or years, worked out and written in the forms asked for."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from sunsched.cli import console
from sunsched.cli.options import AsJson, ConfigPath, Every, Force, Year, parsed_years, wanted_year
from sunsched.emit.forms import asked, forms_help, usual
from sunsched.table.layout import CODECS

if TYPE_CHECKING:
    from sunsched.plan.year import YearPlan


def table(
    config: ConfigPath,
    year: Year = None,
    years: Annotated[
        str | None, typer.Option("--years", help="One table for many years, such as 2027..2047.", metavar="A..B")
    ] = None,
    forms: Annotated[
        list[str] | None,
        typer.Option("--as", help=f"{forms_help()}; repeats. Default: {', '.join(usual())}."),
    ] = None,
    layout: Annotated[
        str,
        typer.Option(
            "--layout",
            help=f"{', '.join(CODECS)} or auto (the smallest). Default: plain, or auto for a memory.",
        ),
    ] = "",
    worst_error: Annotated[
        int, typer.Option("--worst-error", min=0, max=30, help="How far a minute may be from the plan [minutes].")
    ] = 0,
    room: Annotated[
        int | None,
        typer.Option(
            "--room",
            min=1,
            help="Refuse an image of more bytes. Default for a memory: the EEPROM of chip.board.",
            metavar="BYTES",
        ),
    ] = None,
    out: Annotated[
        str, typer.Option("--out", "-o", help="The folder to write into, or - for stdout (one --as).")
    ] = ".",
    force: Force = False,
    every: Every = False,
    as_json: AsJson = False,
) -> None:
    """Work out the year and write the tables: files whole or not at all, read back before they are written."""
    from sunsched.base.errors import UsageError
    from sunsched.config import toml_file
    from sunsched.job import files
    from sunsched.job.tables import Ask, tables

    wanted = asked(forms or usual())
    ask = Ask(_years(year, years), wanted, layout, worst_error, room)
    if out == "-" and (len(wanted) != 1 or as_json):
        raise UsageError("--out - writes one form to stdout: give one --as, without --json")
    made = tables(toml_file.read(config), ask, config, console.status)
    console.status("")
    if out == "-":
        for content in list(made.files.values())[:1]:
            console.data_bytes(content)
        console.warnings(made.warnings, every)
        return
    written = files.write_all({Path(out) / name: content for name, content in made.files.items()}, force)
    summary: dict[str, Any] = {"files": [str(path) for path in written]} | made.summary
    if as_json:
        console.data_json(summary)
    else:
        from sunsched.report.text.answer import Block, told
        from sunsched.report.text.answers import table_answer

        answer = table_answer(made.plans[0].site.name, _span(ask.years), summary, made.warnings)
        console.data(told(answer, [Block(_text(summary, made.plans[0]))], every))
        # With the year drawn, what is said no longer fits on a screen.
        if every and console.shows_pictures():
            from sunsched.report.text.terminal_year import lines

            console.picture("\n".join(lines(made.plans[0], console.width(), console.colours())))
    console.warnings(made.warnings, every)


def _years(year: int | None, years: str | None) -> tuple[int, ...]:
    from sunsched.base.errors import UsageError

    if year is not None and years is not None:
        raise UsageError("give --year 2027 for one year, or --years 2027..2047 for one table of many")
    return (wanted_year(year),) if years is None else parsed_years(years)


def _span(years: tuple[int, ...]) -> str:
    return f"{years[0]}" if len(years) == 1 else f"{years[0]} to {years[-1]}"


def _text(summary: dict[str, Any], plan: YearPlan) -> str:
    from sunsched.emit.c_header import clock_words

    lines = []
    for side, word in (("open", "opens"), ("close", "closes")):
        early, late = summary[f"earliest_{side}"], summary[f"latest_{side}"]
        if early and late:
            lines.append(
                f"  {word:7}{early['civil']} ({early['date']}) to {late['civil']} ({late['date']}), civil time"
            )
        counts = ", ".join(f"{reason} {count}" for reason, count in summary["reasons"][side].items())
        lines += console.folded(f"decided by: {counts}", "         ", "         ")
    # Civil times stand above, the chip's own in the file: an hour apart in summer for most.
    lines += console.folded(f"clock: {clock_words(plan)} ([chip] keeps)", "  ", "         ")
    if summary["layout"] != "plain" or "image_bytes" in summary:
        lines += _size_lines(summary)
    lines += [f"wrote {path}" for path in summary["files"]]
    return "\n".join(lines)


def _size_lines(summary: dict[str, Any]) -> list[str]:
    rules = ", ".join(summary["rules_applied_by_decoder"]) or "none"
    exact = "every minute as planned"
    if summary["worst_error_min"]:
        exact = f"at most {summary['worst_error_min']} min from the plan, {summary['days_inexact']} days not exact"
    sizes = f"{summary['data_bytes']} bytes of data and {summary['decoder_bytes']} of decoder on an ATmega328P"
    blocks = f"facts {summary['fact_bytes']}, settings {summary['setting_bytes']}, head and checksum the rest"
    lines = [
        f"layout {summary['layout']}: {sizes}; {exact}",
        f"image {summary['image_bytes']} bytes: rules {summary['rule_bytes']}, {blocks}",
        f"rules applied by the decoder: {rules}",
    ]
    return [line for text in lines for line in console.folded(text, "  ", "         ")]
