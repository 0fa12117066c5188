"""Knows: textures as a source of light: what starts and ends them, how they lie on each other and on keys.

Must never know: how a texture is drawn, chords, masters, slots.

Layers lie on each other in the order in which they began, those that run by themselves undermost. With the
strength w of a layer and its level v, what is under it, c, becomes: highest max(c, wv), add c + wv (1 at
most), multiply c(1 - w + wv), replace c(1 - w) + wv: so a layer that fades in or out crossfades.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from bridge.core.feels import Feels
from bridge.core.hands import Hands, Key, Place
from bridge.core.key_source import SOFT_PEDAL
from bridge.core.ports import PortNames
from bridge.core.texture_draw import Shown
from bridge.core.texture_layer import Cycles, Layer, Steps
from bridge.core.voice import Voice
from bridge.parts.curves import velocity_table
from bridge.values.events import Mark, NoteOn
from bridge.values.mapping import Feel, Mapping
from bridge.values.numbers import Floats
from bridge.values.rig import Lamps, Rig
from bridge.values.texture import TextureRule

MOST_LAYERS = 48
"""Layers at once; beyond them the oldest of those that are dying is left out."""

HELD = ("hold", "punch")

Name = tuple[int, Key]
"""Which rule, which key."""

NO_KEY: Key = ("", 0, -1)
RUNNING, STARTED, DYING = -1, -2, -3
"""In place of a rule: it runs by itself, an action started it, it is let go and has no name any more."""


class TextureSource:
    """All textures of a mapping."""

    def __init__(self, rig: Rig, mapping: Mapping, ports: PortNames, feels: Feels) -> None:
        self._ports, self._feels, self._beats = ports, feels, feels.beats
        x, y = [lamp.at[0] for lamp in rig.lamps], [lamp.at[1] for lamp in rig.lamps]
        self._at = list(zip(x, y, strict=True))
        self._canvas: Floats = np.zeros(len(rig.lamps))
        self._shown = {name: Shown(texture, x, y) for name, texture in mapping.textures.items()}
        self._rules = mapping.texture_keys
        self._levels = [velocity_table(rule.curve, rule.between) for rule in self._rules]
        self._by_note: dict[int, list[tuple[int, Lamps]]] = {}
        for number, rule in enumerate(self._rules):
            for at, note in enumerate(rule.notes):
                lamps = rule.lamps[at] if rule.lamps else ()
                self._by_note.setdefault(note, []).append((number, lamps))
        self._layers: list[tuple[Name, Layer]] = []
        for shown in self._shown.values():
            if shown.texture.run:
                layer = self._begin((RUNNING, NO_KEY), shown, 0.0)
                layer.voice.strike(1.0, Feel(attack=shown.texture.fade, release=shown.texture.fade), 0.0)

    @property
    def seen(self) -> list[str]:
        """Names of the textures that are on, undermost first."""
        return [layer.shown.texture.name for _, layer in self._layers if layer.voice.gate]

    def _begin(
        self,
        name: Name,
        shown: Shown,
        stamp: float,
        voice: Voice | None = None,
        centre: tuple[float, float] | None = None,
        mix: str = "",
    ) -> Layer:
        cycles = Cycles(shown.texture, shown.speed, self._beats, stamp)
        steps = Steps(shown, self._shown, self._beats, stamp) if shown.texture.steps else None
        layer = Layer(shown, cycles, steps, voice or Voice(), centre, mix)
        self._layers.append((name, layer))
        if len(self._layers) > MOST_LAYERS:
            dying = next((n for n, (who, _) in enumerate(self._layers) if who[0] == DYING), None)
            if dying is not None:
                del self._layers[dying]
        return layer

    def strike(self, event: NoteOn, soft: bool) -> bool:
        """A key was struck; True if a rule heard it."""
        key = (event.port, event.channel, event.note)
        heard = False
        for number, lamps in self._by_note.get(event.note, ()):
            rule = self._rules[number]
            if rule.channel not in (None, event.channel) or not self._ports.matches(event.port, rule.source):
                continue
            heard = True
            shown = self._shown.get(rule.texture)
            if shown is None or not rule.velocities[0] <= event.velocity <= rule.velocities[1]:
                continue
            level = self._levels[number][event.velocity] * (SOFT_PEDAL if soft else 1.0)
            self._answer((number, key), rule, shown, lamps, level, event.stamp)
        return heard

    def _answer(
        self, name: Name, rule: TextureRule, shown: Shown, lamps: Lamps, level: float, stamp: float
    ) -> None:
        before = [layer for who, layer in self._layers if who == name and layer.voice.gate]
        self._let_go(lambda who: who == name, stamp)
        if before and rule.mode == "latch":
            return
        if rule.mode == "start":
            self._let_go(self._was_started, stamp)
        layer = self._begin(
            name,
            shown,
            stamp,
            centre=self._middle(lamps) if shown.texture.at_key and lamps else None,
            mix="replace" if rule.mode == "punch" else "",
        )
        layer.voice.strike(level, self._feel(rule), stamp)

    def _feel(self, rule: TextureRule) -> Feel:
        if rule.mode == "punch":
            return Feel()
        return self._feels.now(rule.feel_name, Feel(rule.attack, rule.decay, rule.sustain, rule.release))

    def _was_started(self, who: Name) -> bool:
        return who[0] == STARTED or (who[0] >= 0 and self._rules[who[0]].mode == "start")

    def _middle(self, lamps: Lamps) -> tuple[float, float]:
        at = [self._at[lamp] for lamp in lamps]
        return sum(x for x, _ in at) / len(at), sum(y for _, y in at) / len(at)

    def _let_go(self, which: object, stamp: float) -> None:
        """Close the layers whose name fits, and take their names from them."""
        for number, (who, layer) in enumerate(self._layers):
            if which(who):  # type: ignore[operator]
                layer.voice.close(stamp)
                self._layers[number] = ((DYING, who[1]), layer)

    def call(self, name: str, fade: float, stamp: float) -> None:
        """Start a texture in place of what was started before; an empty or unknown name only ends that."""
        for who, layer in self._layers:
            if self._was_started(who):
                layer.voice.feel = Feel(*_but_release(layer.voice.feel), fade)
        self._let_go(self._was_started, stamp)
        shown = self._shown.get(name)
        if shown is not None:
            layer = self._begin((STARTED, NO_KEY), shown, stamp)
            layer.voice.strike(1.0, Feel(attack=fade, release=fade), stamp)

    def show(self, name: str, voice: Voice, stamp: float) -> None:
        """A chord chose a texture; it opens and closes the voice."""
        shown = self._shown.get(name)
        if shown is not None:
            self._begin((DYING, NO_KEY), shown, stamp, voice)

    def lift(self, keys: Iterable[Key], hands: Hands, stamp: float) -> None:
        """Fingers came up from keys: let go of what no pedal holds."""
        gone = set(keys)
        self._let_go(lambda who: who[1] in gone and self._lets_go(who, hands), stamp)

    def pedal_moved(self, place: Place, hands: Hands, stamp: float) -> None:
        """A pedal came up: let go of what only it held."""
        self._let_go(lambda who: who[1][:2] == place and self._lets_go(who, hands), stamp)

    def _lets_go(self, who: Name, hands: Hands) -> bool:
        number, key = who
        if number < 0 or self._rules[number].mode not in HELD or hands.held(key):
            return False
        return not (self._rules[number].pedal and hands.pedalled(key))

    def port_gone(self, port: str, stamp: float) -> None:
        """A port vanished: let go of what its keys and pedals hold; what is latched or started stays."""
        self._let_go(
            lambda who: who[1][0] == port and who[0] >= 0 and self._rules[who[0]].mode in HELD, stamp
        )

    def close_all(self, stamp: float) -> None:
        """Let go of everything that hands began; what runs by itself goes on."""
        self._let_go(lambda who: who[0] != RUNNING, stamp)

    def silence(self, place: Place) -> None:
        """Away at once, without a fade (all sound off)."""
        self._layers = [(who, layer) for who, layer in self._layers if who[1][:2] != place]

    def set(self, name: str, what: str, value: float) -> None:
        """A control has moved a setting of the texture `name`, or of all where it is empty."""
        for shown in self._shown.values():
            if name not in ("", shown.texture.name):
                continue
            if what == "speed":
                shown.speed = value
            else:
                shown.set(what, value)
        if what == "speed":
            for _, layer in self._layers:
                layer.hasten(name, value, self._beats.moment)

    def standing(self, t: float) -> list[Mark]:
        """What is latched or started: (level it holds, seconds of rise left, cycles)."""
        return [
            Mark("texture", layer.shown.texture.name, *who[1], _numbers(layer, t))
            for who, layer in self._layers
            if layer.voice.stands
            and (who[0] == STARTED or (who[0] >= 0 and self._rules[who[0]].mode not in HELD))
        ]

    def restore(self, mark: Mark, fade: float, stamp: float) -> None:
        """Bring a texture back where its motion was, if the key that called it still would."""
        shown = self._shown.get(mark.name)
        called = self._caller(mark) if mark.note >= 0 else ((STARTED, NO_KEY), (), True)
        if shown is None or called is None:
            return
        name, lamps, starts = called
        if any(who == name and layer.voice.gate for who, layer in self._layers):
            return
        if starts:
            self._let_go(self._was_started, stamp)
        centre = self._middle(lamps) if shown.texture.at_key and lamps else None
        layer = self._begin(name, shown, stamp, centre=centre)
        layer.cycles.resume(shown.texture, shown.speed, stamp, mark.number(2))
        release = self._feel(self._rules[name[0]]).release if name[0] >= 0 else shown.texture.fade
        layer.voice.strike(mark.level(0), Feel(attack=max(fade, mark.number(1)), release=release), stamp)

    def _caller(self, mark: Mark) -> tuple[Name, Lamps, bool] | None:
        """The rule by which a key latches or starts the texture: its name, its lamps, if it starts."""
        for number, lamps in self._by_note.get(mark.note, ()):
            rule = self._rules[number]
            hears = rule.channel in (None, mark.channel) and self._ports.matches(mark.port, rule.source)
            if hears and rule.texture == mark.name and rule.mode not in HELD:
                return (number, (mark.port, mark.channel, mark.note)), lamps, rule.mode == "start"
        return None

    def adopt(self, old: TextureSource, stamp: float, keep: bool) -> None:
        """Take over what another mapping was showing.

        Textures of the same name go on as the new file has them; what is not there any more fades out.

        Args:
            keep: False lets go of everything but what runs by itself in both.
        """
        for name, shown in self._shown.items():
            if name in old._shown:
                shown.adopt(old._shown[name])
        fresh, self._layers = self._layers, []
        for who, layer in old._layers:
            now = self._heir(old, who, layer, keep or who[0] == RUNNING)
            if now is None:
                layer.voice.close(stamp)
                self._layers.append(((DYING, who[1]), layer))
                continue
            shown = self._shown[layer.shown.texture.name]
            heir = self._begin(now, shown, stamp, layer.voice, layer.centre, layer.mix)
            heir.cycles.adopt(shown.texture, shown.speed, stamp, layer.cycles.at(stamp))
        going = {layer.shown.texture.name for who, layer in self._layers if who[0] == RUNNING}
        self._layers += [(who, layer) for who, layer in fresh if layer.shown.texture.name not in going]

    def _heir(self, old: TextureSource, who: Name, layer: Layer, keep: bool) -> Name | None:
        """What a layer of another mapping is called in this one; None for one that ends."""
        name, number = layer.shown.texture.name, who[0]
        if not keep or name not in self._shown:
            return None
        if number == RUNNING:
            return who if self._shown[name].texture.run else None
        if number < 0:
            return who if number == STARTED else None
        was = old._rules[number]
        for new, _ in self._by_note.get(who[1][2], ()):
            rule = self._rules[new]
            if (rule.texture, rule.mode, rule.source) == (was.texture, was.mode, was.source):
                return new, who[1]
        return None

    def mix(self, levels: Floats, t: float, early: bool = False) -> bool:
        """Join the textures at `t` to `levels` (N lamps, in place), which are those of the keys so far.

        Returns:
            True while any of them moves.
        """
        if not self._layers:
            return False
        canvas, moving, over = self._canvas, False, False
        canvas[:] = 0.0
        masks: list[tuple[Layer, float]] = []
        for _, layer in self._layers:
            voice = layer.voice
            burst = voice.burst > 0.0
            strength = voice.read(t, early) * layer.shown.strength
            over |= voice.over
            moving |= burst or layer.moving
            if strength <= 0.0:
                continue
            if layer.shown.texture.mask == "of_keys":
                masks.append((layer, strength))
            else:
                _join(canvas, layer, strength, levels, t)
        for layer, strength in masks:
            _mask(levels, layer, strength, t)
        np.maximum(levels, canvas, out=levels)
        if over:
            self._layers = [(who, layer) for who, layer in self._layers if not layer.voice.over]
        return moving


def _join(canvas: Floats, layer: Layer, strength: float, keys: Floats, t: float) -> None:
    """Lay a layer on the canvas."""
    shown = layer.shown
    level = layer.levels(t)
    part = canvas if shown.whole else canvas[shown.lamps]
    if shown.texture.mask == "keys":
        level *= keys if shown.whole else keys[shown.lamps]
    level *= strength
    if layer.mix == "highest":
        np.maximum(part, level, out=part)
    elif layer.mix == "add":
        part += level
        np.minimum(part, 1.0, out=part)
    elif layer.mix == "multiply":
        level += 1.0 - strength
        part *= level
    else:
        part *= 1.0 - strength
        part += level
    if not shown.whole:
        canvas[shown.lamps] = part


def _mask(levels: Floats, layer: Layer, strength: float, t: float) -> None:
    """Let through of `levels` what a layer lights."""
    level = layer.levels(t)
    level *= strength
    level += 1.0 - strength
    levels[layer.shown.lamps] *= level


def _numbers(layer: Layer, t: float) -> tuple[float, float, float]:
    return layer.voice.holds, layer.voice.rises(t), layer.cycles.at(t)


def _but_release(feel: Feel) -> tuple[float, float, float]:
    return feel.attack, feel.decay, feel.sustain
