"""The command: what it prints, and what it says where it cannot begin."""

from __future__ import annotations

import socket
import sys
import time
import webbrowser
from pathlib import Path

import pytest
import uvicorn
from typer.testing import CliRunner

from sunsched.cli.app import app
from tests.conftest import CONFIGS

LARCH = str(CONFIGS[0].parent / "larch_end.toml")


@pytest.fixture(autouse=True)
def opened(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """No page is served and no browser opened; the addresses that one would have been asked to open."""
    asked: list[str] = []
    monkeypatch.setattr(uvicorn.Server, "run", lambda self, sockets: None)
    monkeypatch.setattr(webbrowser, "open", asked.append)
    return asked


def run(*words: str) -> tuple[int, str, str]:
    """Exit code and both outputs."""
    done = CliRunner().invoke(app, ["planner", *words])
    return done.exit_code, done.stdout, done.stderr


def test_it_prints_its_address_with_a_key_that_is_another_each_time(opened: list[str]) -> None:
    outs = [run(LARCH, "--no-browser") for _ in range(2)]
    for code, out, err in outs:
        assert code == 0 and out.startswith("http://127.0.0.1:") and len(out.strip().partition("?k=")[2]) >= 32
        assert "Ctrl-C ends the planner" in err
    assert outs[0][1] != outs[1][1] and opened == []
    _, out, _ = run(LARCH)
    end = time.monotonic() + 20
    while not opened and time.monotonic() < end:
        time.sleep(0.01)  # it is asked by a thread of its own, so that no browser holds up the page
    assert opened == [out.strip()]


def test_a_new_file_is_said_and_not_made(tmp_path: Path) -> None:
    code, _, err = run(str(tmp_path / "new.toml"), "--no-browser")
    assert code == 0 and "is not there yet: saving makes it" in err
    assert list(tmp_path.iterdir()) == []
    assert "no file: the page starts anew" in run("--no-browser")[2]


def test_a_port_in_use_is_an_error_in_words() -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        code, out, err = run(LARCH, "--port", str(port), "--no-browser")
    assert code == 2 and out == ""
    why = "which cannot be had (Address already in use); wanted a free port, or leave --port out"
    assert err == f"error: --port is {port}, {why}\n"


def test_standard_input_is_no_file_to_save_into() -> None:
    code, _, err = run("-", "--no-browser")
    assert code == 2 and "wanted the name of one in place of -" in err


@pytest.mark.parametrize("missing", ["starlette", "uvicorn", "tomlkit"])
def test_without_the_extra_one_message_says_what_to_install(missing: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, missing, None)
    code, out, err = run(LARCH, "--no-browser")
    assert (code, out) == (2, "")
    assert err == "error: the planner needs more packages: in sunsched's folder, pip install '.[planner]'\n"
