"""Knows: chords as a source of light: which keys fingers hold, when they are judged, what the answer draws.

Must never know: how a chord is recognised (parts), pedals, masters, slots.

Chords are judged when the fingers that count have been still for the window, at that very moment, whatever
the frame rate. What was struck and let go in between draws nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from bridge.core.feels import Feels
from bridge.core.hands import Key, Place
from bridge.core.ports import PortNames
from bridge.core.shape_voice import ShapeVoice, TextureVoice
from bridge.core.voice import Voice
from bridge.parts.chords import Pattern, Reading, best
from bridge.parts.curves import velocity_table
from bridge.parts.shapes import Picture, moved, turned
from bridge.values.events import Mark, NoteOn
from bridge.values.mapping import ChordRule, Feel, Mapping
from bridge.values.numbers import Floats


class Listener:
    """The chord rules that listen to the same keys, and what those keys are doing."""

    def __init__(self, rules: list[ChordRule], ports: PortNames, feels: Feels) -> None:
        first = rules[0]
        self.source, self._channel, self._notes = first.source, first.channel, first.notes
        self._ports, self._feels = ports, feels
        self.rules = rules
        self._patterns = [
            Pattern(rule.intervals, index, rule.inversion, rule.exact) for index, rule in enumerate(rules)
        ]
        self._levels = [velocity_table(rule.curve, rule.between) for rule in rules]
        self.takes_keys = any(rule.takes_keys for rule in rules)
        self.fingers: dict[Key, int] = {}
        self.due: float | None = None
        self.shape: tuple[int, Picture] | None = None
        """(rule, picture) of what fingers hold now."""
        self._now: ShapeVoice | None = None
        self._shown: list[ShapeVoice] = []
        self._kept: dict[int, ShapeVoice] = {}
        self._read_as: dict[int, Reading] = {}
        self._drawn = 0  # the rule of what is shown now
        self.waiting: list[NoteOn] = []
        self.show: Callable[[str, Voice, float], None] = lambda _name, _voice, _stamp: None
        """Told of every texture that a chord chooses: its name, its envelope, when."""

    @property
    def shape_name(self) -> str:
        """The name of the shape that is drawn, empty for none."""
        return self.rules[self.shape[0]].name if self.shape is not None else ""

    def hears(self, key: Key) -> bool:
        """True if the key counts for these rules."""
        port, channel, note = key
        return (
            self._channel in (None, channel)
            and (not self._notes or note in self._notes)
            and self._ports.matches(port, self.source)
        )

    def hears_place(self, port: str, channel: int) -> bool:
        """True if some key of a port and channel counts for these rules."""
        return self._channel in (None, channel) and self._ports.matches(port, self.source)

    def silence(self) -> None:
        """Dark at once, without a release."""
        self._shown.clear()
        self._kept.clear()
        self._now = self.shape = None

    def touch(self, stamp: float, window: float) -> None:
        """The fingers have changed: judge them once they have been still."""
        self.due = stamp + window

    def judge(self) -> tuple[list[NoteOn], set[int]]:
        """Read what is held at the moment `due`.

        Returns:
            the strikes that waited for this, and the notes that belong to the chord and light nothing else.
        """
        assert self.due is not None
        stamp, self.due = self.due, None
        notes = {key[2] for key in self.fingers}
        reading = best(notes, self._patterns) if notes else None
        self._draw(reading, stamp)
        waited, self.waiting = self.waiting, []
        if reading is None or not self.rules[reading.pattern].takes_keys:
            return waited, set()
        tones = {(reading.root + interval) % 12 for interval in self.rules[reading.pattern].intervals}
        return waited, {note for note in notes if note % 12 in tones}

    def _draw(self, reading: Reading | None, stamp: float) -> None:
        if reading is None:
            self._end(stamp)
            return
        rule = self.rules[reading.pattern]
        picture = self._picture(rule, reading)
        if self.shape == (reading.pattern, picture):
            self._read_as[reading.pattern] = reading
            return
        if rule.then == "stay" and reading.pattern in self._kept:
            stayed = self._kept.pop(reading.pattern)
            if self._read_as[reading.pattern].root == reading.root:
                # The same chord again: what stayed goes.
                stayed.voice.close(stamp)
                self._end(stamp)
                self.shape = (reading.pattern, picture)
                return
            # Its like on another root: what stayed gives way to it, as any shape that is shown.
        level = self._levels[reading.pattern][max(self.fingers.values())]
        feel = self._feels.now(rule.feel_name, rule.feel)
        voice = self._voice(rule, picture)
        voice.strike(level, feel, stamp)
        if rule.texture:
            self.show(rule.texture, voice.voice, stamp)
        self._replace(voice, stamp, feel.attack)
        self._now, self.shape = voice, (reading.pattern, picture)
        self._read_as[reading.pattern], self._drawn = reading, reading.pattern
        self._shown.append(voice)

    def _voice(self, rule: ChordRule, picture: Picture) -> ShapeVoice:
        """What shows a shape, not struck yet."""
        if rule.texture:
            return TextureVoice(())
        if rule.chase:
            beats = self._feels.beats if rule.in_beats else None
            return ShapeVoice((), tuple(lamp for lamp, _ in picture), rule.step, beats)
        return ShapeVoice(picture)

    @staticmethod
    def _picture(rule: ChordRule, reading: Reading) -> Picture:
        """The shape where the chord puts it: its lamps with their levels, those of a chase in their order."""
        picture = rule.picture or tuple((lamp, 1.0) for lamp in rule.chase)
        if rule.turn:
            picture = turned(picture, rule.cells, reading.inversion)
        if rule.move:
            picture = moved(picture, rule.cells, reading.root if rule.move == "root" else reading.bass % 12)
        return picture

    def _replace(self, new: ShapeVoice, stamp: float, attack: float) -> None:
        """End what is shown; lamps that the new shape lights too are held until it has risen."""
        for old in [voice for voice in self._shown if voice.voice.gate and voice not in self._kept.values()]:
            common = old.split(new.lamps)
            if len(common.lamps):
                common.voice.close_at(stamp + attack)
                self._shown.append(common)
            old.voice.close(stamp)
        self._now = None

    def _end(self, stamp: float) -> None:
        """The chord is over: release, stay or wait for the next, as its rule says."""
        if self.shape is None:
            return
        number = self.shape[0]
        then = self.rules[number].then
        self.shape = None
        if self._now is None or then == "next":
            return
        if then == "stay":
            self._kept[number] = self._now
        else:
            self._now.voice.close(stamp)
        self._now = None

    def standing(self, t: float) -> list[Mark]:
        """Shapes that stand without fingers: (level it holds, seconds of rise left, which of the rules of its
        name, root, bass, inversion)."""
        found = dict(self._kept)
        if self._now is not None:
            found[self._drawn] = self._now
        out: list[Mark] = []
        for number, shape in found.items():
            rule, reading = self.rules[number], self._read_as.get(number)
            if reading is None or rule.then == "release" or not shape.voice.stands:
                continue
            which = self._namesakes(rule.name).index(number)
            how = (float(which), float(reading.root), float(reading.bass), float(reading.inversion))
            numbers = (shape.voice.holds, shape.voice.rises(t), *how)
            out.append(Mark("chord", rule.name, self.source, self._channel or 0, numbers=numbers))
        return out

    def restore(self, mark: Mark, fade: float, stamp: float) -> bool:
        """Show a shape as if its fingers had left it; False where no rule here is meant."""
        which, root, bass, inversion = (int(mark.number(place)) for place in range(2, 6))
        namesakes = self._namesakes(mark.name)
        if (self.source, self._channel or 0) != (mark.port, mark.channel) or not 0 <= which < len(namesakes):
            return False
        number = namesakes[which]
        rule = self.rules[number]
        if rule.then == "release" or number in self._kept:
            return False
        reading = Reading(number, root % 12, bass % 128, inversion % 5, len(rule.intervals))
        shape = self._voice(rule, self._picture(rule, reading))
        release = self._feels.now(rule.feel_name, rule.feel).release
        shape.voice.strike(mark.level(0), Feel(attack=max(fade, mark.number(1)), release=release), stamp)
        if rule.texture:
            self.show(rule.texture, shape.voice, stamp)
        self._shown.append(shape)
        self._read_as[number] = reading
        if rule.then == "stay":
            self._kept[number] = shape
        else:
            self._now, self._drawn = shape, number
        return True

    def _namesakes(self, name: str) -> list[int]:
        return [number for number, rule in enumerate(self.rules) if rule.name == name]

    @property
    def shown(self) -> list[ShapeVoice]:
        """What is not dark yet, in the order in which it was drawn."""
        return self._shown

    def close_all(self, stamp: float, but: set[int] | None = None) -> None:
        """Close every gate, but those of the voices whose ids are given."""
        for voice in self._shown:
            if but is None or id(voice) not in but:
                voice.voice.close(stamp)
        self._kept.clear()
        self._now = None

    def mix(self, levels: Floats, t: float, early: bool = False) -> bool:
        """Raise `levels` (N lamps, in place) to the shapes at `t`; True while any moves."""
        moving = False
        for voice in self._shown:
            moving |= voice.mix(levels, t, early)
        self._shown = [voice for voice in self._shown if not voice.voice.over]
        return moving or self.due is not None


class ChordSource:
    """All chord rules of a mapping."""

    def __init__(self, mapping: Mapping, ports: PortNames, feels: Feels) -> None:
        self._window = mapping.window
        # Shapes and textures both answer a chord, so each kind is judged among its own.
        groups: dict[tuple[str, int | None, frozenset[int], bool], list[ChordRule]] = {}
        for rule in mapping.chords:
            groups.setdefault((rule.source, rule.channel, rule.notes, bool(rule.texture)), []).append(rule)
        self.listeners = [Listener(rules, ports, feels) for rules in groups.values()]
        feels.beats.followers.append(self._step_until)

    def press(self, event: NoteOn) -> tuple[bool, bool]:
        """A finger goes down. Returns (a rule hears it, its light must wait for the judgement)."""
        key = (event.port, event.channel, event.note)
        heard = waits = False
        for listener in self.listeners:
            if listener.hears(key):
                heard = True
                listener.fingers[key] = event.velocity
                listener.touch(event.stamp, self._window)
                if listener.takes_keys and not waits:
                    listener.waiting.append(event)
                    waits = True
        return heard, waits

    def lift(self, key: Key, stamp: float) -> list[NoteOn]:
        """A finger comes up; returns its strike if that was still waiting."""
        out: list[NoteOn] = []
        for listener in self.listeners:
            if listener.fingers.pop(key, None) is not None:
                listener.touch(stamp, self._window)
                out += [e for e in listener.waiting if (e.port, e.channel, e.note) == key]
                listener.waiting = [e for e in listener.waiting if (e.port, e.channel, e.note) != key]
        return out

    def judge_until(self, t: float, strike: Callable[[NoteOn], object]) -> bool:
        """Judge every listener that is due at or before `t`; hand on strikes that waited and are free."""
        judged = False
        for listener in self.listeners:
            if listener.due is not None and listener.due <= t:
                judged = True
                waited, taken = listener.judge()
                for event in waited:
                    if event.note not in taken:
                        strike(event)
        return judged

    def _step_until(self, t: float) -> None:
        """Something happens at `t`: the steps of chases that are due before it come before it."""
        for listener in self.listeners:
            for voice in listener.shown:
                voice.step_until(t)

    def silence(self, place: Place) -> None:
        """Dark at once: every shape that keys of this port and channel may draw (all sound off)."""
        port, channel = place
        for listener in self.listeners:
            if listener.hears_place(port, channel):
                listener.silence()

    @property
    def pending(self) -> bool:
        """True while something is to be judged."""
        return any(listener.due is not None for listener in self.listeners)

    def close_all(self, stamp: float) -> None:
        """Close every gate."""
        for listener in self.listeners:
            listener.close_all(stamp)

    def mix(self, levels: Floats, t: float, early: bool = False) -> bool:
        """Raise `levels` (N lamps, in place) to the shapes at `t`; True while any moves."""
        moving = False
        for listener in self.listeners:
            moving |= listener.mix(levels, t, early)
        return moving

    def standing(self, t: float) -> list[Mark]:
        """Shapes that stand without fingers."""
        return [mark for listener in self.listeners for mark in listener.standing(t)]

    def restore(self, mark: Mark, fade: float, stamp: float) -> None:
        """Show a shape again where a rule of its name would."""
        any(listener.restore(mark, fade, stamp) for listener in self.listeners)

    def adopt(self, old: ChordSource, stamp: float, keep: bool) -> None:
        """Take over another mapping's fingers and fade its shapes; the fingers are judged anew.

        What `then: stay` had left standing goes on standing where this mapping has the same rule.
        """
        for theirs in old.listeners:
            moved = self._hold_on(theirs) if keep else set()
            theirs.close_all(stamp, moved)
            if self.listeners:
                self.listeners[0]._shown += [voice for voice in theirs._shown if id(voice) not in moved]
        if not keep:
            return
        for key, velocity in {k: v for theirs in old.listeners for k, v in theirs.fingers.items()}.items():
            for listener in self.listeners:
                if listener.hears(key):
                    listener.fingers[key] = velocity
                    listener.touch(stamp, self._window)

    def _hold_on(self, theirs: Listener) -> set[int]:
        """Move the shapes that stay to the same rules here; the ids of those that were moved."""
        moved = set()
        for number, voice in theirs._kept.items():
            rule = replace(theirs.rules[number], line=0)
            for listener in self.listeners:
                same = [n for n, ours in enumerate(listener.rules) if replace(ours, line=0) == rule]
                if same and id(voice) not in moved:
                    listener._kept[same[0]] = voice
                    listener._read_as[same[0]] = theirs._read_as[number]
                    listener._shown.append(voice)
                    moved.add(id(voice))
        return moved
