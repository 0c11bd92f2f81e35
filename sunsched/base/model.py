"""What every settings model is built on: frozen, no unknown keys, numbers taken as they are."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

_LEAST = 1e-9


def _not_tiny(value: float) -> float:
    """A number that is 0 or can be measured; one such as 1e-160 is a slip, and its inverse no number any more."""
    if 0 < abs(value) < _LEAST:
        raise ValueError(f"0, or a number of at least {_LEAST:g}")
    return value


# A number in quotes or a true/false is a mistake in a configuration, not a number.
Int = Annotated[int, Field(strict=True)]
Float = Annotated[float, Field(strict=True, allow_inf_nan=False), AfterValidator(_not_tiny)]


class Settings(BaseModel):
    """A frozen section of the configuration; the model is the schema, there is no second copy."""

    # Built when first used: a command builds the one schema it reads with, not one for each section.
    model_config = ConfigDict(
        frozen=True, extra="forbid", populate_by_name=True, serialize_by_alias=True, defer_build=True
    )
