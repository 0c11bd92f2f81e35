"""The program that a page plays: its bytes are built again, and it lives as the program on this computer does."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.browser.browser import Browser
from tests.chip import play_proof
from tests.support import toolchain
from tests.trials.fault_list import all_faults
from tools import play_wasm

# The whole is `python -m tests.chip.play_proof`; these are one of light, clock, power and machine each.
SAMPLE = ("healthy", "clock set +60 min, insisted on", "battery low", "lower switch never makes")


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """A browser with the program in it."""
    toolchain.needed("chromium", "chromedriver")
    folder = tmp_path_factory.mktemp("play")
    browser = Browser(folder / "profile")
    browser.open(play_proof.bare_page(folder))
    yield browser
    browser.close()


def test_the_shipped_bytes_are_those_that_its_sources_make() -> None:
    toolchain.needed("clang", "wasm-ld")
    other = play_wasm.other_compiler()
    assert not other, f"{other} Install those, or build with --any-compiler and review what has changed."
    assert play_wasm.built() == play_wasm.WASM.read_bytes(), "run python tools/play_wasm.py and commit door.wasm"


def test_another_compiler_is_named_and_nothing_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(play_wasm, "found_compiler", lambda: ("19.1.7", "19.1.7"))
    monkeypatch.setattr(play_wasm, "WASM", tmp_path / "door.wasm")
    monkeypatch.setattr("sys.argv", ["play_wasm.py"])
    assert play_wasm.main() == 2
    assert "clang 14.0.6" in (said := capsys.readouterr().err) and "found here: clang 19.1.7" in said
    assert not (tmp_path / "door.wasm").exists()


def test_every_fault_of_the_proof_is_one_of_the_list() -> None:
    assert set(play_proof.FAULTS) <= {fault.words for fault in all_faults()}
    assert len(play_proof.FAULTS) > 20


@pytest.mark.parametrize("fault", SAMPLE)
def test_the_page_lives_as_this_computer_does(page: Browser, fault: str) -> None:
    days = play_proof.days_of("larch_end", fault)
    host, played = play_proof.on_this_computer("larch_end", days), play_proof.in_a_page(page, "larch_end", days)
    assert host.log.count(",move,") >= 4 or fault != "healthy"
    assert "# i 1 Larch end " in host.log and "# what" not in host.log
    assert play_proof.difference(host, played) == ""
