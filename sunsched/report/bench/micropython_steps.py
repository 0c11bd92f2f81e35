"""What the README of a MicroPython board's folder says in place of a chip's: copying, clock, log, every year."""

from __future__ import annotations

from collections.abc import Iterator

from sunsched.emit.c_header import clock_words
from sunsched.emit.micropython_core import MODULES
from sunsched.emit.micropython_folder import SHIPPED, TABLES
from sunsched.job.bench import Bench
from sunsched.report.bench.markdown import code, wrapped

_MAIN = "main.py"


def upload() -> Iterator[str]:
    """How the folder gets onto the board."""
    own = ("door_site.py", *(name for name in SHIPPED if name != _MAIN), TABLES)
    yield "## Put the program on the board"
    yield wrapped(
        "The board needs MicroPython 1.20 or later: its makers' page has a file for your board and says how to load "
        "it. Then, with `pip install mpremote`, from this folder and with the fuse out:"
    )
    yield code(
        "mpremote mkdir :door",
        f"mpremote cp {' '.join(f'door/{name}.py' for name in ('__init__', 'settings', *MODULES))} :door/",
        f"mpremote cp {' '.join(own)} :",
        f"mpremote cp {_MAIN} : + reset",
    )
    yield wrapped(
        "`main.py` comes last: the board starts it whenever it gets power. `mpremote` stops the program, and with it "
        "the motor, each time it connects; the watchdog starts it again within 8 s. Wi-Fi stays off."
    )
    yield wrapped(
        "The program never sleeps. A board of this kind draws some 20 to 50 mA awake (from memory: measure yours); put "
        "that into battery.sleep_ma and ask `sunsched battery` how long it lasts."
    )


def clock(bench: Bench) -> Iterator[str]:
    """How the clock is set."""
    yield "## Set the clock"
    if bench.machine.clock == "none":
        yield wrapped("This machine has no clock: the program learns the hour from the light within some days.")
        return
    lost = " It is lost at each power cut." if bench.machine.clock == "crystal" else ""
    yield wrapped(
        "Write the minute to come into a file and copy it as that minute begins; the program takes it up when it "
        "starts again, some seconds later, and deletes it. "
        f"The time is the chip's own: {clock_words(bench.work.plan)}.{lost}"
    )
    yield code("echo 2027-03-01 18:20:00 > set_clock.txt", "mpremote cp set_clock.txt : + reset")


def log() -> Iterator[str]:
    """Where the log is."""
    yield "## The log"
    yield wrapped(
        "`log.csv` and, before it, `log.old` hold what the door did, 48 kB each; `sunsched replay` reads them. "
        "`kept.bin` is what the program remembers over a power cut."
    )
    yield code("mpremote cp :log.csv . + reset")


def every_year(config: str, years: tuple[int, int]) -> Iterator[str]:
    """How the table is renewed."""
    yield "## Every year"
    yield wrapped(
        f"`sunsched renew {config} --out DIR --as eeprom` makes and proves the next year's table. Copy its .bin file "
        "as `tables.new`: the program reads it whole before it takes it up, keeps the old one as `tables.old`, and "
        "says in the log what it did. A damaged file, or one for another clock, becomes `tables.bad`."
    )
    yield code("mpremote cp SITE_YEAR.bin :tables.new + reset")
    yield wrapped(
        f"Tables of several years may follow each other in one file; this folder's end in {years[1]}. Look at the "
        "cord, the fuse and the clock chip's cell, and ask whether orders and rules for keeping birds have changed."
    )


def first_checks() -> Iterator[str]:
    """The steps of the first evening for which a chip has its serial line."""
    yield "Fuse out, board on USB: `mpremote ls` shows the files, `mpremote cat :log.csv` the log that has begun."
    yield (
        "`mpremote exec 'from board import Board; print(Board().light_counts())'`, the cell covered and then in the "
        "light: the counts must fall below and rise above the two constants under this list."
    )
