"""Other releases of the zone data, made as a real package that stands before the installed one."""

from __future__ import annotations

import base64
import contextlib
import hashlib
import importlib
import shutil
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path

from sunsched.base import civil_time


def made(folder: Path, release: str, replaced: Mapping[str, str], damaged: Mapping[str, str] | None = None) -> Path:
    """A tzdata package in `folder` in which each zone of `replaced` has the rules of another.

    Zones of `damaged` get other rules too, but the list of digests that the package comes with does not know it.
    """
    import tzdata

    there = Path(tzdata.__file__).parent
    package = folder / "tzdata"
    shutil.copytree(there, package, ignore=shutil.ignore_patterns("__pycache__"))
    text = (package / "__init__.py").read_text()
    (package / "__init__.py").write_text(text.replace(f'"{tzdata.IANA_VERSION}"', f'"{release}"'))
    zones = package / "zoneinfo"
    for zone, like in replaced.items():
        (zones / zone).write_bytes((there / "zoneinfo" / like).read_bytes())
    lines = [f"{file.relative_to(folder)},sha256={_digest(file)},{file.stat().st_size}" for file in _files(package)]
    for zone, like in (damaged or {}).items():
        (zones / zone).write_bytes((there / "zoneinfo" / like).read_bytes())
    info = folder / "tzdata-9999.1.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: tzdata\nVersion: 9999.1\n")
    (info / "RECORD").write_text("\n".join([*lines, f"{info.name}/RECORD,,"]) + "\n")
    return folder


def _files(package: Path) -> list[Path]:
    return sorted(path for path in package.rglob("*") if path.is_file())


def _digest(path: Path) -> str:
    return base64.urlsafe_b64encode(hashlib.sha256(path.read_bytes()).digest()).decode().rstrip("=")


@contextlib.contextmanager
def in_use(folder: Path) -> Iterator[None]:
    """Use the release in `folder` in this process."""
    sys.path.insert(0, str(folder))
    _forget()
    try:
        yield
    finally:
        sys.path.remove(str(folder))
        _forget()


def _forget() -> None:
    for name in [name for name in sys.modules if name.partition(".")[0] == "tzdata"]:
        del sys.modules[name]
    importlib.invalidate_caches()
    for kept in (civil_time.tzdata_release, civil_time.zone_names, civil_time.zone_of):
        kept.cache_clear()
