"""Knows: a mapping as rules the engine can follow, resolved against one rig; all frozen.

Must never know: the text of a mapping file, or the state of any key.

Lamps are indices into the rig; times are seconds; levels 0..1.
"""

from __future__ import annotations

from collections.abc import Mapping as ReadOnly
from dataclasses import dataclass, field

from bridge.values.rig import Lamps, Points
from bridge.values.sound import USUAL_HEARING, USUAL_TIMING, Hearing, SoundRule, Timing
from bridge.values.texture import TEXTURE_SETTINGS, Texture, TextureRule

Curve = str | Points
"""A curve's name (a word of CURVES) or its points (velocity 0..127, level 0..1)."""


@dataclass(frozen=True, slots=True)
class Feel:
    """An envelope: linear attack, decay to sustain x level, hold, release. Seconds; sustain 0..1."""

    attack: float = 0.0
    decay: float = 0.0
    sustain: float = 1.0
    release: float = 0.0


@dataclass(frozen=True, slots=True)
class KeyRule:
    """What a set of notes does to lamps.

    Args:
        notes: note numbers 0..127 in the order of the file, `transpose` already taken into account.
        lamps: for each note, the lamps it drives.
        channel: 1..16, None for any. source: a name under `inputs`, empty for any.
        velocities: softest and hardest strike it hears, 1..127 (`velocity`, `min_velocity`).
        between: level of the softest and of the hardest strike.
        feel_name: the feel's name, so that a knob can set its times.
        mode: hold, latch or shot. merge: highest or latest. pedal: the sustain pedal holds it.
        one_of: a name; of the latches that share it, one at a time is on.
        choke: a name; a strike on any rule with it ends what the others are sounding.
        solo: while it sounds, the light of other key rules steps back.
        repeat: beats between strikes while the key is held, 0 for one strike.
        aftertouch: 0..1, how far full pressure lifts a held note towards full.
        release_velocity: a quick lift releases quicker.
        ignore_repeat: seconds after a strike in which the same key is not heard again.
        min_on: seconds a strike lights at least.
        line: where the rule stands in its file.
    """

    notes: tuple[int, ...]
    lamps: tuple[Lamps, ...]
    channel: int | None = None
    source: str = ""
    velocities: tuple[int, int] = (1, 127)
    curve: Curve = "linear"
    between: tuple[float, float] = (0.0, 1.0)
    feel: Feel = Feel()
    feel_name: str = ""
    mode: str = "hold"
    merge: str = "highest"
    pedal: bool = True
    one_of: str = ""
    choke: str = ""
    solo: bool = False
    repeat: float = 0.0
    aftertouch: float = 0.0
    release_velocity: bool = False
    ignore_repeat: float = 0.0
    min_on: float = 0.0
    line: int = 0


@dataclass(frozen=True, slots=True)
class Trigger:
    """What sets a control rule off.

    Args:
        kind: note, control (0..119), control14 (0..31 with its fine half 32 up), bend, pressure (of a
            channel), program (0..127 as sent), rpn or nrpn (0..16383); of music band and onset (number 0 for
            the lowest band), beat (the way from one beat to the next) and tempo (40 to 240 beats a minute).
        numbers: which of them; empty for bend and pressure.
        channel: 1..16, None for any. source: a name under `inputs`, empty for any.
    """

    kind: str
    numbers: tuple[int, ...] = ()
    channel: int | None = None
    source: str = ""


@dataclass(frozen=True, slots=True)
class SetRule:
    """A controller that sets a value.

    Args:
        what: a word of SETTINGS: master (of all, or of `lamps`), level (of `lamps`), attack, decay, sustain
            or release (of the feel `name`, or of all where it is empty), tempo (beats a minute), look (how
            much of the look `name` stands), fade (seconds of every look's fade), or a word of
            TEXTURE_SETTINGS (of the texture `name`, of all where it is empty).
        between: what the controller's two ends set, in the unit of `what`: levels 0..1, seconds, beats a
            minute.
        takeover: the controller does nothing until it has met the value in force, so that nothing jumps.
    """

    trigger: Trigger
    what: str
    lamps: Lamps = ()
    name: str = ""
    curve: Curve = "linear"
    between: tuple[float, float] = (0.0, 1.0)
    takeover: bool = False
    line: int = 0


