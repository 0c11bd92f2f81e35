"""An advised set put into its configuration's file: comments kept, whole or not at all."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from sunsched.base import inputs
from sunsched.base.errors import UsageError
from sunsched.config.toml_edit import with_values
from sunsched.config.toml_file import LARGEST_BYTES, parsed
from sunsched.job.files import write_all

_MARK = "\ufeff"


def put_in(config: str, settings: Mapping[str, float]) -> Path:
    """Write `settings` into the file `config`; returns its path.

    Raises UsageError for standard input, ConfigError where the text cannot take them, CannotWriteError for the disk.
    """
    if config == "-":
        raise UsageError("--write and CONFIG -: wanted a file to write into")
    path = Path(config)
    before = inputs.read_bytes(config, "a TOML file", LARGEST_BYTES).decode("utf-8")
    text = with_values(before.removeprefix(_MARK), settings, config)
    parsed(text.encode(), config)
    # The keeper asked for this very file to be changed, and what it held is in the new text.
    write_all({path: (_MARK * before.startswith(_MARK) + text).encode()}, force=True)
    return path
