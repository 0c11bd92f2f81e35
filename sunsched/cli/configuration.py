"""Reading a configuration for a command that shows no plan's warnings: a doubtful place is asked about all the same."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sunsched.config.configuration import Configuration


def configuration_in(path: str) -> Configuration:
    """The configuration in a file, with a warning where its coordinates hardly belong to its zone."""
    from sunsched.config import toml_file

    found = toml_file.read(path)
    ask_about_place(found, path)
    return found


def ask_about_place(configuration: Configuration, path: str) -> None:
    """Warn where the coordinates hardly belong to the zone."""

    from sunsched.cli import console
    from sunsched.plan.place import doubtful_place

    doubt = doubtful_place(configuration.site)
    if doubt is not None:
        console.warnings((doubt._replace(text=f"{path}: {doubt.text}"),))
