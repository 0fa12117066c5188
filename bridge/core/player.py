"""Knows: one mapping at work: it takes events and gives a level for every lamp.

Must never know: response curves, guards, slots, the clock.
"""

from __future__ import annotations

from collections import deque

import numpy as np

from bridge.core.actions import Actions
from bridge.core.chord_source import ChordSource
from bridge.core.dials import Dials, Turn
from bridge.core.feels import Feels
from bridge.core.hands import (
    ALL_NOTES_OFF,
    ALL_SOUND_OFF,
    RESET_CONTROLLERS,
    SOFT,
    SOSTENUTO,
    SUSTAIN,
    Hands,
    Key,
    Place,
)
from bridge.core.key_source import KeySource
from bridge.core.knobs import Knobs
from bridge.core.looks import Looks
from bridge.core.music import Music
from bridge.core.ports import PortNames
from bridge.core.standing import Standing
from bridge.core.texture_source import TextureSource
from bridge.parts.chords import name
from bridge.values.events import (
    Bend,
    ChannelPressure,
    Control,
    Do,
    Event,
    KeyPressure,
    Mark,
    NoteOff,
    NoteOn,
    PortGone,
    Program,
    RealTime,
    Restore,
    SongPosition,
)
from bridge.values.mapping import DoRule, Mapping
from bridge.values.numbers import Floats
from bridge.values.rig import Rig
from bridge.values.sound import BeatHeard, Onset, Sound

UNHEARD_KEPT = 128
RECENT_KEPT = 12


