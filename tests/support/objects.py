"""Objects that the processes of a test run compile once: a source, all that it includes and the command say which one.

Half of a program's sources do not depend on its site. Only what was compiled without a word is kept, so that no warning
is lost with its compilation.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from tests.support import toolchain

_INCLUDE = re.compile(rb"^[ \t]*#[ \t]*include[ \t]*(.*)$", re.MULTILINE)
_IN_QUOTES = re.compile(rb'"([^"]+)"')


def texts_read(source: Path, places: Sequence[Path] = ()) -> dict[str, bytes] | None:
    """A source and all that it includes from its own folder and then from `places`: names and texts.

    None where a macro says what is included: that, only the compiler knows. A name in quotes that is in none of the
    folders is the compiler's own.
    """
    texts: dict[Path, bytes] = {}
    waiting = [source]
    while waiting:
        path = waiting.pop()
        texts[path] = path.read_bytes()
        for word in _INCLUDE.findall(texts[path]):
            name = _IN_QUOTES.match(word)
            if name is not None:
                found = [place / os.fsdecode(name[1]) for place in (path.parent, *places)]
                waiting += [one for one in found if one.is_file()][:1]
            elif not word.startswith(b"<"):
                return None
        waiting = [path for path in waiting if path not in texts]
    return {path.name: text for path, text in texts.items()}


def _kept(command: str, source: Path, places: Sequence[Path]) -> Path | None:
    """Where the object of a source is kept, whether it is there yet or not; None where it is not to be kept."""
    texts = texts_read(source, places)
    if texts is None or not toolchain.shared_builds:
        return None
    digest = hashlib.sha256(f"{command}\0{source.name}".encode())
    for name, text in sorted(texts.items()):
        digest.update(f"\0{name} {len(text)}\0".encode() + text)
    return toolchain.shared_builds[0] / f"{digest.hexdigest()}.o"


def _take(kept: Mapping[Path, Path | None]) -> list[Path]:
    """Put the objects that are kept where they are wanted; which are not."""
    for wanted, place in kept.items():
        if place is not None and place.exists():
            shutil.copyfile(place, wanted)
    return [wanted for wanted in kept if not wanted.exists()]


def _keep(kept: Mapping[Path, Path | None], made: Iterable[Path]) -> None:
    """Keep objects just made. Another process may keep the same at the same time."""
    for wanted in made:
        place = kept[wanted]
        if place is not None:
            handle, partial = tempfile.mkstemp(dir=place.parent)
            os.close(handle)
            shutil.copyfile(wanted, partial)
            os.replace(partial, place)


def make(folder: Path, target: str, *words: str) -> str:
    """Build a target of a program's folder by its own Makefile, beside the objects that another folder has had made.

    Returns what was said on standard error.
    """
    command = " ".join((*words, (folder / "Makefile").read_text(encoding="utf-8")))
    kept = {source.with_suffix(".o"): _kept(command, source, ()) for source in sorted(folder.glob("*.c"))}
    missing = _take(kept)
    said = toolchain.run(["make", "-s", *words, target], timeout_s=120, folder=folder).stderr
    if not said:
        _keep(kept, (path for path in missing if path.exists()))
    return said


def link(
    flags: Sequence[str],
    places: Sequence[Path],
    sources: Sequence[Path],
    out: Path,
    *libraries: str,
    ours: Mapping[str, str] | None = None,
) -> None:
    """`gcc FLAGS -DNAME=VALUE... -I... SOURCES LIBRARIES -o OUT`, with the objects that are kept.

    ours   names and values of macros that no header of the system knows: a source is given those that it reads
    """
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        objects = {folder / f"{source.stem}.o": source for source in sources}
        assert len(objects) == len(sources), "two sources of one name"
        given = {wanted: _given(source, places, ours or {}) for wanted, source in objects.items()}
        kept = {wanted: _kept(" ".join([*flags, *given[wanted]]), objects[wanted], places) for wanted in objects}
        command: list[str | Path] = ["gcc", *flags, *(f"-I{place}" for place in places)]
        missing = _take(kept)
        for words in dict.fromkeys(given[wanted] for wanted in missing):
            alike = [objects[wanted] for wanted in missing if given[wanted] == words]
            toolchain.run([*command, *words, "-c", *alike], timeout_s=120, folder=folder)
        _keep(kept, missing)
        toolchain.run([*command, *objects, *libraries, "-o", out], timeout_s=120)


def _given(source: Path, places: Sequence[Path], ours: Mapping[str, str]) -> tuple[str, ...]:
    """The options for those of our macros that a source reads."""
    texts = texts_read(source, places)
    read = ours if texts is None else [name for name in ours if any(name.encode() in text for text in texts.values())]
    return tuple(f"-D{name}={ours[name]}" for name in read)
