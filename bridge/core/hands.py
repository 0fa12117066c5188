"""Knows: which keys fingers hold and which pedals are down, per port and channel, as MIDI 1.0 says.

Must never know: lamps, rules, or what a key lights.

Source: MIDI 1.0 Detailed Specification 4.2 (controllers 64, 66, 67, 120..127; active sensing) and
MMA RP-015 (what a reset of all controllers leaves alone).
"""

from __future__ import annotations

from typing import TypeAlias

from bridge.values.events import Control, Event, NoteOff, NoteOn, RealTime

Key: TypeAlias = tuple[str, int, int]
"""(port, channel 1..16, note 0..127)."""

Place: TypeAlias = tuple[str, int]
"""(port, channel 1..16)."""

SENSING_SECONDS = 0.33
"""Silence after which a port that used active sensing counts as gone: 300 ms and a tenth (MIDI 1.0)."""

SUSTAIN, SOSTENUTO, SOFT = 64, 66, 67
ALL_SOUND_OFF, RESET_CONTROLLERS, ALL_NOTES_OFF = 120, 121, 123


class Hands:
    """Keys and pedals; it answers questions, and others act on the answers."""

    def __init__(self) -> None:
        self.down: dict[Key, int] = {}
        self._sustain: set[Place] = set()
        self._caught: dict[Place, frozenset[int]] = {}
        self._soft: set[Place] = set()
        self._sensing: dict[str, float] = {}

    def press(self, event: NoteOn) -> Key:
        """A finger goes down; the key."""
        key = (event.port, event.channel, event.note)
        self.down[key] = event.velocity
        return key

    def lift(self, event: NoteOff) -> Key:
        """A finger comes up; the key (which need not have been down)."""
        key = (event.port, event.channel, event.note)
        self.down.pop(key, None)
        return key

    def held(self, key: Key) -> bool:
        """True while a finger holds the key."""
        return key in self.down

    def pedalled(self, key: Key) -> bool:
        """True while a pedal would hold the key with the finger gone."""
        place = key[:2]
        return place in self._sustain or key[2] in self._caught.get(place, ())

    def soft(self, key: Key) -> bool:
        """True while the soft pedal of the key's port and channel is down."""
        return key[:2] in self._soft

    def pedal(self, event: Control) -> bool:
        """Take a pedal's move (64, 66, 67; down from 64 up); True if keys may have lost their hold."""
        place, down = (event.port, event.channel), event.value >= 64
        if event.control == SUSTAIN:
            (self._sustain.add if down else self._sustain.discard)(place)
        elif event.control == SOFT:
            (self._soft.add if down else self._soft.discard)(place)
        elif down:
            # Only the edge catches keys: a pedal that keeps sending 127 does not catch later ones.
            self._caught.setdefault(place, frozenset(key[2] for key in self.down if key[:2] == place))
        else:
            self._caught.pop(place, None)
        return not down and event.control != SOFT

    def pedals_up(self, place: Place) -> None:
        """All pedals of a port and channel come up (reset of all controllers, RP-015)."""
        self._sustain.discard(place)
        self._soft.discard(place)
        self._caught.pop(place, None)

    def keys_of(self, port: str, channel: int | None = None) -> list[Key]:
        """The keys fingers hold on a port, or on one of its channels."""
        return [key for key in self.down if key[0] == port and channel in (None, key[1])]

    def forget(self, port: str) -> list[Key]:
        """The port is gone: its keys and pedals come up; returns the keys that were down."""
        keys = self.keys_of(port)
        for key in keys:
            del self.down[key]
        for place in {place for place in (*self._sustain, *self._soft, *self._caught) if place[0] == port}:
            self.pedals_up(place)
        self._sensing.pop(port, None)
        return keys

    def sign_of_life(self, event: Event) -> None:
        """Note that a port spoke: it matters once the port has used active sensing."""
        port = getattr(event, "port", None)
        if port is None:
            return
        if isinstance(event, RealTime) and event.kind == "active_sensing":
            self._sensing[port] = event.stamp
        elif port in self._sensing:
            self._sensing[port] = max(self._sensing[port], event.stamp)

    @property
    def sensing(self) -> bool:
        """True while some port must keep giving signs of life."""
        return bool(self._sensing)

    def fallen_silent(self, t: float) -> list[tuple[str, float]]:
        """Ports whose active sensing stopped, each with the moment it ran out."""
        return [(p, at + SENSING_SECONDS) for p, at in self._sensing.items() if t - at > SENSING_SECONDS]