class Player:
    """The sources of light of one mapping, and the hands that play them.

    Args:
        rig: the lamps.
        mapping: resolved against this rig.
        hands: which keys and pedals are down; they outlive a mapping.
        dials: the halves of wide values; they outlive a mapping too.
    """

    def __init__(self, rig: Rig, mapping: Mapping, hands: Hands, dials: Dials) -> None:
        self.mapping = mapping
        self.hands, self.dials = hands, dials
        count = len(rig.lamps)
        ports = PortNames(mapping.inputs)
        self.feels = Feels(mapping.tempo)
        self.keys = KeySource(mapping, ports, self.feels)
        self.chords = ChordSource(mapping, ports, self.feels)
        self.knobs = Knobs(mapping, count, ports, self.feels)
        self.looks = Looks(mapping.looks, count)
        self.textures = TextureSource(rig, mapping, ports, self.feels)
        self.knobs.set_texture = self.textures.set
        for listener in self.chords.listeners:
            listener.show = self.textures.show
        self.actions = Actions(mapping, ports)
        self.music = Music(
            mapping, ports, self.feels, self.knobs, self.actions, self._tap_key, self._texture, self._act
        )
        self._standing = Standing(
            rig, mapping, self.feels, self.knobs, self.looks, self.keys, self.textures, self.chords
        )
        self.wishes: list[str] = []
        """Words of `does` that the shell must act on; it empties the list."""
        self.recent: deque[tuple[Event, bool]] = deque(maxlen=RECENT_KEPT)
        """The last arrivals from hands, and whether a rule heard each."""
        self.unheard: dict[Key, int] = {}
        """Notes that no rule heard, and how often."""
        self._blackout = self._dark_from_outside = False
        self._by_name = {lamp.name: (lamp.index,) for lamp in rig.lamps} | dict(rig.groups)
        self._rest: Floats = np.array([lamp.rest for lamp in rig.lamps])
        self._has_rest = bool(self._rest.any())

    @property
    def blackout(self) -> bool:
        """True while the rig is blacked out by a key, a toggle or from outside."""
        return self._blackout or self._dark_from_outside or self.actions.held("blackout")

    @property
    def chord(self) -> tuple[str, str]:
        """The name of the chord that fingers hold, and of the shape it draws; empty for none."""
        held = name(key[2] for key in self.hands.down) or ""
        shapes = [listener.shape_name for listener in self.chords.listeners if listener.shape is not None]
        return held, shapes[0] if shapes else ""

    def adopt(self, old: Player, stamp: float, keep: bool) -> None:
        """Take over from another mapping at `stamp`; with `keep` held notes go on, else they are let go."""
        self._dark_from_outside = old._dark_from_outside
        if any(rule.does == "blackout" and rule.toggle for rule in self.mapping.does):
            # Without such a rule nobody could switch the light on again.
            self._blackout = old._blackout
        self.recent, self.wishes = old.recent, old.wishes
        self.feels.beats.adopt(old.feels.beats, stamp)
        self.textures.adopt(old.textures, stamp, keep)
        self.music.adopt(old.music)
        self.knobs.adopt(old.knobs)
        self.actions.adopt(old.actions)
        self.keys.adopt(old.keys, self.hands, stamp, keep)
        self.chords.adopt(old.chords, stamp, keep)
        self.looks.adopt(old.looks, stamp, keep)

    def standing(self, t: float) -> tuple[Mark, ...]:
        """What stands at `t` until somebody changes it."""
        return self._standing.read(t, self.blackout)

    def levels(self, t: float, resting: bool = True, early: bool = False) -> tuple[Floats, bool]:
        """Levels 0..1 of N lamps at `t`, and whether they are on the move.

        Args:
            resting: lamps show their rest; False under a picture of a take, which holds it already.
            early: as `Voice.read`.
        """
        levels: Floats = np.zeros(len(self._rest))
        moving = self.keys.mix(levels, t, early)
        moving |= self.chords.mix(levels, t, early)
        moving |= self.textures.mix(levels, t, early)
        moving |= self.looks.mix(levels, t)
        moving |= self.music.mix(levels, t, early)
        moving |= self.knobs.mix(levels, t)
        if self._has_rest and resting:
            np.maximum(levels, self._rest, out=levels)
        if self.blackout:
            levels[:] = 0.0
        elif self.knobs.gain is not None:
            levels *= self.knobs.gain
        return levels, moving

    def time_passes(self, t: float) -> bool:
        """What is due by `t` without an event: chords to judge, silent ports. True if something was."""
        changed = self.chords.judge_until(t, self._strike) if self.chords.pending else False
        changed |= self.music.advance(t)
        if self.hands.sensing:
            for port, stamp in self.hands.fallen_silent(t):
                self._port_gone(port, stamp)
                changed = True
        return changed

    def take(self, event: Event) -> bool:
        """An event happened; True if the picture may change."""
        if self.chords.pending:
            self.chords.judge_until(event.stamp, self._strike)
        self.feels.beats.moment = event.stamp
        self.hands.sign_of_life(event)
        if isinstance(event, Sound | Onset | BeatHeard | RealTime | SongPosition):
            return self.music.take(event)
        if isinstance(event, NoteOn):
            self._note_on(event)
        elif isinstance(event, NoteOff):
            self._lift([self.hands.lift(event)], event.stamp, event.velocity)
        elif isinstance(event, Control):
            self._control(event)
        elif isinstance(event, Bend | Program):
            self._turn(event)
        elif isinstance(event, ChannelPressure):
            self.keys.press((event.port, event.channel), event.value)
            self._turn(event)
        elif isinstance(event, KeyPressure):
            self.keys.press((event.port, event.channel, event.note), event.value)
        elif isinstance(event, PortGone):
            self._port_gone(event.port, event.stamp)
        elif isinstance(event, Do):
            self._do(event)
        elif isinstance(event, Restore):
            self._standing.restore(event)
        else:
            return False
        return True

    def _note_on(self, event: NoteOn) -> None:
        key = self.hands.press(event)
        turn = Turn("note", event.note, 1.0)
        heard = self.actions.turn(turn, event.channel, event.port, event.stamp, self._act)
        chord, waits = self.chords.press(event)
        if not waits:
            heard |= self._strike(event)
        heard = heard or chord or waits
        self.recent.append((event, heard))
        if not heard and len(self.unheard) < UNHEARD_KEPT:
            self.unheard[key] = self.unheard.get(key, 0) + 1

    def _strike(self, event: NoteOn) -> bool:
        key = (event.port, event.channel, event.note)
        soft = self.hands.soft(key)
        return self.keys.strike(event, soft) | self.textures.strike(event, soft)

    def _tap_key(self, on: NoteOn, off: NoteOff) -> None:
        """The music struck a key and let go at once: no hand, so no chord and no pedal."""
        self._strike(on)
        keys = [(on.port, on.channel, on.note)]
        self.keys.lift(keys, self.hands, off.stamp, off.velocity)
        self.textures.lift(keys, self.hands, off.stamp)

    def _texture(self, name: str, stamp: float) -> None:
        self.textures.call(name, self.feels.fade, stamp)

    def _turn(self, event: Control | Bend | Program | ChannelPressure) -> None:
        heard = isinstance(event, Control) and (
            event.control in (SUSTAIN, SOSTENUTO, SOFT) or event.control >= 120
        )
        for turn in self.dials.turns(event):
            heard |= self.knobs.turn(turn, event.channel, event.port)
            heard |= self.actions.turn(turn, event.channel, event.port, event.stamp, self._act)
        self.recent.append((event, heard))

    def _control(self, event: Control) -> None:
        place = (event.port, event.channel)
        if event.control in (SUSTAIN, SOSTENUTO, SOFT):
            if self.hands.pedal(event):
                self._pedal_moved(place, event.stamp)
        elif event.control == ALL_SOUND_OFF:
            self.keys.silence(place)
            self.chords.silence(place)
            self.textures.silence(place)
            self._all_notes_off(event)
        elif event.control == RESET_CONTROLLERS:
            self.hands.pedals_up(place)
            self.keys.release_pressure(place)
            self._pedal_moved(place, event.stamp)
        elif event.control >= ALL_NOTES_OFF:
            # 124..127 change modes that do not exist here; all of them imply all notes off.
            self._all_notes_off(event)
        self._turn(event)

    def _pedal_moved(self, place: Place, stamp: float) -> None:
        self.keys.pedal_moved(place, self.hands, stamp)
        self.textures.pedal_moved(place, self.hands, stamp)

    def _all_notes_off(self, event: Control) -> None:
        keys = self.hands.keys_of(event.port, event.channel)
        for port, channel, note in keys:
            self.hands.lift(NoteOff(event.stamp, port, channel, note))
        self._lift(keys, event.stamp)

    def _lift(self, keys: list[Key], stamp: float, velocity: int = 64) -> None:
        for key in keys:
            for waiting in self.chords.lift(key, stamp):
                self._strike(waiting)
        self.keys.lift(keys, self.hands, stamp, velocity)
        self.textures.lift(keys, self.hands, stamp)
        for port, channel, note in keys:
            self.actions.turn(Turn("note", note, 0.0), channel, port, stamp, self._act)

    def _port_gone(self, port: str, stamp: float) -> None:
        keys = self.hands.forget(port)
        for key in keys:
            for waiting in self.chords.lift(key, stamp):
                self._strike(waiting)
        self.keys.port_gone(port, stamp)
        self.textures.port_gone(port, stamp)
        self.actions.port_gone(port)
        self.music.conductor.port_gone(port)
        self.dials.forget(port)

    def _act(self, rule: DoRule, stamp: float) -> None:
        if rule.does == "blackout" and rule.toggle:
            self._blackout = not self._blackout
        elif rule.does == "release_all":
            self.release_all(stamp)
        elif rule.does == "look":
            self.looks.call(rule.look, self.feels.fade if rule.fade is None else rule.fade, stamp)
        elif rule.does == "texture":
            self.textures.call(rule.texture, self.feels.fade if rule.fade is None else rule.fade, stamp)
        elif rule.does == "tap":
            self.music.conductor.tap(stamp)
        elif rule.does != "blackout":
            self.wishes.append(rule.does)

    def release_all(self, stamp: float) -> None:
        """Close every gate of every source."""
        self.keys.close_all(stamp)
        self.chords.close_all(stamp)
        self.textures.close_all(stamp)
        self.music.source.close_all(stamp)

    def _do(self, event: Do) -> None:
        if event.word in ("blackout_on", "blackout_off"):
            self._dark_from_outside = event.word == "blackout_on"
            self._blackout &= self._dark_from_outside
        elif event.word == "release_all":
            self.release_all(event.stamp)
        elif event.word == "look":
            self.looks.call(event.name, event.value, event.stamp)
        elif event.word == "texture":
            self.textures.call(event.name, event.value, event.stamp)
        elif event.word == "tap":
            self.music.conductor.tap(event.stamp)
        elif event.word == "master":
            self.knobs.set_master(event.value)
        elif event.word == "light":
            for lamp in self._by_name.get(event.name, ()):
                self.knobs.set_lamp(lamp, event.value)
        else:
            # What the engine does not know is for the shell, with what it is about.
            self.wishes.append(f"{event.word} {event.name}".strip())
