"""The door's program playing an evening: where the planner takes it from, once it is there.

`is_there` says whether the page shows its section; `html` gives the play of a day as a whole page, which the planner
shows in a frame that may neither read the planner nor ask it anything.
"""

from __future__ import annotations

from sunsched.base.errors import UsageError
from sunsched.planner.work import Asked

# The play brings its own script, style sheet and program inside it.
POLICY = (
    "default-src 'none'; script-src 'unsafe-inline' 'wasm-unsafe-eval'; style-src 'unsafe-inline'; img-src data:; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'self'"
)


def is_there() -> bool:
    """Whether this build can play an evening."""
    return False


def html(asked: Asked) -> str:
    """The play of the day asked for, as a page. Raises UsageError where this build has none."""
    raise UsageError("this build of sunsched plays no evening")
