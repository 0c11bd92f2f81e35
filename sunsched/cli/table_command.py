"""`table`: a year worked out and written in the forms asked for."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from sunsched.cli import console
from sunsched.cli.options import AsJson, ConfigPath, Force, Year


def table(
    config: ConfigPath,
    year: Year,
    forms: Annotated[
        list[str] | None, typer.Option("--as", help="c, json or csv; repeats. Default: all three.")
    ] = None,
    out: Annotated[str, typer.Option("--out", help="The folder to write into, or - for stdout (one --as).")] = ".",
    force: Force = False,
    as_json: AsJson = False,
) -> None:
    """Work out the year and write the tables: files whole or not at all."""
    from sunsched.base.errors import UsageError
    from sunsched.config import toml_file
    from sunsched.job import files, pipeline

    wanted = list(dict.fromkeys(forms or ("c", "json", "csv")))
    unknown = [form for form in wanted if form not in pipeline.FORMS]
    if unknown:
        raise UsageError(f"--as is '{unknown[0]}'; wanted one of {', '.join(pipeline.FORMS)}")
    work = pipeline.built(toml_file.read(config), year, config)
    if out == "-":
        if len(wanted) != 1 or as_json:
            raise UsageError("--out - writes one form to stdout: give one --as, without --json")
        console.data_bytes(pipeline.texts_of(work, wanted)[wanted[0]])
        return
    written = files.write_all(pipeline.files_of(work, wanted, Path(out)), force)
    summary: dict[str, Any] = {"files": [str(path) for path in written]} | pipeline.summary_of(work.plan)
    if as_json:
        console.data_json(summary)
    else:
        console.data(_text(summary, work.plan.site.name, year))
    for warning in work.plan.warnings:
        console.warn(warning)


def _text(summary: dict[str, Any], site: str, year: int) -> str:
    lines = [f"{site}, {year}: {summary['days']} days"]
    for side, word in (("open", "opens"), ("close", "closes")):
        early, late = summary[f"earliest_{side}"], summary[f"latest_{side}"]
        if early and late:
            lines.append(
                f"  {word:7}{early['civil']} ({early['date']}) to {late['civil']} ({late['date']}), civil time"
            )
        counts = ", ".join(f"{reason} {count}" for reason, count in summary["reasons"][side].items())
        lines.append(f"         decided by: {counts}")
    lines += [f"wrote {path}" for path in summary["files"]]
    return "\n".join(lines)
