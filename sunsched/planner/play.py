"""The door's program playing an evening, for the planner: a whole page of its own, which stands in a frame.

The frame may neither read the planner nor ask it anything.
"""

from __future__ import annotations

from sunsched.config.toml_file import table_in, validated
from sunsched.planner.work import Asked, changed_text
from sunsched.report.play.page import play_html

# The play brings its own script, style sheet and program inside it.
POLICY = (
    "default-src 'none'; script-src 'unsafe-inline' 'wasm-unsafe-eval'; style-src 'unsafe-inline'; img-src data:; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'self'"
)


def is_there() -> bool:
    """Whether this build can play an evening."""
    return True


def html(asked: Asked) -> str:
    """The play of the day asked for, as a page. Raises ConfigError where the program cannot follow the text."""
    configuration = validated(table_in(changed_text(asked).encode(), asked.name), asked.name)
    return play_html(configuration, asked.day.year, asked.day, asked.name)
