"""What every settings model is built on: frozen, no unknown keys, numbers taken as they are."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

# A number in quotes or a true/false is a mistake in a configuration, not a number.
Int = Annotated[int, Field(strict=True)]
Float = Annotated[float, Field(strict=True, allow_inf_nan=False)]


class Settings(BaseModel):
    """A frozen section of the configuration; the model is the schema, there is no second copy."""

    # Built when first used: a command builds the one schema it reads with, not one for each section.
    model_config = ConfigDict(
        frozen=True, extra="forbid", populate_by_name=True, serialize_by_alias=True, defer_build=True
    )
