"""The shipped configurations, and what an emulated chip has to answer for each of them."""

from __future__ import annotations

import re
import tempfile
from functools import cache
from pathlib import Path

import numpy as np

from sunsched.config import toml_file
from sunsched.hardware.boards import BOARDS
from sunsched.job import pipeline
from sunsched.plan.year import YearPlan
from sunsched.table import facts

CONFIGS = Path(__file__).parents[2] / "configs"
SHIPPED = sorted(path.stem for path in CONFIGS.glob("*.toml"))
YEARS = (2027, 2028)  # a common year and a leap year


# Other parts than a shipped site has: "larch_end+relays" is that site with those lines in its sections.
PARTS = {
    "direction": {"motor": 'driver = "direction"'},
    "relays": {"motor": 'driver = "relays"'},
    "closed": {"door": 'switches = "normally_closed"'},
    "current": {"motor": "shunt_ohm = 0.5", "pins": 'hand_down = "PD3"\nmotor_current = "PC3"'},
    **{chip: {"clock": f'chip = "{chip}"'} for chip in ("ds1307", "pcf8523", "pcf8563")},
}


def _with_parts(text: str, parts: dict[str, str]) -> str:
    for section, lines in parts.items():
        head = f"[{section}]\n"
        text = text.replace(head, f"{head}{lines}\n") if head in text else f"{text}\n{head}{lines}\n"
    return text


def _on_board(text: str, board: str) -> str:
    """The configuration for another board, wired as that board's own wiring says."""
    text = re.sub(r"^board = .*\n", "", text, flags=re.M)
    return _with_parts(text, {"chip": f'board = "{board}"'})


@cache
def built(name: str, year: int) -> pipeline.Built:
    """A shipped configuration's year, with other parts or another board if the name says so."""
    site, *parts = name.split("+")
    text = (CONFIGS / f"{site}.toml").read_text()
    for part in parts:
        text = _on_board(text, part) if part in BOARDS else _with_parts(text, PARTS[part])
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"{site}.toml"
        path.write_text(text)
        return pipeline.built(toml_file.read(path), year, f"{site}.toml")


def told_lines(plan: YearPlan) -> list[str]:
    """Each day as `dump_plain.c` prints it: opening, closing, facts and solar midnight in hex.

    Solar midnight is what the reader works out from its nodes; that it is the Sun's own is checked beside this.
    """
    midnight = facts.midnight_nodes(plan.midnight_min).at(np.arange(plan.n_days))
    columns = (plan.open_min, plan.close_min, plan.fact_bits, midnight)
    return [
        f"{int(o) & 0xFFFF:04x}{int(c) & 0xFFFF:04x}{int(f):02x}{int(m) & 0xFFFF:04x}"
        for o, c, f, m in zip(*columns, strict=True)
    ]
