"""`planner`: a page on this computer on which the year is redrawn with every change."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

import typer

from sunsched.cli import console


def planner(
    config: Annotated[
        str | None,
        typer.Argument(metavar="[CONFIG]", help="The configuration, made on saving if it is new; none: a sample."),
    ] = None,
    port: Annotated[int, typer.Option("--port", min=0, max=65535, help="The port; 0: a free one.")] = 0,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Print the address and open nothing.")] = False,
) -> None:
    """Open a page that redraws year, day, warnings and cost with every change, and saves the same file.

    It answers this computer alone, and only the browser that has the address printed here. Ctrl-C ends it.
    """
    from sunsched.base.errors import UsageError
    from sunsched.job.edited_file import EditedFile

    try:
        import starlette  # noqa: F401
        import tomlkit  # noqa: F401
        import uvicorn  # noqa: F401
    except ImportError:
        raise UsageError("the planner needs more packages: in sunsched's folder, pip install '.[planner]'") from None
    session = EditedFile(config)
    from sunsched.base.late_modules import load_late_ones
    from sunsched.planner import server

    load_late_ones()  # before the page's threads begin
    page = server.Planner(session, lambda: dt.datetime.now(dt.UTC), console.error)
    listening = server.listening(port)
    address = server.address(page, listening)
    console.data(address)
    if session.is_new:
        console.say(f"{session.name} is not there yet: saving makes it" if config else "no file: the page starts anew")
    console.say("Ctrl-C ends the planner; until then the address above opens it in a browser of this computer.")
    if not no_browser:
        _open(address)
    try:
        server.server_of(page, listening).run(sockets=[listening])
    except KeyboardInterrupt:
        pass
    finally:
        page.close()
        listening.close()


def _open(address: str) -> None:
    """Ask the system's browser; one that lives in this terminal must not hold up the page."""
    import threading
    import webbrowser

    threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
