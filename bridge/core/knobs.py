"""Knows: controllers as settings that stand until moved: masters, levels, feels, tempo, looks.

Must never know: keys, envelopes, slots, or what a fader looks like.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from bridge.core.dials import Turn
from bridge.core.feels import Feels
from bridge.core.ports import PortNames
from bridge.parts.curves import velocity_table
from bridge.values.events import Mark
from bridge.values.mapping import Mapping, SetRule, Trigger
from bridge.values.numbers import Floats
from bridge.values.rig import Lamps
from bridge.values.sound import MUSIC
from bridge.values.texture import TEXTURE_SETTINGS

CATCH = 1.5 / 127
"""How near a knob must come to the value in force to take it over, as a share of its way."""


class Target(NamedTuple):
    """What a rule sets: two rules with the same target share its value."""

    what: str
    name: str
    lamps: Lamps


MASTER = Target("master", "", ())


def hears(trigger: Trigger, turn: Turn, channel: int, port: str, ports: PortNames) -> bool:
    """True if a turn on this port and channel sets the trigger off."""
    return (
        trigger.kind == turn.kind
        and (not trigger.numbers or turn.number in trigger.numbers)
        and trigger.channel in (None, channel)
        and ports.matches(port, trigger.source)
    )


class Knob:
    """One rule, where its controller stands, and whether it has taken over."""

    __slots__ = ("_table", "at", "caught", "rule", "target")

    def __init__(self, rule: SetRule) -> None:
        self.rule = rule
        self.target = Target(rule.what, rule.name, rule.lamps)
        self.at: float | None = None
        self.caught = not rule.takeover
        self._table = velocity_table(rule.curve)

    def value(self, x: float) -> float:
        """What position 0..1 sets, in the unit of the rule. The lower stop gives the low end itself."""
        place = x * 127
        cell = min(126, int(place))
        low, high = self._table[cell], self._table[cell + 1]
        first, last = self.rule.between
        return first + (last - first) * (low + (place - cell) * (high - low))

    def meets(self, x: float, now: float) -> bool:
        """True if turning to `x` passes or nears the value `now`."""
        before = self.at if self.at is not None else x
        ends = sorted((self.value(before), self.value(x)))
        near = CATCH * abs(self.rule.between[1] - self.rule.between[0])
        return ends[0] - near <= now <= ends[1] + near


class Knobs:
    """What the controllers have set so far; masters stand at 1 and levels at 0 until moved."""

    def __init__(self, mapping: Mapping, lamps: int, ports: PortNames, feels: Feels) -> None:
        self._ports, self._feels, self._count = ports, feels, lamps
        self._knobs = [Knob(rule) for rule in mapping.sets]
        self._looks = mapping.looks
        self._values: dict[Target, float] = {}
        self._usual = {Target("tempo", "", ()): mapping.tempo}
        for name, feel in mapping.feels.items():
            for part in ("attack", "decay", "sustain", "release"):
                self._usual[Target(part, name, ())] = getattr(feel, part)
        for name, texture in mapping.textures.items():
            x, y = texture.settings.centre
            self._usual |= {Target("strength", name, ()): texture.strength, Target("speed", name, ()): 1.0}
            self._usual |= {Target("centre_x", name, ()): x, Target("centre_y", name, ()): y}
            for word in ("scale", "direction", "amount", "width"):
                self._usual[Target(word, name, ())] = getattr(texture.settings, word)
        self.set_texture: Callable[[str, str, float], None] = lambda _name, _what, _value: None
        """Told of every setting of a texture that moves: its name, the word, the value."""
        self._hand: dict[int, float] = {}
        self._outside = False
        self._restored, self._fade = float("-inf"), 0.0
        self.gain: Floats | None = None
        """Gain 0..1 of every lamp, or None where all are 1."""
        self.layer: Floats | None = None
        """Level 0..1 of every lamp as set by knobs, or None where none was moved."""

    def turn(self, turn: Turn, channel: int, port: str) -> bool:
        """Something turned; True if a rule hears it."""
        heard = False
        for knob in self._knobs:
            if not hears(knob.rule.trigger, turn, channel, port, self._ports):
                continue
            heard = True
            if not knob.caught:
                knob.caught = knob.meets(turn.value, self.value_of(knob.target))
            knob.at = turn.value
            if knob.caught:
                self._set(knob.target, knob.value(turn.value), knob)
        return heard

    def value_of(self, target: Target) -> float:
        """The value in force."""
        usual = 1.0 if target.what == "master" else 0.0
        return self._values.get(target, self._usual.get(target, usual))

    def _set(self, target: Target, value: float, by: Knob | None) -> None:
        self._values[target] = value
        for knob in self._knobs:
            if knob is not by and knob.target == target and knob.rule.takeover:
                knob.caught = False
        if target.what == "master":
            self._draw_gain()
        elif target.what in ("level", "look"):
            self._draw_layer()
        elif target.what == "tempo":
            self._feels.tempo = max(1.0, value)
        elif target.what == "fade":
            self._feels.fade = value
        elif target.what in TEXTURE_SETTINGS:
            self.set_texture(target.name, target.what, value)
        else:
            self._feels.set(target.name, target.what, value)

    def set_master(self, value: float) -> None:
        """The master of the whole rig, 0..1, set from outside."""
        self._outside = True
        self._set(MASTER, min(1.0, max(0.0, value)), None)

    @property
    def master(self) -> float:
        """The master of the whole rig, 0..1."""
        return self.value_of(MASTER)

    def set_lamp(self, lamp: int, level: float) -> None:
        """Hold one lamp at a level from outside (identify, the page); 0 lets go."""
        if level > 0.0:
            self._hand[lamp] = min(1.0, level)
        else:
            self._hand.pop(lamp, None)
        self._draw_layer()

    def standing(self, spell: Callable[[Lamps], str]) -> list[Mark]:
        """Every value that stands; a level that the music moves does not."""
        music = {knob.target for knob in self._knobs if knob.rule.trigger.kind in MUSIC}
        return [
            Mark(f"set {target.what}", target.name or spell(target.lamps), numbers=(value,))
            for target, value in self._values.items()
            if target.what == "master" or target not in music
        ]

    def restore(self, mark: Mark, spell: Callable[[Lamps], str], fade: float, stamp: float) -> None:
        """Bring back a value within what a rule can set; a knob that takes over must meet it again."""
        word = mark.what.removeprefix("set ")
        if word == "master" and not mark.name:
            self.set_master(mark.number(0))
        for knob in self._knobs:
            target = knob.target
            if target.what == word and target != MASTER and (target.name or spell(target.lamps)) == mark.name:
                low, high = sorted(knob.rule.between)
                self._set(target, min(high, max(low, mark.number(0))), None)
                self._restored, self._fade = stamp, fade
                return

    def mix(self, levels: Floats, t: float) -> bool:
        """Raise `levels` (N lamps, in place) to what was set at `t`; True while that comes back."""
        if self.layer is None:
            return False
        done = t - self._restored
        if not 0.0 <= done < self._fade:
            np.maximum(levels, self.layer, out=levels)
            return False
        np.maximum(levels, self.layer * (done / self._fade), out=levels)
        return True

    def adopt(self, old: Knobs) -> None:
        """Take over another mapping's positions and values, as far as this one's rules know them."""
        self._hand = dict(old._hand)
        self._outside = old._outside
        self._restored, self._fade = old._restored, old._fade
        if MASTER in old._values and (self._outside or any(knob.target == MASTER for knob in self._knobs)):
            self._values[MASTER] = old._values[MASTER]
        places = {knob.rule.trigger: knob for knob in old._knobs if knob.at is not None}
        for knob in self._knobs:
            was = places.get(knob.rule.trigger)
            if was is None or was.at is None:
                continue
            knob.at = was.at
            if was.target == knob.target and was.target in old._values:
                # A knob that has not moved sets what the new file says of its position.
                self._set(knob.target, knob.value(was.at) if was.caught else old._values[was.target], knob)
                knob.caught = was.caught or not knob.rule.takeover
        self._draw_gain()
        self._draw_layer()

    def _draw_gain(self) -> None:
        gain: Floats = np.full(self._count, self.master)
        for target, value in self._values.items():
            if target.what == "master" and target.lamps:
                gain[list(target.lamps)] *= value
        self.gain = None if bool(np.all(gain == 1.0)) else gain

    def _draw_layer(self) -> None:
        layer: Floats = np.zeros(self._count)
        for target, value in self._values.items():
            if target.what == "level":
                at = list(target.lamps)
                layer[at] = np.maximum(layer[at], value)
            elif target.what == "look":
                for lamp, level in self._looks.get(target.name, ()):
                    layer[lamp] = max(layer[lamp], level * value)
        for lamp, value in self._hand.items():
            layer[lamp] = max(layer[lamp], value)
        self.layer = layer if bool(layer.any()) else None
