"""The page's fields, made from the models that check a configuration: kind, range, words and default are theirs.

A field is a key of the file with one value: "evening.later_min", "morning.weekday_later_min.sat". Lists of sections
(hills, seasons, dates kept in) are no fields; the page shows the file's text for them. `CHOSEN` names the keys that
come first; all others follow from the schema by themselves.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from functools import lru_cache
from typing import Any, Literal

from sunsched.base import inputs
from sunsched.config import hints
from sunsched.config.configuration import Configuration
from sunsched.config.sample_parts import SECTIONS
from sunsched.config.schema import schema
from sunsched.plan.rules import MOMENT_KEYS
from sunsched.study.choices import depression_deg

Kind = Literal["number", "whole", "text", "word", "words", "time", "flag"]

# What the page shows first, by its groups. The order is the page's.
CHOSEN: dict[str, tuple[str, ...]] = {
    "place": ("site.name", "site.zone", "site.latitude_deg", "site.longitude_deg"),
    "evening": (
        "evening.twilight",
        "evening.depression_deg",
        "evening.later_min",
        "evening.not_before",
        "evening.not_after",
        "evening.cell_from_min",
        "evening.cell_until_min",
    ),
    "morning": (
        "morning.twilight",
        "morning.depression_deg",
        "morning.later_min",
        "morning.not_before",
        "morning.not_after",
        "morning.cell_from_min",
        "morning.cell_until_min",
    ),
    "chip": ("chip.board", "chip.keeps", "light_cell.dark_lux", "light_cell.light_lux", "flock.birds"),
}
# Sliders beside fields: the part of the range that keepers choose from, and a step of the slider.
SLIDERS: dict[str, tuple[float, float, float]] = {
    "depression_deg": (-1.0, 12.0, 0.1),
    "later_min": (-60, 60, 1),
    "cell_from_min": (-60, 0, 1),
    "cell_until_min": (0, 60, 1),
}
# The unit that ends a key's name, and those of keys that end otherwise.
_UNITS = {
    **dict(deg="°", min="min", m="m", mm="mm", kg="kg", n="N", lux="lux", ohm="Ω", s="s", volts="V", rpm="1/min"),
    **dict(a="A", ah="Ah", ma="mA", w="W", c="°C", ppm="ppm", h="h"),
}
_TIME_PATTERN = "[0-5]"
_SIDES = {"site.latitude_deg": "NS", "site.longitude_deg": "EW"}
_MOST_WHOLE = 2.0**53  # up to here a float holds every whole number


@dataclass(frozen=True, slots=True)
class Field:
    """One key of the file.

    key, section, name   "evening.later_min", "evening", "later_min"
    kind   what it takes: a number, a whole one, text, one word of `choices`, several, a time of day, yes or no
    low, high   its range, None where there is none; above_low   True where `low` itself is out
    default   what holds where the key is left out, None where nothing does
    remark   what the sample says beside the key
    """

    key: str
    section: str
    name: str
    kind: Kind
    needed: bool
    unit: str = ""
    low: float | None = None
    high: float | None = None
    above_low: bool = False
    choices: tuple[str, ...] = ()
    default: Any = None
    remark: str = ""

    def plain(self) -> dict[str, Any]:
        """For the page."""
        slider = SLIDERS.get(self.name) if self.section in ("morning", "evening") else None
        return {**asdict(self), "slider": slider}


@lru_cache(maxsize=1)
def fields() -> dict[str, Field]:
    """Every field by its key, in the order of the schema."""
    made = schema()
    return {field.key: field for field in _of_section(made, made, "")}


def _of_section(made: Mapping[str, Any], about: Mapping[str, Any], section: str) -> Iterator[Field]:
    for name, given in about["properties"].items():
        inner = _resolved(made, given)
        key = f"{section}.{name}" if section else name
        if "properties" in inner:
            yield from _of_section(made, inner, key)
        else:
            kind = _kind(inner)
            if kind is not None and section:
                yield _field(key, kind, inner, name in about.get("required", ()))


def _resolved(made: Mapping[str, Any], about: Mapping[str, Any]) -> Mapping[str, Any]:
    if "$ref" not in about:
        return about
    part: Mapping[str, Any] = made["$defs"][about["$ref"].rpartition("/")[2]]
    return {**part, **{key: value for key, value in about.items() if key != "$ref"}}


def _kind(about: Mapping[str, Any]) -> Kind | None:
    """None for a list of sections."""
    if about.get("type") == "array":
        return "words" if "enum" in about.get("items", {}) else None
    if "enum" in about:
        return "word"
    if _TIME_PATTERN in about.get("pattern", ""):
        return "time"
    kinds: dict[str, Kind] = {"number": "number", "integer": "whole", "boolean": "flag", "string": "text"}
    return kinds.get(str(about.get("type")))


def _field(key: str, kind: Kind, about: Mapping[str, Any], needed: bool) -> Field:
    section, _, name = key.rpartition(".")
    zone = key == "site.zone"  # six hundred words, which the page gets once
    words = about.get("items", about).get("enum", ())
    # A time's default would be null; Configuration writes it as a text.
    return Field(
        key=key,
        section=section,
        name=name,
        kind="text" if zone else kind,
        needed=needed,
        unit=_unit(section, name),
        low=about.get("minimum", about.get("exclusiveMinimum")),
        high=about.get("maximum"),
        above_low="exclusiveMinimum" in about,
        choices=() if zone else tuple(words),
        default=about.get("default"),
        remark=_remarks().get(key, ""),
    )


@lru_cache(maxsize=1)
def _remarks() -> dict[str, str]:
    """The sample's remark on each key of what was built."""
    return {f"{section.name}.{key.name}": key.remark for section in SECTIONS for key in section.keys}


