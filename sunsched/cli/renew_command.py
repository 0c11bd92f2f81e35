"""`renew`: see to it that the tables cover the coming days; for cron and systemd timers."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sunsched.cli import console
from sunsched.cli.options import AsJson, out_folder, parsed_date
from sunsched.emit.forms import FORMS, KEPT, asked, list_words, usual

if TYPE_CHECKING:
    from sunsched.job.renewal.renewal import Outcome


def renew(
    configs: Annotated[list[str], typer.Argument(metavar="CONFIG", help="One or more configurations.")],
    out: Annotated[Path, out_folder("The folder that holds a folder of tables for each site.")],
    ahead: Annotated[
        int, typer.Option("--ahead", min=0, max=3660, help="How many days from today must be covered.")
    ] = 60,
    forms: Annotated[
        list[str] | None,
        typer.Option(
            "--as",
            help=f"{list_words([*(f for f in FORMS if f != KEPT), 'program'])} beside {KEPT}, which is always kept; "
            "repeats. "
            f"Default: {list_words((f for f in usual() if f != KEPT), 'and')}.",
        ),
    ] = None,
    check: Annotated[bool, typer.Option("--check", help="Only tell what is due; write nothing.")] = False,
    today: Annotated[
        str | None, typer.Option("--today", metavar="DATE", help="Take this date for today, such as 2027-11-03.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Make the tables of the coming days where they are missing or out of date, prove them, and replace all at once.

    Says nothing when all is right. The tables lie in a folder of the site's name; the generation before stays beside
    it. Ends with 0 when all is right or was renewed, 1 when something is due (--check) or a proof failed.
    """
    from sunsched.job.renewal import program, renewal

    tables = [form for form in forms or usual() if form != program.NAME]
    wanted = asked([KEPT, *(tables or usual())])
    maker = None
    if program.NAME in (forms or ()):
        from sunsched.report.bench import folder

        maker = folder.renewed
    date = renewal.today() if today is None else parsed_date(today)
    outcomes = renewal.renew(configs, renewal.Ask(out, date, ahead, wanted, maker, until_told=True), check)
    if as_json:
        console.data_json([asdict(outcome) for outcome in outcomes])
    for outcome in outcomes:
        _tell(outcome, as_json)
    renewal.told(outcomes)
    worst = max((outcome.exit_code for outcome in outcomes), default=0)
    if worst:
        raise typer.Exit(worst)


def _tell(outcome: Outcome, as_json: bool) -> None:
    if outcome.status == "refused":
        for remark in outcome.remarks:
            console.warn(remark)
        console.error(outcome.error)
        return
    if outcome.repaired and outcome.status == "renewed":
        console.warn(
            f"{outcome.folder}: {'; '.join(outcome.reasons)}; made anew and proved, what was there lies in "
            f"{outcome.folder}.previous"
        )
    for remark in outcome.remarks:
        console.warn(remark)
    if as_json or outcome.status == "right":
        return
    if outcome.status == "due" or not outcome.repaired:
        from sunsched.report.text.answers import renew_answer

        # Tables of the years may be right while the program is new.
        what = "" if outcome.same_minutes else "table" if outcome.years else "program"
        console.data("\n".join(renew_answer(outcome.folder, outcome.status, outcome.reasons, what).lines()))
