"""Knows: what the analysis is asked to listen to, as a value that crosses to its process.

Must never know: how any of it is done.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.values.sound import USUAL_HEARING, Hearing


@dataclass(frozen=True, slots=True)
class Listening:
    """What to listen to, and how.

    Args:
        file: a sound file; empty for an input.
        device: a part of the input's name, its number, or None for the system's default.
        hearing: bands and how levels follow.
        at: the show time, in seconds, at which the file's second 0 belongs.
        ahead: analyse the whole file for its beats before (librosa), where that is installed.
    """

    file: str = ""
    device: str | int | None = None
    hearing: Hearing = USUAL_HEARING
    at: float = 0.0
    ahead: bool = True

    @property
    def name(self) -> str:
        """What is listened to, for people and for events."""
        if self.file:
            return self.file.replace("\\", "/").rsplit("/", 1)[-1]
        return "sound input" if self.device is None else str(self.device)
