"""The commands, each loaded only when it is called, so that `--help` loads none of them."""

from __future__ import annotations

import difflib
import functools
import importlib
import os
import sys
from collections.abc import Callable
from typing import Any, NamedTuple

import typer
from typer.core import TyperGroup

from sunsched import __version__
from sunsched.cli.examples import examples_text


class Entry(NamedTuple):
    """The module of a command, and its line in the list of commands."""

    place: str
    summary: str


COMMANDS = {
    "sample": Entry("sample_command:sample", "Write a commented configuration to start from."),
    "schema": Entry("schema_command:schema", "Print the configuration's JSON Schema, for editors."),
    "settings": Entry("settings_command:settings", "Show the configuration as understood, every default filled in."),
    "twilight": Entry("twilight_command:twilight", "List sunrise, sunset and twilights for a year."),
    "day": Entry("day_command:day", "Show every step that led to one day's two minutes."),
    "today": Entry("today_command:today", "Say for each hut: door up or down, next move and why, what to look for."),
    "planner": Entry("planner_command:planner", "Open a page that redraws the year with every change of a setting."),
    "table": Entry("table_command:table", "Work out a year and write the tables the chip reads."),
    "readback": Entry("readback_command:readback", "Read a table back and compare it with a fresh plan."),
    "firmware": Entry("firmware_command:firmware", "Write the whole door program for the chip as a folder."),
    "boards": Entry("boards_command:boards", "List the boards: what runs on each, how it was proven, what it needs."),
    "drive": Entry("drive_command:drive", "Work out motor, spool and cord: times, cut-offs, forces, currents."),
    "battery": Entry("battery_command:battery", "Follow the battery through a year and through many winters."),
    "cell": Entry("cell_command:cell", "Turn the light cell's thresholds into counts, with their spread."),
    "clock": Entry(
        "clock_command:clock", "Print the line that sets the chip's clock; say when to set it again; judge a reading."
    ),
    "chart": Entry("chart_command:chart", "Draw the year as a map of date against hour."),
    "report": Entry("report_command:report", "Write the year on one page: map, warnings, every day, cautions."),
    "play": Entry("play_command:play", "Let the door's own program play an evening on a page, faults at a button."),
    "renew": Entry("renew_command:renew", "See to the coming days' tables: for cron, every day, for years."),
    "batch": Entry("batch_command:batch", "Work out the tables of many sites, one row of a CSV file each."),
    "handover": Entry("handover_command:handover", "Write the sheet for whoever minds the flock, and a calendar."),
    "compare": Entry("compare_command:compare", "Set light alone, clock alone and both side by side over years."),
    "replay": Entry("replay_command:replay", "Run a recorded light log through light alone, clock alone, and both."),
    "chip": Entry("chip_command:chip", "Read and set the chip over its line: state, clock, tables, log."),
    "angle": Entry("angle_command:angle", "Find the Sun's angle that fits the nights you noted."),
}


class _Lazy(TyperGroup):
    """A group with its commands by name; it imports a command when it is called."""

    def list_commands(self, ctx: Any) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        entry = COMMANDS.get(cmd_name)
        if entry is None:
            near = difflib.get_close_matches(cmd_name, COMMANDS, n=1)
            if near and not ctx.resilient_parsing:
                ctx.fail(f"No such command '{cmd_name}'; nearest is '{near[0]}'.")
            return None
        module, _, function = entry.place.partition(":")
        body = getattr(importlib.import_module(f"sunsched.cli.{module}"), function)
        if isinstance(body, typer.Typer):
            body.info.epilog = examples_text(cmd_name)
            for command in body.registered_commands:
                command.epilog = examples_text(f"{cmd_name} {command.name}")
                if command.callback is not None:
                    command.callback = _guarded(command.callback)
            return typer.main.get_command(body)
        one = typer.Typer(add_completion=False, pretty_exceptions_enable=False, rich_markup_mode=None)
        one.command(cmd_name, epilog=examples_text(cmd_name))(_guarded(body))
        return typer.main.get_command(one)

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, entry.summary) for name, entry in COMMANDS.items()])


def _guarded(body: Callable[..., None]) -> Callable[..., None]:
    """The command with its errors turned into one message and their exit code."""

    @functools.wraps(body)
    def command(*args: Any, **kwargs: Any) -> None:
        from sunsched.base.errors import SunschedError
        from sunsched.cli import console

        try:
            body(*args, **kwargs)
        except SunschedError as error:
            console.error(str(error))
            raise typer.Exit(error.exit_code) from None
        finally:
            console.say_notes()

    return command


app = typer.Typer(
    name="sunsched",
    cls=_Lazy,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["--help", "-h"]},
    help="Works out when a pop-hole door should open and close, every day of the year, and compiles it for the chip.",
    epilog=f"It advises times and sums and certifies nothing. Look at birds and door every day.\n\n{examples_text('')}",
)


def _version(wanted: bool) -> None:
    if wanted:
        from sunsched.base.civil_time import tzdata_release
        from sunsched.cli import console

        console.data(f"sunsched {__version__} (tzdata {tzdata_release()})")
        raise typer.Exit


@app.callback()
def _main(
    version: bool = typer.Option(False, "--version", callback=_version, is_eager=True, help="Show the version."),
    quiet: bool = typer.Option(False, "--quiet", "-q", help="No messages but errors; may stand after a command too."),
) -> None:
    if quiet:
        from sunsched.cli import console

        console.be_quiet()


def run(arguments: list[str] | None = None) -> None:
    """Run the command line; `--quiet` is accepted anywhere before a lone `--`."""
    # No plugin of another package may change how a configuration is read, nor cost the time to look for one; nothing
    # here multiplies matrices, so numpy need not start a thread for each core. Together a fifteenth of `table`.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    words = list(sys.argv[1:] if arguments is None else arguments)
    end = words.index("--") if "--" in words else len(words)
    if {"--quiet", "-q"} & set(words[:end]):
        words = ["--quiet", *(word for word in words[:end] if word not in ("--quiet", "-q")), *words[end:]]
    _ended_well(words)


def _ended_well(words: list[str]) -> None:
    """Run the commands; what a library prints (help, version) obeys a closed pipe and a full disk as `console` does."""
    from sunsched.base.errors import CannotWriteError
    from sunsched.cli import console

    code: int | str | None = 0
    try:
        app(args=words, prog_name="sunsched")
    except SystemExit as leaving:
        # The commands mind closed pipes themselves; where click met one it has wrapped the stream, after all was well.
        code = 0 if console.pipe_was_closed() else leaving.code
    except CannotWriteError as error:
        console.error(str(error))
        code = error.exit_code
    except OSError as error:
        # An error of a file has its name; what has none is standard output's.
        if error.filename is not None:
            raise
        console.leave_pipe()
        console.error(f"standard output: {error.strerror}")
        code = CannotWriteError.exit_code
    try:
        console.finish()
    except CannotWriteError as error:
        console.error(str(error))
        code = error.exit_code
    if code:
        raise SystemExit(code)