SETTINGS = (
    *("master", "level", "attack", "decay", "sustain", "release", "tempo", "look", "fade"),
    *TEXTURE_SETTINGS,
)
"""Every value a controller can set so far."""


DOES = ("blackout", "release_all", "look", "texture", "tap", "record", "next", "previous", "start", "stop")
"""Every word of `does` so far; from `record` on the shell acts on it: a take, and the songs of a set list."""


@dataclass(frozen=True, slots=True)
class DoRule:
    """A press that does something.

    Args:
        does: a word of DOES. look: the look it calls, empty for none. texture: that it starts, likewise.
        fade: seconds, None where the rule gives none (then what a knob has set, else 0).
    """

    trigger: Trigger
    does: str
    toggle: bool = False
    look: str = ""
    fade: float | None = None
    line: int = 0
    texture: str = ""


@dataclass(frozen=True, slots=True)
class ChordRule:
    """A chord and the shape it draws.

    Args:
        intervals: semitones above the root, from 0, ascending. inversion: any, root, first … fourth.
        exact: no other note may be held.
        picture: (lamp, level 0..1) of the shape on its home place.
        chase: lamps lit one after the other instead of a picture; step: seconds, or beats where `in_beats`.
        cells: rows from the bottom up of lamp indices (-1: none) over which the shape moves and turns.
        move: empty, root or bass: shifts the shape to the right by a column per semitone above C, round the
            edge.
        turn: by a quarter about the middle for each inversion.
        then: when the chord ends: release, stay (until the same chord on the same root again; on another
            root it is struck anew there), next (until the next shape).
        channel, source, notes: which keys count; no notes for all.
        takes_keys: the notes of the chord light nothing else.
        texture: a texture it brings in, in place of a shape; empty for none.
    """

    intervals: tuple[int, ...]
    picture: tuple[tuple[int, float], ...] = ()
    chase: Lamps = ()
    step: float = 0.125
    in_beats: bool = False
    cells: tuple[tuple[int, ...], ...] = ()
    inversion: str = "any"
    exact: bool = False
    move: str = ""
    turn: bool = False
    then: str = "release"
    curve: Curve = "linear"
    between: tuple[float, float] = (0.0, 1.0)
    feel: Feel = Feel()
    feel_name: str = ""
    channel: int | None = None
    source: str = ""
    notes: frozenset[int] = frozenset()
    takes_keys: bool = False
    name: str = ""
    line: int = 0
    texture: str = ""


@dataclass(frozen=True, slots=True)
class Mapping:
    """What plays the lamps.

    Args:
        middle_c: what the file calls note 60, C4 or C3; how notes are named to its player.
        inputs: name used by `from` -> part of a port's name.
        feels: name -> feel, for knobs that set the times of one.
        looks: name -> ((lamp, level), ...).
        window: seconds for which held notes must be still before they are judged as a chord.
        textures: name -> texture; those that run by themselves in the order in which they lie on each other.
        texture_keys: the keys that play them.
        hearing: how music is heard; sound: what it does; timing: what rules the beat.
        tempo: beats a minute until something sets another.
        thru: part of the name of a MIDI output to which everything that arrives is sent on; empty for none.
    """

    name: str = ""
    inputs: ReadOnly[str, str] = field(default_factory=dict)
    feels: ReadOnly[str, Feel] = field(default_factory=dict)
    keys: tuple[KeyRule, ...] = ()
    looks: ReadOnly[str, tuple[tuple[int, float], ...]] = field(default_factory=dict)
    sets: tuple[SetRule, ...] = ()
    does: tuple[DoRule, ...] = ()
    chords: tuple[ChordRule, ...] = ()
    window: float = 0.02
    tempo: float = 120.0
    thru: str = ""
    hearing: Hearing = USUAL_HEARING
    sound: tuple[SoundRule, ...] = ()
    timing: Timing = USUAL_TIMING
    textures: ReadOnly[str, Texture] = field(default_factory=dict)
    texture_keys: tuple[TextureRule, ...] = ()
    middle_c: str = "C4"

    @property
    def runs(self) -> bool:
        """True if it plays by itself: a texture runs without a key."""
        return any(texture.run for texture in self.textures.values())
