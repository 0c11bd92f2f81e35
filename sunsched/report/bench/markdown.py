"""Markdown in ASCII for the README of a program's folder."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence

from sunsched.emit.c_header import comment_text

_WIDTH = 100


def plain(text: str) -> str:
    """A keeper's words in ASCII, without anything that Markdown interprets."""
    return re.sub(r"([\\`*_{}\[\]<>()#+!|&])", r"\\\1", comment_text(text, 60))


def wrapped(text: str) -> str:
    """A paragraph."""
    return item(text, "")


def item(text: str, mark: str = "- ") -> str:
    """An item of a list."""
    # A command is not broken: blanks inside backticks are hidden from the folding.
    whole = re.sub("`[^`]+`", lambda code: code[0].replace(" ", "\1"), text)
    look = textwrap.TextWrapper(_WIDTH, mark, " " * len(mark), break_long_words=False, break_on_hyphens=False)
    return look.fill(whole).replace("\1", " ")


def code(*lines: str) -> str:
    """Lines for a shell."""
    return "\n".join(["```", *lines, "```"])


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A table with its head."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(cell.replace("|", "/") for cell in line) + " |" for line in lines)
