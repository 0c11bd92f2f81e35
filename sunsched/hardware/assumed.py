"""The assumptions of [model] as inputs with a range, for the sums of `compare` and `battery`.

Apart from the model itself: every start reads that, and few commands move its keys.
"""

from __future__ import annotations

from sunsched.hardware.figures import Assumption, Span, exactly
from sunsched.hardware.model import Model, Moved


def assumptions(model: Model, command: str) -> tuple[Assumption, ...]:
    """The inputs of `command` with their ranges; one from the keeper or from a file has no range."""
    found = []
    for name, field in Model.model_fields.items():
        moved = next(m for m in field.metadata if isinstance(m, Moved))
        if command not in moved.commands:
            continue
        value = float(getattr(model, name))
        written = name in model.model_fields_set
        span = exactly(value) if written else Span(value, min(moved.low, value), max(moved.high, value))
        found.append(
            Assumption(f"model.{name}", span, "as you wrote it, or as your file has it" if written else moved.why)
        )
    return tuple(found)
