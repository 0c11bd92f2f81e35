"""A number of thousands of digits, or a key with control characters in it, broke the message meant to name it.

Python reads and writes no whole number of more than 4300 digits (CVE-2020-10735); hexadecimal ones it does read.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from sunsched.base.errors import ConfigError
from sunsched.config.toml_file import read
from tests.config.broken import SITE


def message(text: str, folder: Path) -> str:
    """The message on a configuration, without the file's name."""
    path = folder / "x.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ConfigError) as caught:
        read(path)
    return str(caught.value).removeprefix(f"{path}: ")


def test_a_decimal_number(tmp_path: Path) -> None:
    problem = message(f"{SITE}[evening]\nlater_min = {'9' * 5000}\n", tmp_path)
    assert problem == "a value is a number of thousands of digits; wanted numbers as a page of TOML has them"


def test_a_hexadecimal_number(tmp_path: Path) -> None:
    problem = message(f"{SITE}[evening]\nlater_min = 0x{'f' * 5000}\n", tmp_path)
    assert problem == "evening.later_min is a number of thousands of digits; wanted a whole number from -720 to 720"


def test_a_key_with_a_line_end_and_an_escape_in_it(tmp_path: Path) -> None:
    problem = message(f'{SITE}[evening]\n"a\\nb\\u001b[31m" = 1\n', tmp_path)
    assert problem.startswith("evening.'a\\nb\\x1b[31m' is an unknown key; wanted one of twilight, ")
    assert len(problem.splitlines()) == 1
