"""The one file that a planner may read and write: the configuration named at its start, or none.

The text itself lives in the page; this holds what the file was when the page last read it. A save names that state by
its digest, and is refused where the file is no longer so.
"""

from __future__ import annotations

import hashlib
import threading
from dataclasses import dataclass
from difflib import unified_diff
from pathlib import Path

from sunsched.base import inputs
from sunsched.base.errors import CannotWriteError, MissingFileError, UsageError
from sunsched.config import sample
from sunsched.config.toml_file import LARGEST_BYTES, parsed
from sunsched.job.files import write_all

_MARK = "\ufeff"
# What the files are named after where none was given, as in the examples of the commands.
UNNAMED = "hut.toml"
ABSENT = ""  # the digest of a file that is not there


@dataclass(frozen=True, slots=True)
class State:
    """The file at a moment: its text with plain line ends, '' where there is none, and the digest of its bytes."""

    text: str
    digest: str
    mark: bool = False
    newline: str = "\n"


class Conflict(Exception):
    """The file is not what the page has read; `now` is what it is."""

    def __init__(self, now: State) -> None:
        super().__init__("the file was changed by something else")
        self.now = now


class EditedFile:
    """The file of one planner; `config` is what the command line named, None for no file.

    is_new   whether there was no such file at the start
    """

    def __init__(self, config: str | None) -> None:
        """Raises UsageError for standard input, and what reading a file raises that is there but cannot be read."""
        if config == inputs.STDIN:
            raise UsageError("the planner saves into a file; wanted the name of one in place of -")
        self.path = None if config is None else Path(config)
        self.name = config or UNNAMED
        self._lock = threading.Lock()
        self.is_new = self.state().digest == ABSENT

    def state(self) -> State:
        """What the file holds now. Raises MissingFileError where it is there and cannot be read."""
        if self.path is None or not self._is_there():
            return State("", ABSENT)
        data = inputs.read_bytes(str(self.path), "a TOML file", LARGEST_BYTES)
        try:
            text = data.decode("utf-8")
        except UnicodeDecodeError as error:
            raise MissingFileError(f"{self.name}: byte {error.start} is not UTF-8; wanted TOML") from None
        newline = "\r\n" if "\r\n" in text else "\n"
        plain = text.removeprefix(_MARK).replace("\r\n", "\n")
        return State(plain, _digest(data), text.startswith(_MARK), newline)

    def _is_there(self) -> bool:
        assert self.path is not None
        try:
            return self.path.exists()
        except (OSError, ValueError):
            return True  # reading it says why not

    def start_text(self, state: State) -> str:
        """The text with which the page begins: the file's, or the sample's where there is none."""
        return sample.text(sample.Answers(name="Hut")) if state.digest == ABSENT else state.text

    def save(self, text: str, digest: str) -> State:
        """Write `text` over the file whose bytes have `digest`, whole or not at all; returns its new state.

        Raises Conflict where the file is another by now, ConfigError where the text is no configuration, UsageError
        where no file was named, CannotWriteError for the disk. Nothing is written then.
        """
        if self.path is None:
            raise UsageError("no file was named at the start: download the text, or start sunsched planner hut.toml")
        parsed(text.encode(), self.name)
        with self._lock:
            now = self.state()
            if now.digest != digest:
                raise Conflict(now)
            content = (_MARK * now.mark + text.replace("\r\n", "\n").replace("\n", now.newline)).encode()
            if not self._parent_is_there():
                raise CannotWriteError(f"{self.name}: its folder is gone; nothing was written")
            # The keeper asked for this very file to be changed.
            write_all({self.path: content}, force=True)
            return State(text, _digest(content), now.mark, now.newline)

    def _parent_is_there(self) -> bool:
        assert self.path is not None
        return self.path.parent.exists()


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def difference(one: str, other: str, one_name: str, other_name: str) -> str:
    """What differs between two texts, line by line, '' where nothing does."""
    lines = unified_diff(one.split("\n"), other.split("\n"), one_name, other_name, n=2, lineterm="")
    return "\n".join(lines)
