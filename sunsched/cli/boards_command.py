"""`boards`: which boards are supported, how that was proven, and what each needs."""

from __future__ import annotations

from sunsched.cli import console
from sunsched.cli.options import AsJson, Every


def boards(every: Every = False, as_json: AsJson = False) -> None:
    """List the boards: what runs on each, how that was proven, what it needs."""
    from sunsched.job.board_list import board_list

    lines = board_list()
    if as_json:
        console.data_json({"boards": [line.plain() for line in lines]})
        return
    from sunsched.report.text.boards import boards_text

    console.data(boards_text(lines, every))
