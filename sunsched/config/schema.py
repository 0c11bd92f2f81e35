"""The JSON Schema (draft 2020-12) of the configuration: what an editor needs to complete and check a TOML file.

Made from the models themselves. It covers keys, kinds, ranges, words, dates and times; what contradicts itself across
keys, and what only a year's plan shows, is checked on reading the file.
"""

from __future__ import annotations

from typing import Any

from sunsched.base.civil_time import zone_names
from sunsched.config.configuration import Configuration

DRAFT = "https://json-schema.org/draft/2020-12/schema"


def schema() -> dict[str, Any]:
    """The schema as plain data; TOML's dates and times stand in it as the texts that they are written as."""
    made: dict[str, Any] = _without_noise(Configuration.model_json_schema(by_alias=True))
    made["$defs"]["Site"]["properties"]["zone"]["enum"] = sorted(zone_names())
    return {"$schema": DRAFT, "title": "sunsched configuration", **made}


def _without_noise(part: Any) -> Any:
    """A part without titles made from keys, and without null, which TOML does not have."""
    if isinstance(part, list):
        return [_without_noise(entry) for entry in part]
    if not isinstance(part, dict):
        return part
    kept = {
        key: {name: _without_noise(entry) for name, entry in value.items()}
        if key in ("properties", "$defs")
        else _without_noise(value)
        for key, value in part.items()
        if not (key == "title" or (key == "default" and value is None))
    }
    choices = [choice for choice in kept.get("anyOf", ()) if choice != {"type": "null"}]
    if len(choices) == 1:
        kept = {**choices[0], **{key: value for key, value in kept.items() if key != "anyOf"}}
    return kept
