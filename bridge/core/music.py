"""Knows: what heard music and the beat set off: light, notes, textures, controls, the tempo.

Must never know: how music is heard, or how any of these draw.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from bridge.core.actions import Act, Actions
from bridge.core.conductor import Conductor
from bridge.core.dials import Turn
from bridge.core.feels import Feels
from bridge.core.knobs import Knobs
from bridge.core.ports import FILE_PORT, PortNames
from bridge.core.sound_source import GONE, SoundSource
from bridge.values.events import NoteOff, NoteOn, RealTime, SongPosition
from bridge.values.mapping import Mapping
from bridge.values.numbers import Floats
from bridge.values.sound import MUSIC, BeatHeard, Onset, Sound, SoundRule

Heard = Sound | Onset | BeatHeard | RealTime | SongPosition

SLOWEST, FASTEST = 40.0, 240.0
"""Beats a minute at the two ends of a control that the tempo turns."""

FALLS = 0.1
"""Seconds after which a control that a stroke turned up falls back."""

DEAF = GONE
"""Seconds without a reading after which a control that a band turns falls back."""

CONTINUAL = {"beat", "tempo"}
"""What turns with time alone, between events."""


class Play(Protocol):
    """What a stroke can play."""

    def __call__(self, on: NoteOn, off: NoteOff) -> None: ...


class Music:
    """The music of one mapping.

    Args:
        play: plays a note as a hand would. texture: starts a texture by its name. act: does what a rule says.
    """

    def __init__(
        self,
        mapping: Mapping,
        ports: PortNames,
        feels: Feels,
        knobs: Knobs,
        actions: Actions,
        play: Play,
        texture: Callable[[str, float], None],
        act: Act,
    ) -> None:
        self.source = SoundSource(mapping.sound)
        self.conductor = Conductor(mapping.timing, ports, feels.beats)
        self._beats = feels.beats
        self._knobs, self._actions = knobs, actions
        self._play, self._texture, self._act = play, texture, act
        self._plays = [rule for rule in mapping.sound if rule.strokes and (rule.notes or rule.texture)]
        kinds = {rule.trigger.kind for rule in mapping.sets} | {rule.trigger.kind for rule in mapping.does}
        self._turns = kinds & set(MUSIC)
        self._fall: dict[tuple[str, int], float] = {}
        # First of all: what falls back may set the tempo, and others go by that from then on.
        feels.beats.followers.insert(0, self._fall_until)
        self._said: dict[str, float] = {}

    def take(self, event: Heard) -> bool:
        """Something was heard; True if the picture may change."""
        if isinstance(event, Sound):
            changed = self.source.hear(event)
            if "band" in self._turns:
                for band, level in enumerate(event.bands):
                    self._fall["band", band] = event.stamp + DEAF
                    changed |= self._turn("band", band, level, event.stamp)
            return changed
        if isinstance(event, Onset):
            return self._strike(event)
        if isinstance(event, BeatHeard):
            self.conductor.hear(event)
            return True
        return self.conductor.take(event)

    def advance(self, t: float) -> bool:
        """What the beat and the tempo turn at `t`, and what falls back. True if something moved."""
        moved = self._fall_until(t)
        if self._turns & CONTINUAL:
            # What is turned now, the tempo say, holds from now on.
            self._beats.moment = t
        if "beat" in self._turns:
            moved |= self._turn("beat", 0, self._beats.at(t) % 1.0, t)
        if "tempo" in self._turns:
            share = (self._beats.tempo - SLOWEST) / (FASTEST - SLOWEST)
            moved |= self._turn("tempo", 0, min(1.0, max(0.0, share)), t)
        return moved

    def _fall_until(self, t: float) -> bool:
        """Let fall back what was turned up and is heard no more, at its moment. True if something moved."""
        moved = False
        while self._fall and min(self._fall.values()) <= t:
            kind, band = min(self._fall, key=self._fall.__getitem__)
            until = self._fall.pop((kind, band))
            self._beats.moment = max(self._beats.moment, until)
            moved |= self._turn(kind, band, 0.0, until)
        return moved

    def mix(self, levels: Floats, t: float, early: bool = False) -> bool:
        """Raise `levels` (N lamps, in place) to what the music lights; True while that moves."""
        return self.source.mix(levels, t, early)

    def adopt(self, old: Music) -> None:
        """Take over what another mapping has heard."""
        self.source.adopt(old.source)
        self.conductor.adopt(old.conductor)
        self._fall = {name: until for name, until in old._fall.items() if name[0] in self._turns}

    def _turn(self, kind: str, number: int, value: float, stamp: float) -> bool:
        """Turn the controls that listen to it; a value that stands turns nothing."""
        name = f"{kind} {number}"
        if self._said.get(name) == value:
            return False
        self._said[name] = value
        turn = Turn(kind, number, value)
        heard = self._knobs.turn(turn, 1, kind)
        return self._actions.turn(turn, 1, kind, stamp, self._act) or heard

    def _strike(self, onset: Onset) -> bool:
        changed = self.source.strike(onset)
        for rule in self._plays:
            if rule.band == onset.band and onset.strength >= rule.least:
                self._set_off(rule, onset)
                changed = True
        if "onset" in self._turns:
            turn = Turn("onset", onset.band, onset.strength)
            changed |= self._knobs.turn(turn, 1, "onset")
            pressed = turn._replace(value=1.0)
            changed |= self._actions.turn(pressed, 1, "onset", onset.stamp, self._act)
            self._actions.turn(turn._replace(value=0.0), 1, "onset", onset.stamp, self._act)
            self._said[f"onset {onset.band}"] = onset.strength
            self._fall["onset", onset.band] = onset.stamp + FALLS
        return changed

    def _set_off(self, rule: SoundRule, onset: Onset) -> None:
        if rule.texture:
            self._texture(rule.texture, onset.stamp)
        velocity = max(1, round(127 * min(1.0, onset.strength)))
        for note in rule.notes:
            on = NoteOn(onset.stamp, FILE_PORT, rule.channel, note, velocity)
            self._play(on, NoteOff(onset.stamp, FILE_PORT, rule.channel, note))
