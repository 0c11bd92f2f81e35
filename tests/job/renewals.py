"""What the renewal tests share."""

from __future__ import annotations

import datetime as dt
import os
import shutil
from pathlib import Path

from sunsched.job.renewal.renewal import Ask, Outcome, renew

ROOT = Path(__file__).parents[2]
CONFIGS = ROOT / "configs"
# SUNSCHED_PROOF=whole runs the long proofs in full; otherwise a sample of them.
WHOLE = os.environ.get("SUNSCHED_PROOF") == "whole"


def config_in(folder: Path, name: str = "larch_end", changes: dict[str, str] | None = None) -> Path:
    """A shipped configuration copied, some of its text replaced."""
    text = (CONFIGS / f"{name}.toml").read_text(encoding="utf-8")
    for old, new in (changes or {}).items():
        assert old in text
        text = text.replace(old, new, 1)
    path = folder / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    return path


def run(config: Path | list[Path], out: Path, date: str, only_look: bool = False, ahead: int = 60) -> list[Outcome]:
    """One run of the renewal on a date."""
    configs = [str(path) for path in (config if isinstance(config, list) else [config])]
    return renew(configs, Ask(out, dt.date.fromisoformat(date), ahead), only_look)


def contents(folder: Path) -> dict[str, bytes]:
    """Every file under a folder with its bytes."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def traces(folder: Path) -> dict[str, tuple[int, int, int]]:
    """Modification time, size and inode of everything under a folder, the folder itself included."""
    found = {}
    for path in (folder, *folder.rglob("*")):
        status = path.lstat()
        found[str(path)] = (status.st_mtime_ns, status.st_size, status.st_ino)
    return found


def fresh_copy(template: Path, to: Path) -> Path:
    """A copy of a folder of tables."""
    shutil.copytree(template, to)
    return to
