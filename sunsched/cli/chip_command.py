"""`chip`: what the chip in the hut says, its clock, its tables, its log, over the serial line."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Annotated

import typer

from sunsched.cli import console
from sunsched.cli.options import AsJson, Force

Port = Annotated[str | None, typer.Option("--port", help="The serial port. Default: the only one with a board.")]

chip = typer.Typer(
    name="chip",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="Read and set the chip over its serial line. Opening the port resets most boards: the door goes on as before.",
)


@chip.command("state")
def state(port: Port = None, as_json: AsJson = False) -> None:
    """Say where the door is, what the chip's time and tables are, and which alarms stand."""
    from sunsched.job.chip.port import opened
    from sunsched.job.chip.state import state_of, state_text

    with opened(port) as line:
        result = state_of(line)
    if as_json:
        console.data_json(result.plain())
    else:
        console.data(state_text(result))


@chip.command("set-clock")
def set_clock(
    port: Port = None,
    yes: Annotated[bool, typer.Option("--yes", help="This computer's clock is right, whatever the chip says.")] = False,
    as_json: AsJson = False,
) -> None:
    """Set the chip's clock from this computer's, for the offset that the chip keeps, and read it back."""
    from sunsched.job.chip import set_clock as work
    from sunsched.job.chip.port import opened
    from sunsched.job.chip.state import state_of

    def sure(change_min: int) -> bool:
        if yes:
            return True
        try:
            question = f"The chip's time is proven by the light; this is a change of {change_min:+d} min. Set it?"
            return console.ask(question, "no").lower() in ("y", "yes")
        except EOFError:
            return False

    with opened(port) as line:
        before = state_of(line)
        done = work.set_clock(line, before, sure, lambda: dt.datetime.now(dt.UTC))
    if as_json:
        was = None if done.before is None else done.before.isoformat(sep=" ")
        now = None if done.after is None else done.after.isoformat(sep=" ")
        console.data_json({"sent": done.sent, "before": was, "after": now, "asked_again": done.asked})
    else:
        was = "no time known" if done.before is None else f"{done.before}"
        console.data(f"set: {done.after} (the chip keeps UTC{before.offset_min / 60:+g} h all year); before: {was}")


@chip.command("load")
def load(
    what: Annotated[str, typer.Argument(metavar="CONFIG|IMAGE", help="A configuration, or a table image.")],
    port: Port = None,
    year: Annotated[
        int | None, typer.Option("--year", help="Of a configuration. Default: this year, from November on the next.")
    ] = None,
    worst_error: Annotated[
        int, typer.Option("--worst-error", min=0, max=10, help="How far a minute may be from the plan [minutes].")
    ] = 0,
    force: Annotated[bool, typer.Option("--force", help="Load another site's table, or a year that is over.")] = False,
    as_json: AsJson = False,
) -> None:
    """Load a table into the chip: checked, written beside the one in use, read back and compared."""
    from sunsched.job.chip import load as work
    from sunsched.job.chip.port import opened
    from sunsched.job.chip.state import state_of
    from sunsched.job.chip.words import IMAGE_ROOM_BYTES

    today = dt.date.today()
    wanted = work.parsed_year(year, today)
    loading = work.load_of(what, wanted, worst_error, IMAGE_ROOM_BYTES)  # before the port: mistakes cost no reset
    if loading.doubt is not None:
        console.warnings((loading.doubt,))
    with opened(port) as line:
        before = state_of(line)
        this_year = today.year if before.when is None else before.when.year
        work.check(loading, before, force, this_year)
        done = work.put(line, before, loading.raw, _progress)
    image = loading.image
    if as_json:
        console.data_json(work.plain(done, loading))
        return
    last = image.first_year + image.n_years - 1
    years = str(last) if image.n_years == 1 else f"{image.first_year} to {last}"
    exact = "every minute as planned" if not loading.error_min else f"at most {loading.error_min} min from the plan"
    console.data(f"loaded: {years} into slot {done.slot}, {len(loading.raw)} bytes, read back and equal; {exact}")
    replaced = before.slots[done.slot]
    if replaced is not None and done.begun_at < len(loading.raw):
        console.say(f"it takes the place of the table of {replaced.first_year}, which served no day of today's year")
    if 0 < done.begun_at < len(loading.raw):
        console.say(f"an earlier load had come to byte {done.begun_at}; this one went on from there")


def _progress(steps: Iterable[int], total: int) -> Iterator[int]:
    return console.progress(steps, "loading", total)


@chip.command("log")
def log(
    out: Annotated[str, typer.Option("--out", "-o", metavar="FILE", help="The file to write, or - for stdout.")],
    port: Port = None,
    force: Force = False,
    as_json: AsJson = False,
) -> None:
    """Fetch the last events that the chip remembers, as a log that `replay` reads."""
    from dataclasses import asdict

    from sunsched.job import files
    from sunsched.job.chip import ring
    from sunsched.job.chip.port import opened
    from sunsched.job.chip.state import state_of

    with opened(port) as line:
        result = state_of(line)
        events = ring.events(line, result, result.when or dt.datetime.now())
    text = ring.log_text(events, result)
    if out != "-":
        files.write_all({Path(out): text.encode("ascii")}, force)
    if as_json:
        console.data_json([asdict(event) | {"at": None if event.at is None else str(event.at)} for event in events])
    elif out == "-":
        console.data(text)
    else:
        console.data(f"{len(events)} events of {result.site} written to {out}")


@chip.command("watch")
def watch(
    port: Port = None,
    seconds: Annotated[float | None, typer.Option("--seconds", help="How long. Default: until Ctrl-C.")] = None,
) -> None:
    """Print the door's log as it comes."""
    from sunsched.job.chip.port import opened

    until = None if seconds is None else time.monotonic() + seconds
    with opened(port, console.data) as line:
        line.send("v")
        try:
            while until is None or time.monotonic() < until:
                for _ in line.lines(0.5):
                    pass
        except KeyboardInterrupt:
            return
