"""The whole configuration as one frozen model: what a TOML file may hold, and its defaults."""

from collections.abc import Mapping
from typing import Any, Self

from pydantic import Field, ValidationInfo, field_validator, model_validator

from sunsched.base.model import Settings
from sunsched.hardware.model import Model
from sunsched.hardware.parts import Battery, ClockSource, Door, Flock, LightCell, Motor, Spool
from sunsched.hardware.pins import Pins, refuse_pins_that_cannot
from sunsched.plan.rules import KeptIns, MomentRule, Rules, Season, Seasons, Warn
from sunsched.plan.site import Chip, Site


class Configuration(Settings):
    """Every section of the file. Only [site] is needed; the parts that are not built are None."""

    site: Site
    chip: Chip = Field(default_factory=Chip)
    morning: MomentRule = Field(default_factory=MomentRule)
    evening: MomentRule = Field(default_factory=MomentRule)
    season: Seasons = ()
    kept_in: KeptIns = ()
    warn: Warn = Field(default_factory=Warn)
    light_cell: LightCell = Field(default_factory=LightCell)
    clock: ClockSource = Field(default_factory=ClockSource)
    door: Door | None = None
    spool: Spool | None = None
    motor: Motor | None = None
    battery: Battery | None = None
    flock: Flock = Field(default_factory=Flock)
    model: Model = Field(default_factory=Model)
    pins: Pins | None = None

    @field_validator("pins", mode="before")
    @classmethod
    def _pins_beside_the_boards_own(cls, pins: Any, info: ValidationInfo) -> Any:
        if not isinstance(pins, Mapping) or "chip" not in info.data:
            return pins
        return {**info.data["chip"].on.wiring, **pins}

    @field_validator("pins")
    @classmethod
    def _pins_are_the_boards(cls, pins: Pins | None, info: ValidationInfo) -> Pins | None:
        # Without a chip the board itself was wrong, and its mistake is named.
        if pins is not None and "chip" in info.data:
            refuse_pins_that_cannot(pins, info.data["chip"].on)
        return pins

    @model_validator(mode="after")
    def _rules_agree(self) -> Self:
        self.rules.refuse_contradictions()
        return self

    @property
    def rules(self) -> Rules:
        """The sections that decide the door's minutes."""
        # The sections have been checked one by one; reading the file checks them against each other.
        return Rules.model_construct(
            morning=self.morning, evening=self.evening, season=self.season, kept_in=self.kept_in, warn=self.warn
        )

    def as_written(self) -> dict[str, Any]:
        """The configuration with every default filled in, as a TOML file would hold it; it reads back equal."""
        return self.model_dump(mode="python", exclude_none=True, exclude={"season": True}) | self._seasons()

    def _seasons(self) -> dict[str, Any]:
        # A season holds only what it replaces: its patches keep the keys that were written, not all defaults.
        if not self.season:
            return {}
        return {"season": [_season_as_written(season) for season in self.season]}


def _season_as_written(season: Season) -> dict[str, Any]:
    head = season.model_dump(include={"name", "from_", "to"})
    patches = {"morning": season.morning, "evening": season.evening}
    written = {side: patch.model_dump(exclude_unset=True) for side, patch in patches.items()}
    return {**head, **{side: keys for side, keys in written.items() if keys}}
