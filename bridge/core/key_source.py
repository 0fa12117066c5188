"""Knows: keys as a source of light: which rule hears a key, the voices it starts, what ends them.

Must never know: pedals' bytes, masters, guards, slots, how voices add up.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np

from bridge.core.feels import Feels
from bridge.core.hands import Hands, Key, Place
from bridge.core.mixing import Indices, mix_voices
from bridge.core.ports import PortNames
from bridge.core.strides import LEAST, Strides
from bridge.core.voice import Voice
from bridge.parts.curves import velocity_table
from bridge.values.events import Mark, NoteOn
from bridge.values.mapping import Feel, KeyRule, Mapping
from bridge.values.numbers import Floats

SOFT_PEDAL = 0.6
"""A note struck with the soft pedal down plays at this share of its level (ours to say, and said)."""

REPEAT_SHARE = 0.5
"""Share of each step for which a repeated note stays on."""

Name = tuple[int, Key]
"""Which rule, which key."""


@dataclass(frozen=True, slots=True)
class Heard:
    """One rule's answer to one note: the rule's number, the lamps, and what a strike is worth."""

    number: int
    rule: KeyRule
    lamps: Indices
    levels: tuple[float, ...]


class Sound:
    """A voice with the rule and lamps it belongs to, and the strike it repeats."""

    __slots__ = ("heard", "level", "orphan", "strides", "voice")

    def __init__(self, heard: Heard) -> None:
        self.voice = Voice(heard.rule.mode == "shot", heard.rule.min_on)
        self.heard = heard
        self.level = 0.0
        self.strides: Strides | None = None
        self.orphan = False

    @property
    def next_strike(self) -> float | None:
        """Seconds of the strike to come by itself; None for none. Set, the repeat begins there, or ends."""
        return None if self.strides is None else self.strides.at

    @next_strike.setter
    def next_strike(self, at: float | None) -> None:
        self.strides = None if at is None else Strides(at)


class KeySource:
    """Voices by (rule, key), in the order in which they were struck."""

    def __init__(self, mapping: Mapping, ports: PortNames, feels: Feels) -> None:
        self._ports, self._feels = ports, feels
        self._by_note: list[list[Heard]] = [[] for _ in range(128)]
        self._layered = any(rule.merge == "latest" or rule.solo for rule in mapping.keys)
        self._sounds: dict[Name, Sound] = {}
        self._pressures: dict[Key | Place, int] = {}
        self._struck: dict[Name, float] = {}
        feels.beats.followers.append(self._repeat_until)
        shared: dict[tuple[int, ...], Indices] = {}
        for number, rule in enumerate(mapping.keys):
            levels = velocity_table(rule.curve, rule.between)
            for note, lamps in zip(rule.notes, rule.lamps, strict=True):
                # One array per set of lamps, so that mixing can group voices by identity.
                array = shared.setdefault(lamps, np.asarray(lamps, dtype=np.intp))
                if lamps:
                    self._by_note[note].append(Heard(number, rule, array, levels))

    def hearing(self, key: Key) -> list[Heard]:
        """The rules that hear a key."""
        port, channel, note = key
        return [
            heard
            for heard in self._by_note[note]
            if heard.rule.channel in (None, channel) and self._ports.matches(port, heard.rule.source)
        ]

    def strike(self, event: NoteOn, soft: bool) -> bool:
        """A key was struck: start its voices; a latch that is on goes off. True if a rule heard it."""
        key = (event.port, event.channel, event.note)
        hearing = self.hearing(key)
        # Pressure on a key ends with the key; some keyboards do not say so.
        self._pressures.pop(key, None)
        for heard in hearing:
            rule = heard.rule
            if not rule.velocities[0] <= event.velocity <= rule.velocities[1]:
                continue
            name = (heard.number, key)
            sound = self._sounds.get(name)
            if rule.ignore_repeat and self._bounces(name, event.stamp, rule.ignore_repeat):
                continue
            self._sounds.pop(name, None)
            self._sounds[name] = sound = sound or Sound(heard)
            sound.heard = heard
            if rule.mode == "latch" and sound.voice.gate:
                sound.voice.close(event.stamp)
                continue
            if rule.choke or rule.one_of:
                self._end_rivals(name, rule, event.stamp)
            sound.level = heard.levels[event.velocity] * (SOFT_PEDAL if soft else 1.0)
            sound.next_strike = event.stamp if rule.repeat else None
            if sound.next_strike is None:
                sound.voice.strike(sound.level, self._feels.now(rule.feel_name, rule.feel), event.stamp)
            else:
                self._repeat(sound, event.stamp)
        return bool(hearing)

    def _bounces(self, name: Name, stamp: float, seconds: float) -> bool:
        """True for a strike too soon after the last one that was heard, whatever has become of its light."""
        before = self._struck.get(name)
        if before is not None and 0 <= stamp - before < seconds:
            return True
        self._struck[name] = stamp
        return False

    def _end_rivals(self, name: Name, rule: KeyRule, stamp: float) -> None:
        for other, sound in self._sounds.items():
            theirs = sound.heard.rule
            choked = rule.choke and theirs.choke == rule.choke and other[1] != name[1]
            ousted = rule.one_of and theirs.one_of == rule.one_of and other != name
            if (choked or ousted) and sound.voice.gate:
                sound.next_strike = None
                sound.voice.close(stamp)

    def _repeat(self, sound: Sound, t: float) -> None:
        """Strike again at every step up to `t`, each at its own moment."""
        rule = sound.heard.rule
        beats, feel = self._feels.beats, self._feels.now(rule.feel_name, rule.feel)
        while sound.strides is not None:
            moment = sound.strides.due(beats, t, rule.repeat)
            if moment is None:
                return
            sound.voice.strike(sound.level, feel, moment)
            sound.voice.close_at(moment + REPEAT_SHARE * max(LEAST, self._feels.seconds(rule.repeat)))

    def _repeat_until(self, t: float) -> None:
        """Something happens at `t`: what is due before it is struck before it, at any frame rate."""
        for sound in self._sounds.values():
            if sound.strides is not None:
                self._repeat(sound, t)

    def lift(self, keys: Iterable[Key], hands: Hands, stamp: float, velocity: int = 64) -> None:
        """Fingers came up from keys: close the voices that no pedal holds."""
        gone = set(keys)
        for (_, key), sound in self._sounds.items():
            if key in gone and self._lets_go(key, sound, hands):
                self._close(sound, stamp, velocity)

    def pedal_moved(self, place: Place, hands: Hands, stamp: float) -> None:
        """A pedal came up: close the voices that only it held."""
        for (_, key), sound in self._sounds.items():
            if key[:2] == place and self._lets_go(key, sound, hands):
                self._close(sound, stamp, 64)

    def _lets_go(self, key: Key, sound: Sound, hands: Hands) -> bool:
        rule = sound.heard.rule
        if rule.mode != "hold" or hands.held(key):
            return False
        return not (rule.pedal and hands.pedalled(key))

    def _close(self, sound: Sound, stamp: float, velocity: int) -> None:
        rule, voice = sound.heard.rule, sound.voice
        sound.next_strike = None
        if voice.gate:
            now = self._feels.now(rule.feel_name, rule.feel)
            if rule.release_velocity:
                now = self._feels.lifted(now, velocity)
            if now.release != voice.feel.release:
                voice.feel = replace(voice.feel, release=now.release)
        voice.close(stamp)

    def port_gone(self, port: str, stamp: float) -> None:
        """A port vanished: close what its keys and pedals hold; latches stay, shots run out."""
        for name in [name for name in self._pressures if name[0] == port]:
            del self._pressures[name]
        for (_, key), sound in self._sounds.items():
            if key[0] == port and sound.heard.rule.mode == "hold":
                self._close(sound, stamp, 64)

    def close_all(self, stamp: float) -> None:
        """Close every gate: keys, pedals, latches and shots."""
        for sound in self._sounds.values():
            self._close(sound, stamp, 64)
            sound.voice.end(stamp)

    def silence(self, place: Place) -> None:
        """Dark at once, without a release (all sound off)."""
        for name in [name for name in self._sounds if name[1][:2] == place]:
            del self._sounds[name]

    def press(self, name: Key | Place, value: int) -> None:
        """Pressure 0..127 on a key, or on all keys of a port and channel."""
        self._pressures[name] = value

    def release_pressure(self, place: Place) -> None:
        """All pressure of a port and channel is gone (reset of all controllers)."""
        self._pressures = {name: value for name, value in self._pressures.items() if name[:2] != place}

    def _swell(self, key: Key, sound: Sound) -> float:
        """The gain that pressure gives a note."""
        amount, peak = sound.heard.rule.aftertouch, sound.level
        value = max(self._pressures.get(key, 0), self._pressures.get(key[:2], 0))
        if not value or peak <= 0.0:
            return 1.0
        return 1.0 + amount * value / 127.0 * (1.0 / peak - 1.0)

    def standing(self, spell: Callable[[Indices], str], t: float) -> list[Mark]:
        """Latches that are on: (level it holds, of its strike, seconds of rise left, softest, hardest)."""
        out: list[Mark] = []
        for (_, key), sound in self._sounds.items():
            rule, voice = sound.heard.rule, sound.voice
            if rule.mode == "latch" and not sound.orphan and (voice.stands or sound.next_strike is not None):
                level, rest = (voice.holds, voice.rises(t)) if voice.stands else (sound.level, 0.0)
                numbers = (level, sound.level, rest, *map(float, rule.velocities))
                out.append(Mark("latch", spell(sound.heard.lamps), *key, numbers))
        return out

    def restore(self, mark: Mark, spell: Callable[[Indices], str], fade: float, stamp: float) -> None:
        """Put a latch on again where a rule with the same lamps hears its key: it rises, unstruck."""
        key = (mark.port, mark.channel, mark.note)
        fits = [h for h in self.hearing(key) if h.rule.mode == "latch" and spell(h.lamps) == mark.name]
        # Of several rules on the same lamps, those that hear the same strokes; of these the next that is off.
        fits = [heard for heard in fits if heard.rule.velocities == mark.numbers[3:5]] or fits
        for heard in fits:
            sound = self._sounds.get((heard.number, key))
            if sound is None or not (sound.voice.gate or sound.next_strike is not None):
                break
        else:
            return
        rule, name = heard.rule, (heard.number, key)
        self._sounds.pop(name, None)
        self._sounds[name] = sound = sound or Sound(heard)
        if rule.choke or rule.one_of:
            self._end_rivals(name, rule, stamp)
        sound.level = mark.level(1)
        if rule.repeat:
            sound.next_strike = stamp
            self._repeat(sound, stamp)
        else:
            release = self._feels.now(rule.feel_name, rule.feel).release
            feel = Feel(attack=max(fade, mark.number(2)), release=release)
            sound.voice.strike(mark.level(0), feel, stamp)

    def adopt(self, old: KeySource, hands: Hands, stamp: float, keep: bool) -> None:
        """Take over what another mapping was sounding.

        Held notes go on under the rules that now hear them; what no rule hears any more is let go.

        Args:
            keep: False lets everything go.
        """
        self._pressures = dict(old._pressures)
        for (_, key), sound in old._sounds.items():
            rule = sound.heard.rule
            now = next((h for h in self.hearing(key) if _same_place(h, sound.heard)), None)
            if not keep or now is None or sound.orphan:
                sound.orphan = True
                old._close(sound, stamp, 64)
                self._sounds[-1 - len(self._sounds), key] = sound
                continue
            self._sounds[now.number, key] = sound
            sound.heard = now
            sounding = sound.voice.gate or sound.strides is not None
            if sounding and replace(rule, line=0) != replace(now.rule, line=0):
                sound.voice.shot, sound.voice.min_on = now.rule.mode == "shot", now.rule.min_on
                velocity = hands.down.get(key)
                if not now.rule.repeat:
                    sound.next_strike = None
                if velocity is not None and now.rule.mode == "hold" and not now.rule.repeat:
                    sound.level = now.levels[velocity] * (SOFT_PEDAL if hands.soft(key) else 1.0)
                    sound.voice.strike(sound.level, now.rule.feel, stamp)
        if keep:
            self._answer_held(hands, stamp)

    def _answer_held(self, hands: Hands, stamp: float) -> None:
        """Keys that are down and that a new rule hears begin to sound."""
        for key, velocity in hands.down.items():
            for heard in self.hearing(key):
                low, high = heard.rule.velocities
                hears = heard.rule.mode == "hold" and low <= velocity <= high
                if hears and (heard.number, key) not in self._sounds:
                    self._sounds[heard.number, key] = sound = Sound(heard)
                    sound.level = heard.levels[velocity] * (SOFT_PEDAL if hands.soft(key) else 1.0)
                    sound.voice.strike(sound.level, heard.rule.feel, stamp)

    def mix(self, levels: Floats, t: float, early: bool = False) -> bool:
        """Raise `levels` (N lamps, in place) to what the voices give at `t`; True while any of them moves.

        Args:
            early: as `Voice.read`.
        """
        parts: list[tuple[Indices, float, bool, bool]] = []
        over: list[Name] = []
        moving = False
        for name, sound in self._sounds.items():
            voice, rule = sound.voice, sound.heard.rule
            if sound.next_strike is not None:
                self._repeat(sound, t)
                moving = True
            burst = voice.burst > 0.0
            level = voice.read(t, early)
            moving = moving or burst or not voice.still
            if voice.over and sound.next_strike is None:
                over.append(name)
            if rule.aftertouch and level > 0.0:
                level = min(1.0, level * self._swell(name[1], sound))
            parts.append(
                (sound.heard.lamps, level, voice.gate and rule.merge == "latest", rule.solo and voice.gate)
            )
        for name in over:
            del self._sounds[name]
        if parts:
            mix_voices(levels, parts, self._layered)
        return moving


def _same_place(a: Heard, b: Heard) -> bool:
    return a.rule.mode == b.rule.mode and bool(np.array_equal(a.lamps, b.lamps))
