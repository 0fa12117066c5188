"""Knows: what is heard in music, as frozen values with a time; how a mapping wants it heard.

Must never know: samples, devices, lamps.

`stamp` is seconds since the show began; `source` is what was listened to, as the player sees it: the name of
an input, or of a file.
"""

from __future__ import annotations

from dataclasses import dataclass

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
