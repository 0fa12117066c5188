"""Knows: the order of things: events, sources, masters, blackout, response, guards, slots.

Must never know: the clock, devices, files, or that outputs exist.

Laws (each a test): same events, same bytes; levels before the guards depend on times alone; a note that
begins and ends between two frames shows in one; no voice with a closed gate stays lit; no source bypasses
a guard.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from bridge.core.dials import Dials
from bridge.core.guards import Guard, build_guards
from bridge.core.hands import Hands, Key
from bridge.core.patch import Patch
from bridge.core.player import Player
from bridge.values.events import Event, Mark, NewMapping, Picture
from bridge.values.frame import Frame
from bridge.values.mapping import Mapping
from bridge.values.numbers import Floats
from bridge.values.rig import Rig


class Engine:
    """The one machine that live, offline and replay run.

    Args:
        rig: the lamps.
        mapping: what plays them, resolved against this rig.
    """

    def __init__(self, rig: Rig, mapping: Mapping) -> None:
        self.rig = rig
        self._t = 0.0
        self._patch = Patch(rig)
        self._player = Player(rig, mapping, Hands(), Dials())
        self.guards: dict[str, Guard] = build_guards(rig, self._patch.steps)
        self._guards = tuple(self.guards.values())
        self._dirty = True
        self._moving = False
        self._shown: Floats | None = None
        self._drive: Floats = np.zeros(len(rig.lamps))
        self._slots = self._patch.slots(self._drive)

    @property
    def mapping(self) -> Mapping:
        """The mapping in force."""
        return self._player.mapping

    @property
    def blackout(self) -> bool:
        """True while the rig is blacked out by a key, a toggle or the page."""
        return self._player.blackout

    @property
    def master(self) -> float:
        """The master of the whole rig, 0..1."""
        return self._player.knobs.master

    @property
    def look(self) -> str:
        """The look in force, empty for none."""
        return self._player.looks.name

    @property
    def textures(self) -> list[str]:
        """Names of the textures that are on, undermost first."""
        return self._player.textures.seen

    @property
    def unheard(self) -> dict[Key, int]:
        """Notes that arrived and that no rule heard, and how often."""
        return self._player.unheard

    @property
    def recent(self) -> Sequence[tuple[Event, bool]]:
        """The last arrivals from hands, and whether a rule heard each."""
        return self._player.recent

    @property
    def chord(self) -> tuple[str, str]:
        """The name of the chord that fingers hold, and of the shape it draws; empty for none."""
        return self._player.chord

    @property
    def tempo(self) -> tuple[str, float]:
        """What rules the beat (clock, tap, sound or set), and how many beats a minute."""
        return self._player.music.conductor.ruler(self._t), self._player.feels.tempo

    def beat(self, t: float) -> float:
        """The beat at `t` seconds, 0 at the beginning of the show; for what goes with the lamps' time."""
        return self._player.feels.beats.at(t)

    @property
    def bands(self) -> tuple[float, ...]:
        """The newest levels heard, 0..1 from the lowest band up; none where nothing is heard."""
        return self._player.music.source.bands

    def standing(self, t: float) -> tuple[Mark, ...]:
        """What stands at `t` until somebody changes it, for a `Restore` after a bad end; changes nothing."""
        return self._player.standing(t)

    def take_wishes(self) -> list[str]:
        """Words of `does` that the shell must act on, since the last call."""
        wishes, self._player.wishes = self._player.wishes, []
        return wishes

    def dark(self) -> npt.NDArray[np.uint8]:
        """Slots of a dark rig, shape (universes, 512): what goes out before the first frame."""
        return np.zeros_like(self._slots)

    def advance(self, events: Sequence[Event], t: float, early: bool = False) -> Frame:
        """The picture at `t`, given what has happened since the last call.

        Args:
            events: each with a stamp <= t, in order of stamp, then arrival. A stamp before the last `t`
                is legal and counts from its own time.
            t: seconds since the show began; never less than in the call before.
            early: not every output sends this frame, so a note that begins and ends between two steady ones
                must show in the next of them too.

        Raises:
            ValueError: `t` went back (our own mistake, never the player's).
        """
        if t < self._t:
            raise ValueError(f"time went back from {self._t} to {t}")
        for event in events:
            self._take(event)
        if self._player.time_passes(t):
            self._dirty = True
        self._t = t
        if self._dirty or self._moving:
            levels, moving = self._player.levels(t, self._shown is None, early)
            self._moving = moving or early
            self._drive = self._patch.drive(levels)
            if self._shown is not None:
                self._drive = self._with_picture(self._shown)
            self._dirty = False
        elif all(guard.settled for guard in self._guards):
            return Frame(t, self._patch.universes, self._slots)
        drive = self._drive
        for guard in self._guards:
            drive = guard.apply(drive, t)
        self._slots = self._patch.slots(drive)
        return Frame(t, self._patch.universes, self._slots)

    def _with_picture(self, shown: Floats) -> Floats:
        """A take's frame under what is played; a blackout darkens it too, the master does not lower it."""
        if self._player.blackout:
            return self._drive
        out: Floats = np.maximum(self._drive, shown)
        return out

    def _take(self, event: Event) -> None:
        if isinstance(event, NewMapping):
            if isinstance(event.mapping, Mapping):
                old = self._player
                self._player = Player(self.rig, event.mapping, old.hands, old.dials)
                self._player.adopt(old, event.stamp, event.keep)
        elif isinstance(event, Picture):
            self._shown = self._patch.read(event.universes, event.slots) if event.universes else None
        elif not self._player.take(event):
            return
        self._dirty = True
