"""Knows: what is heard in music, as frozen values with a time; how a mapping wants it heard.

Must never know: samples, devices, lamps.

`stamp` is seconds since the show began; `source` is what was listened to, as the player sees it: the name of
an input, or of a file.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.values.rig import Lamps, Points

USUAL_CROSSOVERS = (250.0, 2500.0)
USUAL_BANDS = ("bass", "middle", "treble")


@dataclass(frozen=True, slots=True)
class Sound:
    """How loud the bands are: levels 0..1 from the lowest up, attack, release and gain already in them."""

    stamp: float
    source: str
    bands: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Onset:
    """Something was struck: band 0 is the lowest, strength 0..1 against the hardest of late."""

    stamp: float
    source: str
    band: int
    strength: float


@dataclass(frozen=True, slots=True)
class BeatHeard:
    """A beat of the music falls at `stamp`: tempo in beats a minute, and how sure that is, 0..1.

    A tempo of 0 says that there is no beat any more.
    """

    stamp: float
    source: str
    bpm: float
    sure: float


@dataclass(frozen=True, slots=True)
class Hearing:
    """How a mapping wants its music heard.

    Args:
        crossovers: Hz between bands, rising; `bands` names, one more than crossovers.
        attack, release: seconds in which a level goes 63 % of its way.
        gain: automatic gain; `ceiling`: decibels it adds at most.
        gate: decibels below full scale under which a band is silent.
    """

    crossovers: tuple[float, ...] = USUAL_CROSSOVERS
    bands: tuple[str, ...] = USUAL_BANDS
    attack: float = 0.005
    release: float = 0.15
    gain: bool = True
    ceiling: float = 40.0
    gate: float = -60.0


USUAL_HEARING = Hearing()


@dataclass(frozen=True, slots=True)
class SoundRule:
    """What a band of the music does to the lamps.

    Args:
        band: 0 for the lowest.
        strokes: False: its level lights `lamps`; True: each of its strokes does something.
        lamps: what it lights; for a bar in the order of `bar`.
        bar: for each lamp the levels at which it begins to light and is full; none: all lamps alike.
        curve, between: from loudness or strength 0..1 to a level, as from a velocity.
        feel: of a stroke: attack, decay and release run out by themselves.
        chase: each stroke lights the next of the lamps.
        texture: a stroke starts this texture; empty for none.
        notes: a stroke plays these notes, as if struck, on `channel`.
        least: strokes weaker than this are not heard, 0..1.
        line: where the rule stands in its file.
    """

    band: int
    strokes: bool = False
    lamps: Lamps = ()
    bar: tuple[tuple[float, float], ...] = ()
    curve: str | Points = "linear"
    between: tuple[float, float] = (0.0, 1.0)
    attack: float = 0.0
    decay: float = 0.25
    chase: bool = False
    texture: str = ""
    notes: tuple[int, ...] = ()
    channel: int = 10
    least: float = 0.0
    line: int = 0


MUSIC = ("band", "onset", "beat", "tempo")
"""Kinds of trigger that heard music and the beat turn, and no hand."""

TEMPO_SOURCES = ("clock", "tap", "sound")
"""What can rule the beat, besides the tempo of the mapping and what a control has set."""


@dataclass(frozen=True, slots=True)
class Timing:
    """What rules the beat.

    Args:
        order: words of TEMPO_SOURCES; the first that is there rules.
        clock_from: a name under `inputs`: the port whose MIDI clock counts; empty for any.
        clock_to: part of the name of a MIDI output that gets our clock; empty for none.
    """

    order: tuple[str, ...] = TEMPO_SOURCES
    clock_from: str = ""
    clock_to: str = ""


USUAL_TIMING = Timing()
