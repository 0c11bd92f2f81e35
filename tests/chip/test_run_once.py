"""What the processes of a run build once: the same command on the same content, and only that."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.support import toolchain


def test_the_same_content_is_built_once_and_another_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shared, runs = tmp_path / "shared", tmp_path / "runs"
    shared.mkdir()
    monkeypatch.setattr(toolchain, "shared_builds", [shared])

    def built(name: str, text: str, word: str = "") -> str:
        folder = tmp_path / name / "door"
        folder.mkdir(parents=True)
        (folder / "a.c").write_text(text)
        out = folder.parent / "out"
        command = ["sh", "-c", f"echo x >>{runs}; cat a.c >{out}; echo {word} >>{out}"]
        toolchain.run_once(command, folder, [out])
        return out.read_text()

    assert built("one", "first") == built("two", "first") == "first\n"
    assert runs.read_text() == "x\n"
    assert built("three", "second") == "second\n"
    assert built("four", "first", "-O2") == "first-O2\n"
    assert runs.read_text() == "x\n" * 3
