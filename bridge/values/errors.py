"""Knows: every error Lampwright raises on purpose, and whose fault each one is.

Must never know: who catches them, or how they are shown.

    BridgeError
      FileError      what the player wrote is wrong (rig, mapping, set list): all problems at once; exit 2
      UsageError     what the player typed on the command line is wrong; exit 2
      WireError      the far end sent rubbish: count it, show it, play on
      DeviceError    a port, socket or device failed; carries the remedy
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


class BridgeError(Exception):
    """The root: anything Lampwright raises on purpose."""


class UsageError(BridgeError):
    """A command-line argument that cannot be used."""


class WireError(BridgeError):
    """Bytes from outside that are not what their protocol says."""


class DeviceError(BridgeError):
    """A device or port that failed.

    Args:
        what: what happened, in one line.
        remedy: what the player can do about it; may be empty.
    """

    def __init__(self, what: str, remedy: str = "") -> None:
        super().__init__(f"{what}; {remedy}" if remedy else what)
        self.what = what
        self.remedy = remedy


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One mistake in a file the player wrote.

    Args:
        line: 1-based line, 0 where no line can be named.
        column: 1-based column, 0 where none can be named.
        what: what is wrong.
        right: what would be right; may be empty.
        file: the file's name as the player gave it.
        warning: True for what is odd yet playable.
    """

    line: int
    column: int
    what: str
    right: str = ""
    file: str = ""
    warning: bool = False

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}:{self.column}: " if self.line else f"{self.file}: "
        kind = "warning: " if self.warning else ""
        tail = f"; {self.right}" if self.right else ""
        return f"{place}{kind}{self.what}{tail}"


class FileError(BridgeError):
    """Everything that is wrong in the files the player wrote, in the order of the file."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))
