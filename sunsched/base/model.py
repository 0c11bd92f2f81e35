"""The base class of every settings model: frozen, no unknown keys, no conversion of types.

Modules of models have no `from __future__ import annotations`: pydantic would compile each annotation's text again, a
twentieth of the start of `table`. Ranges stand there as Ge, Gt and Le: a Field for each would take half as long again.
"""

from typing import Annotated, Self

from pydantic import AllowInfNan, BaseModel, ConfigDict, Strict

# A number in quotes or a true/false is a mistake in a configuration, not a number.
Int = Annotated[int, Strict()]
Float = Annotated[float, Strict(), AllowInfNan(False)]


class Settings(BaseModel):
    """A frozen section of the configuration; the model is the schema, there is no second copy."""

    # Pydantic builds a schema when it is first used: a command builds only the one it reads with.
    model_config = ConfigDict(
        frozen=True, extra="forbid", populate_by_name=True, serialize_by_alias=True, defer_build=True
    )

    @classmethod
    def unwritten(cls) -> Self:
        """The section as it is where the file has none: every default, made without the schema that reading needs."""
        return cls.model_construct()