def _unit(section: str, name: str) -> str:
    if section.endswith("weekday_later_min"):
        return "min"
    return _UNITS.get(name.rpartition("_")[2], "")


def typed(key: str, raw: str) -> Any:
    """What was typed into a field as the value that TOML holds, None for an empty field.

    A text that is not of the field's kind stays a text: the check of the file says what was wanted.
    """
    field, raw = fields()[key], raw.strip()
    if not raw:
        return None
    if key in _SIDES:
        raw = hints.degrees_meant(raw, _SIDES[key]) or raw
    if field.kind == "number":
        value = inputs.decimal(hints.number_meant(raw) or raw)
        return raw if value is None else value
    if field.kind == "whole":
        # A number that is not whole, or too large, stays a number: the check then asks for no other quotes.
        value = inputs.decimal(hints.number_meant(raw) or raw)
        return raw if value is None or abs(value) > _MOST_WHOLE else int(value) if value.is_integer() else value
    if field.kind == "time":
        return hints.time_meant(raw) or raw
    if field.kind == "flag":
        return {"true": True, "false": False}.get(raw, raw)
    if field.kind == "words":
        return [word for word in raw.replace(",", " ").split() if word]
    return raw


def with_rivals(values: Mapping[str, Any]) -> dict[str, Any]:
    """The values with what has to go for them: of twilight, depression_deg and clear_sky_lux one alone may stand."""
    found: dict[str, Any] = {}
    for key, value in values.items():
        section, _, name = key.rpartition(".")
        if name in MOMENT_KEYS and value is not None:
            found |= {f"{section}.{rival}": None for rival in MOMENT_KEYS if rival != name}
    return {**found, **values}


def shown(table: Mapping[str, Any], configuration: Configuration | None) -> dict[str, dict[str, str]]:
    """What each field holds: `given`, as it stands in the file, and `holds`, what holds where it is left out.

    table   the file's sections; configuration   as understood, None where there are mistakes
    """
    whole = {} if configuration is None else configuration.as_written()
    found = {}
    for key, field in fields().items():
        given, understood = _at(table, key), _at(whole, key)
        holds = field.default if understood is None else understood
        if field.name == "depression_deg" and understood is None and configuration is not None:
            # What the moment in its place comes to, so that its slider begins there.
            holds = round(depression_deg(getattr(configuration, field.section)), 2)
        found[key] = {"given": _text(given), "holds": _text(holds)}
    return found


def _at(table: Mapping[str, Any], dotted: str) -> Any:
    value: Any = table
    for part in dotted.split("."):
        value = value.get(part) if isinstance(value, Mapping) else None
    return value


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return f"{value:.10g}"
    if isinstance(value, list | tuple):
        return " ".join(map(str, value))
    return str(value)
