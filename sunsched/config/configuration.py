"""The whole configuration as one frozen model: what a TOML file may hold, and its defaults."""

import functools
from collections.abc import Mapping
from types import UnionType
from typing import Any, Self, get_args, get_origin

from pydantic import Field, ValidationInfo, field_validator, model_validator

from sunsched.base.model import Settings
from sunsched.hardware.boards import Board
from sunsched.hardware.model import Model
from sunsched.hardware.parts import Battery, ClockSource, Door, Flock, LightCell, Motor, Spool
from sunsched.hardware.pins import Pins, refuse_pins_that_cannot
from sunsched.plan.rules import KeptIn, KeptIns, MomentRule, Rules, Season, Seasons, Warn
from sunsched.plan.site import Chip, Site

MOST_ALONE = 100  # seasons, or spans kept in: the whole model has limits of its own


class Configuration(Settings):
    """Every section of the file. Only [site] is needed; the parts that are not built are None."""

    site: Site
    chip: Chip = Field(default_factory=Chip.unwritten)
    morning: MomentRule = Field(default_factory=MomentRule.unwritten)
    evening: MomentRule = Field(default_factory=MomentRule.unwritten)
    season: Seasons = ()
    kept_in: KeptIns = ()
    warn: Warn = Field(default_factory=Warn.unwritten)
    light_cell: LightCell = Field(default_factory=LightCell.unwritten)
    clock: ClockSource = Field(default_factory=ClockSource.unwritten)
    door: Door | None = None
    spool: Spool | None = None
    motor: Motor | None = None
    battery: Battery | None = None
    flock: Flock = Field(default_factory=Flock.unwritten)
    model: Model = Field(default_factory=Model.unwritten)
    pins: Pins | None = None

    @classmethod
    def of_sections(cls, table: Mapping[str, Any], context: Any) -> Self:
        """What `model_validate` gives for a table without mistakes, for the cost of the sections that it has.

        The schema of all sections together is a twentieth of a start, and most files describe few of them. Raises
        ValueError for a mistake, as pydantic's errors are; the place in it is the section's own.
        """
        singles = _single_sections()
        lists: dict[str, type[Settings]] = {"season": Season, "kept_in": KeptIn}
        many = [value for key, value in table.items() if key in lists]
        if (
            "site" not in table
            or not table.keys() <= {*singles, *lists, "pins"}
            or not all(isinstance(value, list) and len(value) <= MOST_ALONE for value in many)
            or not isinstance(table.get("pins", {}), Mapping)
        ):
            return cls.model_validate(table, context=context)
        made: dict[str, Any] = {}
        for key, value in table.items():
            if key in singles:
                made[key] = singles[key].model_validate(value, context=context)
            elif key in lists:
                made[key] = tuple(lists[key].model_validate(one, context=context) for one in value)
        configuration = cls.model_construct(**made)
        if "pins" in table:
            board = configuration.chip.on
            pins = Pins.model_validate(_beside_the_boards_own(table["pins"], board), context=context)
            refuse_pins_that_cannot(pins, board)
            configuration = cls.model_construct(**made, pins=pins)
        configuration.rules.refuse_contradictions()
        return configuration

    @field_validator("pins", mode="before")
    @classmethod
    def _pins_beside_the_boards_own(cls, pins: Any, info: ValidationInfo) -> Any:
        return _beside_the_boards_own(pins, info.data["chip"].on) if "chip" in info.data else pins

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
        written: dict[str, Any] = {}
        for key in type(self).model_fields:
            section = getattr(self, key)
            if isinstance(section, Settings):
                written[key] = _section_as_written(section)
            elif key == "kept_in":
                written[key] = tuple(span.model_dump(exclude_none=True) for span in section)
        return written | self._seasons()

    def _seasons(self) -> dict[str, Any]:
        # A season holds only what it replaces: its patches keep the keys that were written, not all defaults.
        if not self.season:
            return {}
        return {"season": [_season_as_written(season) for season in self.season]}


def _beside_the_boards_own(pins: Any, board: Board) -> Any:
    return {**board.wiring, **pins} if isinstance(pins, Mapping) else pins


@functools.cache
def _single_sections() -> dict[str, type[Settings]]:
    """The sections that stand once in a file and are checked by themselves: [pins] are checked against the board."""
    found = {}
    for key, field in Configuration.model_fields.items():
        optional = get_args(field.annotation) if get_origin(field.annotation) is UnionType else ()
        for kind in (field.annotation, *optional):
            if isinstance(kind, type) and issubclass(kind, Settings) and key != "pins":
                found[key] = kind
    return found


def _section_as_written(section: Settings) -> dict[str, Any]:
    # One with its defaults alone has no schema yet, and none of its values is written otherwise than it is held.
    if section == section.unwritten():
        whole = ((key, _section_as_written(value) if isinstance(value, Settings) else value) for key, value in section)
        return {key: value for key, value in whole if value is not None}
    return section.model_dump(exclude_none=True)


def _season_as_written(season: Season) -> dict[str, Any]:
    head = season.model_dump(include={"name", "from_", "to"})
    patches = {"morning": season.morning, "evening": season.evening}
    written = {side: patch.model_dump(exclude_unset=True) for side, patch in patches.items()}
    return {**head, **{side: keys for side, keys in written.items() if keys}}
