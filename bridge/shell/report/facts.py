"""Knows: what a report says beside what happened: the rig, the machine, how outputs and guards ended.

Must never know: who the player is, or where files lie: neither may stand in a page that is handed around.
"""

from __future__ import annotations

import getpass
import os
import platform
import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from bridge.values.beat import OutputState
from bridge.values.rig import Rig

LONGEST: Final = 400
"""Letters of a name or a note that are shown."""

_SPACES: Final = re.compile(" +")

# Folders before the last part of a path; what begins in /dev or /etc names no person and is advice.
_FOLDERS: Final = re.compile(
    r"""(?<![\w:/\\.~-]) (?!/(?:dev|etc)/) (?:[A-Za-z]:)? [\\/]{1,2} (?:[^\s\\/:;,'"<>|]+[\\/])+""",
    re.VERBOSE,
)


@dataclass(frozen=True, slots=True)
class Machine:
    """The computer: name and release of its system, Python's version, how many cores it has."""

    system: str
    python: str
    cores: int


def this_machine() -> Machine:
    """The one this runs on; its own name and its user's are left out."""
    system = f"{platform.system()} {platform.release()} {platform.machine()}".strip()
    return Machine(system, platform.python_version(), os.cpu_count() or 0)


@dataclass(frozen=True, slots=True)
class Facts:
    """What a report is told at the end of a show.

    Args:
        title: what was played. when: the date and time it began, as text; empty to leave it out.
        states: of each output in the order of the rig, once all are closed.
        held: of each guard that is not off, as `Guard.held`: the share now, and how often it began to hold.
        priority: whether the show had real-time priority, and what `claim_priority` says of it.
        interrupted: True if it was told to end before its time.
        slept: seconds the machine slept meanwhile, where the system tells and its clock stood still for it.
        error: what the engine's last error was; empty for none.
        program: name and version.
    """

    title: str
    rig: Rig
    when: str = ""
    states: Sequence[OutputState] = ()
    held: Mapping[str, tuple[float, int]] = field(default_factory=dict)
    priority: tuple[bool, str] | None = None
    interrupted: bool = False
    slept: float = 0.0
    error: str = ""
    program: str = ""
    machine: Machine = field(default_factory=this_machine)


def plain(text: str) -> str:
    """A text that may stand on a page: one line of writable letters, with no user's name and no folders."""
    text = "".join(letter if _harmless(letter) else " " for letter in text)
    for home in _homes():
        text = text.replace(home, "~")
    text = _FOLDERS.sub("", text)
    for user in _users():
        text = re.sub(rf"\b{re.escape(user)}\b", "you", text)
    text = _SPACES.sub(" ", text).strip()
    return text if len(text) <= LONGEST else text[: LONGEST - 1] + "…"


def _harmless(letter: str) -> bool:
    # Controls, halves of surrogate pairs, and marks that turn the direction of what follows.
    kind = unicodedata.category(letter)
    return kind not in ("Cc", "Cs", "Cn", "Zl", "Zp") and not (
        kind == "Cf" and unicodedata.bidirectional(letter) != "BN"
    )


def _homes() -> list[str]:
    try:
        home = str(Path.home())
    except (OSError, RuntimeError):
        return []
    return [home] if len(home) > 3 else []


def _users() -> list[str]:
    try:
        user = getpass.getuser()
    except (OSError, KeyError, ImportError):
        return []
    # The system's own user is no person, and words as short as that occur in names of lamps.
    return [user] if len(user) > 3 and user != "root" else []
