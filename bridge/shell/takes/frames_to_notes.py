"""Knows: how any frames, whatever made them, become notes of a mapping that light the same lamps alike.

Must never know: where frames come from, MIDI files, how a rule is written.

For each lamp the key that drives it alone, for each value of its slots the velocity that comes nearest: found
by playing every key at every velocity through its curve and the rig's own patch, so that response, floor,
ceiling and rounding are undone just as they were done.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from bridge.core.patch import Patch
from bridge.core.ports import FILE_PORT, PortNames
from bridge.parts.curves import velocity_table
from bridge.shell.draw import lamp_levels
from bridge.shell.takes.reader import Shown
from bridge.values.errors import UsageError
from bridge.values.events import Event, NoteOff, NoteOn
from bridge.values.mapping import KeyRule, Mapping
from bridge.values.numbers import Floats
from bridge.values.rig import Rig

SHORTEST_MS = 0.0
THRESHOLD = 0.0

HAIR = 1e-9


@dataclass(frozen=True, slots=True)
class LampKey:
    """The key that plays one lamp alone."""

    port: str
    channel: int
    note: int
    rule: KeyRule


@dataclass(frozen=True, slots=True)
class Notes:
    """What became of frames.

    Args:
        events: note-ons and note-offs in order.
        keyless: names of lamps that were lit and that no key plays alone.
        coarse: names of lamps that were lit as no velocity lights them (curve and `between` lack the level).
        chordal: names of lamps whose keys a chord hears too, so that its shape may light up with them.
        ends: seconds at which the last frame gives way, as long after it as it came after the one before.
    """

    events: tuple[Event, ...]
    keyless: tuple[str, ...]
    coarse: tuple[str, ...]
    chordal: tuple[str, ...]
    ends: float


def lamp_keys(mapping: Mapping) -> dict[int, LampKey]:
    """Lamp -> the key that drives it alone; lamps that have none are missing.

    Only keys that hold count, and only where no other key rule or action hears them. A rule that hears any
    input is played as a file, or as one of the inputs where a file would set off something else too. Keys
    that no chord hears are taken first, then plain ones, then the first of the file.
    """
    ports = PortNames(mapping.inputs)
    found: dict[int, tuple[tuple[bool, bool], LampKey]] = {}
    for rule in mapping.keys:
        if rule.mode != "hold":
            continue
        plain = not (rule.repeat or rule.ignore_repeat or rule.min_on or rule.choke or rule.solo)
        names = [rule.source] if rule.source else [FILE_PORT, *mapping.inputs]
        channels = [rule.channel] if rule.channel else range(1, 17)
        for note, lamps in zip(rule.notes, rule.lamps, strict=True):
            if len(lamps) != 1 or rule.notes.count(note) != 1:
                continue
            keys = (LampKey(name, channel, note, rule) for name in names for channel in channels)
            for key in (key for key in keys if _alone(key, mapping, ports)):
                rank = (_in_chord(key, mapping, ports), not plain)
                if lamps[0] not in found or rank < found[lamps[0]][0]:
                    found[lamps[0]] = rank, key
                if not rank[0]:
                    break
    return {lamp: key for lamp, (_, key) in sorted(found.items())}


def _hears(key: LampKey, source: str, channel: int | None, ports: PortNames) -> bool:
    return channel in (None, key.channel) and ports.matches(key.port, source)


def _alone(key: LampKey, mapping: Mapping, ports: PortNames) -> bool:
    """True if no other rule and no action hears the key."""
    for rule in mapping.keys:
        if rule is not key.rule and key.note in rule.notes and _hears(key, rule.source, rule.channel, ports):
            return False
    triggers = [rule.trigger for rule in mapping.sets] + [rule.trigger for rule in mapping.does]
    return not any(
        trigger.kind == "note"
        and key.note in trigger.numbers
        and _hears(key, trigger.source, trigger.channel, ports)
        for trigger in triggers
    )


def _in_chord(key: LampKey, mapping: Mapping, ports: PortNames) -> bool:
    """True if the key could be part of a chord, which would then draw its shape too."""
    return any(
        (not chord.notes or key.note in chord.notes) and _hears(key, chord.source, chord.channel, ports)
        for chord in mapping.chords
    )


class _Scale:
    """What each velocity makes of each lamp, and which velocity comes nearest to a value."""

    def __init__(self, rig: Rig, keys: dict[int, LampKey]) -> None:
        patch = Patch(rig)
        tables = {lamp: velocity_table(key.rule.curve, key.rule.between) for lamp, key in keys.items()}
        self._patch, self._lamps = patch, len(rig.lamps)
        self.values: Floats = np.zeros((128, len(rig.lamps)))
        """Velocity, lamp -> value 0..1 as its slots say it."""
        for velocity in range(1, 128):
            levels = np.zeros(len(rig.lamps))
            for lamp, table in tables.items():
                low, high = keys[lamp].rule.velocities
                levels[lamp] = table[velocity] if low <= velocity <= high else 0.0
            self.values[velocity] = _rounded(patch.drive(levels), patch.steps)
        self.dark: Floats = _rounded(patch.drive(np.array([lamp.rest for lamp in rig.lamps])), patch.steps)
        """Lamp -> its value when nothing plays it."""
        self._known: dict[tuple[int, float], int] = {}

    def drive(self, level: float) -> Floats:
        """Lamp -> its value at a level 0..1."""
        return _rounded(self._patch.drive(np.full(self._lamps, level)), self._patch.steps)

    def velocity(self, lamp: int, value: float) -> int:
        """The velocity that comes nearest to `value`: 1..127, or 0 where dark is nearer than the softest."""
        found = self._known.get((lamp, value))
        if found is None:
            apart = np.abs(self.values[1:, lamp] - value)
            apart[self.values[1:, lamp] <= 0.0] = np.inf
            nearest = int(apart.argmin())
            found = 0 if value - self.dark[lamp] < apart[nearest] else nearest + 1
            self._known[lamp, value] = found
        return found

    def coarse(self, lamp: int, value: float, velocity: int) -> bool:
        """True if the velocity misses `value` by more than the steps between it and its neighbours."""
        column = self.values[1:, lamp]
        near = column[max(0, velocity - 2) : velocity + 1]
        reached = float(column[velocity - 1]) if velocity else float(self.dark[lamp])
        return abs(reached - value) > max(float(np.ptp(near)), 1 / 255)


def _rounded(drive: Floats, steps: Floats) -> Floats:
    out: Floats = np.floor(drive * steps + 0.5) / steps
    return out


def frames_to_notes(
    frames: Iterable[Shown],
    rig: Rig,
    mapping: Mapping,
    threshold: float = THRESHOLD,
    shortest_ms: float = SHORTEST_MS,
    step: int = 1,
) -> Notes:
    """Notes that light the lamps as the frames did.

    Played back through the mapping, with a feel of no attack, decay and release and all masters up, each
    frame comes within half a velocity step of what it was, but for what threshold and shortest length leave.

    Args:
        frames: (k, j, t, frame) in order.
        threshold: a lamp at or below this level (0..1), or at or below its rest, counts as dark.
        shortest_ms: no note is shorter; what happens to the lamp meanwhile waits.
        step: a lit lamp is struck again when its velocity differs by this much or more.

    Raises:
        UsageError: the mapping plays no lamp alone, or a value that makes no sense.
    """
    if not 0.0 <= threshold < 1.0 or not 0.0 <= shortest_ms <= 60_000.0 or step < 1:
        raise UsageError("a threshold is 0 up to 1, a shortest length 0 to 60000 ms, a step 1 or more")
    keys = lamp_keys(mapping)
    if not keys:
        raise UsageError(f"the mapping {mapping.name or 'given'} has no key that holds one lamp alone")
    scale, ports = _Scale(rig, keys), PortNames(mapping.inputs)
    floor = np.maximum(scale.dark, scale.drive(threshold))
    writer = _Writer(keys, scale, shortest_ms / 1000.0, step)
    before = np.zeros(len(rig.lamps))
    keyless: set[int] = set()
    last = None
    t = before_t = 0.0
    for _, _, now, frame in frames:
        before_t, t = t, now
        writer.overdue(t)
        if frame.slots is last:
            continue
        last = frame.slots
        values = lamp_levels(rig, frame)
        values[values <= floor + HAIR] = 0.0
        for lamp in np.flatnonzero(values != before):
            if int(lamp) in keys:
                writer.want(int(lamp), float(values[lamp]), t)
            else:
                keyless.add(int(lamp))
        before = values
    ends = t + (t - before_t)
    writer.end(ends)
    names = [lamp.name for lamp in rig.lamps]
    return Notes(
        tuple(writer.events),
        tuple(names[lamp] for lamp in sorted(keyless)),
        tuple(names[lamp] for lamp in sorted(writer.coarse)),
        tuple(names[lamp] for lamp in sorted(writer.used) if _in_chord(keys[lamp], mapping, ports)),
        ends,
    )


class _Writer:
    """Strikes and lets go, lamp by lamp, none shorter than it may be."""

    def __init__(self, keys: dict[int, LampKey], scale: _Scale, shortest: float, step: int) -> None:
        self._keys, self._scale, self._shortest, self._step = keys, scale, shortest, step
        self._lit: dict[int, tuple[int, float]] = {}  # lamp -> velocity, since when
        self._wanted: dict[int, float] = {}  # what waits for a note's shortest length
        self._due: dict[float, list[int]] = defaultdict(list)
        self.events: list[Event] = []
        self.coarse: set[int] = set()
        self.used: set[int] = set()

    def want(self, lamp: int, value: float, t: float) -> None:
        """A lamp has another value from `t` on."""
        lit = self._lit.get(lamp)
        if lit is not None and t < lit[1] + self._shortest - HAIR:
            if lamp not in self._wanted:
                self._due[lit[1] + self._shortest].append(lamp)
            self._wanted[lamp] = value
            return
        self._set(lamp, value, t)

    def overdue(self, t: float) -> None:
        """Do what waited until now."""
        for due in sorted(due for due in self._due if due <= t + HAIR):
            for lamp in self._due.pop(due):
                if lamp in self._wanted:
                    self._set(lamp, self._wanted.pop(lamp), t)

    def _set(self, lamp: int, value: float, t: float) -> None:
        key, lit = self._keys[lamp], self._lit.get(lamp)
        velocity = self._scale.velocity(lamp, value) if value > 0.0 else 0
        if value > 0.0 and self._scale.coarse(lamp, value, velocity):
            self.coarse.add(lamp)
        if lit is not None:
            if velocity and abs(velocity - lit[0]) < self._step:
                return
            self.events.append(NoteOff(t, key.port, key.channel, key.note))
            del self._lit[lamp]
        if velocity:
            self.events.append(NoteOn(t, key.port, key.channel, key.note, velocity))
            self._lit[lamp] = velocity, t
            self.used.add(lamp)

    def end(self, t: float) -> None:
        """Let go of everything."""
        for lamp, (_, since) in sorted(self._lit.items()):
            key = self._keys[lamp]
            self.events.append(NoteOff(max(t, since + self._shortest), key.port, key.channel, key.note))
        self._lit.clear()
