"""`renew --check` without last year's forms said "other forms are asked for" and hid that the rules had changed too.

It did not say which forms either, so that whoever came back after a year could not tell what to give.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from sunsched.cli.app import run
from tests.conftest import ROOT


def said(words: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    """Why a table is due, as a check says; it ends with 1, because something is due."""
    with pytest.raises(SystemExit, match="1"):
        run(["renew", "hut.toml", "--out", "tables", "--today", "2027-02-01", "--ahead", "0", "--check", *words])
    (why,) = re.findall(r"2027: (.*?)\. Next", " ".join(capsys.readouterr().out.split()))
    return str(why)


def test_the_reason_of_the_rules_stands_before_that_of_the_forms(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    hut = Path("hut.toml")
    hut.write_text((ROOT / "configs" / "fig_yard.toml").read_text(encoding="utf-8"), encoding="utf-8")
    run(["renew", "hut.toml", "--out", "tables", "--today", "2027-02-01", "--ahead", "0", "--as", "csv"])
    capsys.readouterr()
    forms = "other forms are asked for: h"
    assert said([], capsys) == forms
    assert said(["--as", "c"], capsys) == f"{forms}, no longer csv"
    hut.write_text(hut.read_text(encoding="utf-8").replace("later_min = 3", "later_min = 4", 1), encoding="utf-8")
    assert said([], capsys) == f"the configuration changed (evening.later_min); {forms}"
    assert "forms" not in said(["--as", "csv"], capsys)
