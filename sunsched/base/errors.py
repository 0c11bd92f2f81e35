"""The errors a keeper may see. Each has the exit code with which the command ends."""

from __future__ import annotations

from typing import NamedTuple


class SunschedError(Exception):
    """An error with a message for the keeper; `exit_code` is what the command ends with."""

    exit_code = 1


class CheckError(SunschedError):
    """A check found a fault: a table differs from its plan, a renewal is refused."""

    exit_code = 1


class CapacityError(SunschedError):
    """No table fits the room or the error asked for; the message says by how much."""

    exit_code = 1


class UsageError(SunschedError):
    """Options that contradict each other, or a value the command line cannot take."""

    exit_code = 2


class DamagedError(SunschedError):
    """A table, image or sites file is damaged or is not what it says it is."""

    exit_code = 65


class LogError(SunschedError):
    """A light log or a list of nights cannot be read; the message names the row."""

    exit_code = 65


class MissingFileError(SunschedError):
    """A file is missing, is a folder, or may not be read."""

    exit_code = 66


class NoAnswerError(SunschedError):
    """Nothing answers on the serial line, or something that is not the door's program."""

    exit_code = 69


class BrokenOffError(SunschedError):
    """The serial line broke off in the middle of the work."""

    exit_code = 74


class CannotWriteError(SunschedError):
    """A file cannot be written, or was not written by this tool and is left alone."""

    exit_code = 73


class RangeError(SunschedError, ValueError):
    """A number outside the range for which the answer is known."""

    exit_code = 78


class Problem(NamedTuple):
    """One mistake in a configuration: where, what stands there, and what was wanted."""

    file: str
    key: str
    got: str
    wanted: str
    hint: str = ""

    def in_file(self, file: str) -> Problem:
        """The same mistake with the file's name, which the lower floors do not have."""
        return self if self.file else self._replace(file=file)

    def __str__(self) -> str:
        where = ": ".join(part for part in (self.file, self.key) if part)
        text = f"{where} is {self.got}; wanted {self.wanted}"
        return f"{text} ({self.hint})" if self.hint else text


MOST_PROBLEMS = 50


class ConfigError(SunschedError):
    """A configuration that cannot be used; `problems` holds its mistakes, `others` counts those that are not listed.

    At most MOST_PROBLEMS are listed: whoever mends these sees the next ones.
    """

    exit_code = 78

    def __init__(self, *problems: Problem, others: int = 0) -> None:
        self.problems = problems[:MOST_PROBLEMS]
        self.others = others + len(problems) - len(self.problems)
        lines = [str(problem) for problem in self.problems]
        if self.others:
            file = self.problems[0].file if self.problems else ""
            lines.append(f"{file}: and {self.others} more mistakes".removeprefix(": "))
        super().__init__("\n".join(lines))
