"""Knows: what stands at a moment until somebody changes it, as marks by name, and how marks come back.

Must never know: files, who keeps the marks, how any source draws.

Fingers and pedals do not stand: nobody knows where they are when a show begins again. A lamp that is lit
from outside is such a finger too, as is a blackout; but what was dark by a blackout comes back dark, so that
a show never begins brighter than it was.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence

import numpy as np

from bridge.core.chord_source import ChordSource
from bridge.core.feels import Feels
from bridge.core.key_source import KeySource
from bridge.core.knobs import Knobs
from bridge.core.looks import Looks
from bridge.core.mixing import Indices
from bridge.core.texture_source import TextureSource
from bridge.values.events import Mark, Restore
from bridge.values.mapping import Mapping
from bridge.values.rig import Lamps, Rig

DARK = Mark("dark")
"""The rig was blacked out."""

LIGHTS = ("latch", "texture", "chord", "set level", "set look")
"""Marks that light something, and stay away after a blackout."""

LONGEST_NAME = 120


class LampNames:
    """Spells sets of lamps by their names, so that they are known again in an edited mapping."""

    def __init__(self, rig: Rig) -> None:
        self._names = [lamp.name for lamp in rig.lamps]
        self._known: dict[bytes, str] = {}

    def spell(self, lamps: Indices | Lamps) -> str:
        """The lamps' names; of many the first, their number and a checksum (CRC-32, ITU-T V.42)."""
        key = np.asarray(lamps, dtype=np.intp).tobytes()
        found = self._known.get(key)
        if found is None:
            names = [self._names[lamp] for lamp in lamps]
            found = " ".join(names)
            if len(found) > LONGEST_NAME:
                found = f"{names[0]} and {len(names) - 1} more ({zlib.crc32(found.encode()):08x})"
            self._known[key] = found
        return found


class Standing:
    """Reads the marks of one mapping at work, and brings them back.

    Args:
        rig, mapping, feels: what is at work; the others are its sources of light and its settings.
    """

    def __init__(
        self,
        rig: Rig,
        mapping: Mapping,
        feels: Feels,
        knobs: Knobs,
        looks: Looks,
        keys: KeySource,
        textures: TextureSource,
        chords: ChordSource,
    ) -> None:
        self._spell = LampNames(rig).spell
        self._tempo, self._feels = mapping.tempo, feels
        self._knobs, self._looks = knobs, looks
        self._keys, self._textures, self._chords = keys, textures, chords

    def read(self, t: float, dark: bool) -> tuple[Mark, ...]:
        """What stands at `t`, settings before the lights that they shape; changes nothing.

        Args:
            dark: the rig is blacked out.
        """
        marks = [DARK] if dark else []
        if self._feels.tempo != self._tempo:
            marks.append(Mark("tempo", numbers=(self._feels.tempo,)))
        marks += self._knobs.standing(self._spell)
        marks.append(self._looks.standing(t))
        marks += self._keys.standing(self._spell, t)
        marks += self._textures.standing(t)
        marks += self._chords.standing(t)
        return tuple(marks)

    def restore(self, event: Restore) -> None:
        """Bring back what fits."""
        marks: Sequence[Mark] = event.marks
        if DARK in marks:
            marks = [mark for mark in marks if mark.what not in (*LIGHTS, "look")] + [Mark("look")]
        fade, stamp = max(0.0, event.fade), event.stamp
        for mark in marks:
            if mark.what == "tempo" and mark.number(0) > 0.0:
                self._feels.tempo = mark.number(0)
            elif mark.what.startswith("set "):
                self._knobs.restore(mark, self._spell, fade, stamp)
            elif mark.what == "look":
                self._looks.restore(mark, fade, stamp)
            elif mark.what == "latch" and 0 <= mark.note < 128:
                self._keys.restore(mark, self._spell, fade, stamp)
            elif mark.what == "texture":
                self._textures.restore(mark, fade, stamp)
            elif mark.what == "chord":
                self._chords.restore(mark, fade, stamp)
