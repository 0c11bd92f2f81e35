"""Messages of `renew`, `batch`, `compare`, `replay` and `angle` ran past a terminal's edge and broke within words."""

from __future__ import annotations

import pytest

from sunsched.cli import console

TEXT = (
    "/home/keeper/tables/north-meadow-hut-2027.toml: not renewed; the tables made before are as they were, all of them"
)


@pytest.mark.parametrize("say", [console.say, console.warn, console.error])
def test_a_message_is_folded_for_a_terminal_alone(
    say: object, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert callable(say)
    monkeypatch.setenv("NO_COLOR", "1")
    monkeypatch.setenv("COLUMNS", "50")
    say(f"{TEXT}\n  {TEXT}")
    plain = capsys.readouterr().err
    assert TEXT in plain.splitlines()[0] and len(plain.splitlines()) == 2

    monkeypatch.setattr(console, "_is_terminal", lambda stream: True)
    say(f"{TEXT}\n  {TEXT}")
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) > 4
    assert " ".join(" ".join(lines).split()) == " ".join(plain.split())
    path = TEXT.partition(":")[0]
    assert all(len(line) <= 50 for line in lines if path not in line)
    assert any(path in line for line in lines)
