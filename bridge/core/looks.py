"""Knows: looks, standing pictures under what is played, and the fade from one to the next.

Must never know: what called a look, masters, slots.
"""

from __future__ import annotations

from collections.abc import Mapping as ReadOnly

import numpy as np

from bridge.values.events import Mark
from bridge.values.numbers import Floats

FADE_OVER = 0.5
"""Seconds in which a look becomes what another mapping makes of it."""


class Looks:
    """The look in force; a new one fades in from whatever the fade before it had reached."""

    def __init__(self, looks: ReadOnly[str, tuple[tuple[int, float], ...]], lamps: int) -> None:
        self._dark: Floats = np.zeros(lamps)
        self._pictures = {name: self._picture(pairs) for name, pairs in looks.items()}
        self._from = self._to = self._dark
        self._start = self._fade = 0.0
        self.name = ""
        """The look in force or on its way in; empty for none."""

    def _picture(self, pairs: tuple[tuple[int, float], ...]) -> Floats:
        picture = self._dark.copy()
        for lamp, level in pairs:
            picture[lamp] = level
        return picture

    def call(self, name: str, fade: float, stamp: float) -> None:
        """Bring in a look over `fade` seconds; an empty or unknown name fades to none."""
        self._from = self._at(stamp)
        self._to = self._pictures.get(name, self._dark)
        self._start, self._fade = stamp, fade
        self.name = name if name in self._pictures else ""

    def adopt(self, old: Looks, stamp: float, keep: bool = True) -> None:
        """Take over from another mapping: the look of the same name as it now is, else none.

        Args:
            keep: False for the mapping of another song: a look it does not know goes on standing, so that
                the lamps never go dark between songs by accident.
        """
        unknown = self._dark if keep else old._to
        self._from = old._at(stamp)
        self._to = self._pictures.get(old.name, unknown)
        self.name = old.name if old.name in self._pictures or not keep else ""
        self._start, self._fade = stamp, FADE_OVER

    def standing(self, t: float) -> Mark:
        """The look in force, and the seconds until it has come in."""
        return Mark("look", self.name, numbers=(max(0.0, self._start + self._fade - t),))

    def restore(self, mark: Mark, fade: float, stamp: float) -> None:
        """Bring back a look, or that there was none; one that is not known any more changes nothing."""
        if not mark.name or mark.name in self._pictures:
            self.call(mark.name, max(fade, mark.number(0)), stamp)

    def _at(self, t: float) -> Floats:
        done = t - self._start
        if done < 0.0:
            # A late event: it happened before the call that came first.
            return self._from
        if done >= self._fade:
            return self._to
        out: Floats = self._from + (self._to - self._from) * (done / self._fade)
        return out

    def mix(self, levels: Floats, t: float) -> bool:
        """Raise `levels` (N lamps, in place) to the look at `t`; True while it fades."""
        picture = self._at(t)
        if picture is not self._dark:
            np.maximum(levels, picture, out=levels)
        return t - self._start < self._fade
