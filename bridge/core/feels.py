"""Knows: the envelope times in force: those of the file, and those a knob has set since; and the tempo.

Must never know: keys, lamps, which knob it was.
"""

from __future__ import annotations

from dataclasses import replace

from bridge.core.beats import Beats
from bridge.values.mapping import Feel

MIDDLE_LIFT = 64
"""Release velocity of keyboards that do not measure it (MIDI 1.0)."""

LIFT_OCTAVE = 32.0
"""Steps of release velocity that halve the release time."""


class Feels:
    """Feels as they are now.

    Args:
        tempo: beats a minute to begin with.
    """

    def __init__(self, tempo: float) -> None:
        self.beats = Beats(tempo)
        self.fade = 0.0
        """Seconds of a look's fade where its rule gives none."""
        self._set: dict[tuple[str, str], float] = {}
        self._known: dict[tuple[str, Feel], Feel] = {}

    @property
    def tempo(self) -> float:
        """Beats a minute now; set, it holds from the moment of the event that is being taken."""
        return self.beats.tempo

    @tempo.setter
    def tempo(self, value: float) -> None:
        self.beats.tempo = value

    def set(self, name: str, part: str, value: float) -> None:
        """Set attack, decay, release (seconds) or sustain of the feel `name`, or of all where it is empty."""
        self._set[name, part] = value
        self._known.clear()

    def now(self, name: str, feel: Feel) -> Feel:
        """The feel `name`, which the file says is `feel`, as it is now."""
        if not self._set:
            return feel
        found = self._known.get((name, feel))
        if found is None:
            changes = {part: value for (who, part), value in self._set.items() if who == ""}
            changes |= {part: value for (who, part), value in self._set.items() if who and who == name}
            found = self._known[name, feel] = replace(feel, **changes)
        return found

    def lifted(self, feel: Feel, velocity: int) -> Feel:
        """The feel for a lift at `velocity` 0..127: twice as quick for every 32 over 64, and slower below."""
        if velocity == MIDDLE_LIFT:
            return feel
        return replace(feel, release=feel.release * 2.0 ** ((MIDDLE_LIFT - velocity) / LIFT_OCTAVE))

    def seconds(self, beats: float) -> float:
        """How long so many beats last now."""
        return beats * 60.0 / self.tempo
