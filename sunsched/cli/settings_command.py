"""`settings`: the configuration as understood."""

from __future__ import annotations

from typing import Annotated

import typer

from sunsched.cli import console
from sunsched.cli.options import AsJson, ConfigPath


def settings(
    config: ConfigPath,
    as_json: AsJson = False,
    as_toml: Annotated[bool, typer.Option("--toml", help="Print TOML that reads back equal (the default).")] = False,
) -> None:
    """Show the configuration as understood, with every default filled in."""
    from sunsched.base.errors import UsageError
    from sunsched.cli.configuration import configuration_in

    if as_json and as_toml:
        raise UsageError("--json and --toml contradict each other; give one")
    configuration = configuration_in(config)
    written = configuration.as_written()
    if as_json:
        console.data_json(written)
        return
    from sunsched.report.text.answers import settings_answer

    console.answer(settings_answer(configuration.site.name, list(written), len(configuration.model_fields_set)))
    import tomli_w

    console.data(tomli_w.dumps(written))
