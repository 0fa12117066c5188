"""Knows: what a texture is, a picture in motion over the lamps, and who starts one; all frozen.

Must never know: how a texture is drawn, the text of a mapping file, or how pictures are decoded.

Lamps are indices into the rig; places are metres as the audience sees them, x to the right, y up; times are
seconds; levels 0..1. A cycle is one turn of a texture: a wave that has moved on by its length, a film that
has run once.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from bridge.values.numbers import Floats
from bridge.values.rig import Lamps, Points

Words = npt.NDArray[np.uint16]

STEPS_OF_LEVEL = 65535.0
"""What 1 is in the levels of a film."""


@dataclass(frozen=True, slots=True)
class Settings:
    """What hands can move while a texture is seen.

    Args:
        scale: metres of a wave, a ring, a patch of noise, a lane of drops or a soft edge; lamps of a tail.
        direction: degrees anticlockwise from the right; 90 is up.
        amount: 0..1, how much there is of it: drops, glints, patches of noise, how far it is filled.
        width: 0..1, share of a cycle that is lit.
        centre: metres of the middle of rings.
    """

    scale: float = 1.0
    direction: float = 0.0
    amount: float = 0.5
    width: float = 1.0
    centre: tuple[float, float] = (0.0, 0.0)

    def moved(self, what: str, value: float) -> Settings:
        """The settings with one of them set: a word of MOVED."""
        if what == "centre_x":
            return replace(self, centre=(value, self.centre[1]))
        if what == "centre_y":
            return replace(self, centre=(self.centre[0], value))
        return Settings(
            value if what == "scale" else self.scale,
            value if what == "direction" else self.direction,
            value if what == "amount" else self.amount,
            value if what == "width" else self.width,
            self.centre,
        )


MOVED = ("scale", "direction", "amount", "width", "centre_x", "centre_y")
"""Settings of a texture that a control can set."""

TEXTURE_SETTINGS = ("strength", "speed", *MOVED)
"""Everything of a texture that a control can set; speed is a factor on the speed in the file."""


@dataclass(frozen=True, slots=True)
class Options:
    """What stands in the file and stays.

    Args:
        seed: another number, another pattern of chance.
        profile: a word of PROFILES: how light rises and falls within a cycle.
        count: waves or rings that pass, or lights that run at once; 0 for no end of waves and one light.
        angle: degrees between two crossed waves.
    """

    seed: int = 0
    profile: str = "sine"
    count: int = 0
    angle: float = 90.0


class Places:
    """Where N lamps hang.

    Args:
        x, y: metres, float64 arrays of length N. rank: 0..N-1 in the order of the rig, unless given.
    """

    __slots__ = ("count", "high", "low", "rank", "x", "y")

    def __init__(self, x: Floats, y: Floats, rank: Floats | None = None) -> None:
        self.x, self.y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
        self.count = len(self.x)
        self.rank: Floats = np.arange(self.count, dtype=np.float64) if rank is None else rank
        some = self.count > 0
        self.low = (float(self.x.min()), float(self.y.min())) if some else (0.0, 0.0)
        self.high = (float(self.x.max()), float(self.y.max())) if some else (0.0, 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class Film:
    """A film already sampled at the lamps: its size is lamps x frames, whatever its pixels were.

    Args:
        starts: seconds at which each of F frames begins, from 0, ascending.
        length: seconds of all of it.
        levels: uint16 of shape (F, L): 0..65535 for each lamp of the texture.
        blend: between two frames, straight lines; else each stands until the next.
    """

    starts: tuple[float, ...]
    length: float
    levels: Words
    blend: bool = False

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Film):
            return NotImplemented
        same = (self.starts, self.length, self.blend) == (other.starts, other.length, other.blend)
        return same and bool(np.array_equal(self.levels, other.levels))

    def __hash__(self) -> int:
        return hash((self.starts, self.length, self.blend))


@dataclass(frozen=True, slots=True, eq=False)
class Still:
    """A picture that is moved over the lamps, as tables of the light above and left of each pixel's corner.

    Args:
        areas: float64 of shape (K, H + 1, W + 1): sums of linear light, one table for each kind of lamp.
        which: intp of length L: the table of each lamp.
        boxes: float64 of shape (4, L): left, right, top, bottom of each lamp's area, in pixels.
        to_level: float64 of shape (R, cells + 1): the level that gives a light 0..1, one row a response.
        response: intp of length L: the row of each lamp.
    """

    areas: Floats
    which: npt.NDArray[np.intp]
    boxes: Floats
    to_level: Floats
    response: npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Step:
    """A step of a sequence: the texture (empty: dark), how many beats, the beats of its crossfade."""

    texture: str
    beats: float
    fade: float = 0.0


@dataclass(frozen=True, slots=True)
class Texture:
    """A texture.

    Args:
        kind: a word of TEXTURES, or film, still or steps.
        lamps: those it covers, in the order that a chase takes.
        hz: cycles a second. beats: beats of a cycle, in place of hz; 0 where hz holds.
        backwards: time runs backwards.
        tint: for each lamp the share of the texture's colour that it can show; empty for all of it.
        between: levels of its darkest and its brightest.
        strength: 0..1 of all of it.
        mix: a word of MIXES: how it joins what is under it.
        mask: `keys` where it shows only where keys light lamps; `of_keys` where keys show only through it.
        run: it runs by itself.
        fade: seconds in which it comes and goes where nothing else says so.
        at_key: its centre is the lamp of the key that was struck.
        film, still, steps: what it shows where it is none of TEXTURES.
    """

    name: str
    kind: str
    lamps: Lamps
    hz: float = 0.0
    beats: float = 0.0
    backwards: bool = False
    settings: Settings = Settings()
    options: Options = Options()
    tint: tuple[float, ...] = ()
    between: tuple[float, float] = (0.0, 1.0)
    strength: float = 1.0
    mix: str = "highest"
    mask: str = ""
    run: bool = False
    fade: float = 0.0
    at_key: bool = False
    film: Film | None = None
    still: Still | None = None
    steps: tuple[Step, ...] = field(default=())
    line: int = 0


MIXES = ("highest", "add", "multiply", "replace")
"""How a layer joins what is under it."""

TEXTURE_MODES = ("hold", "latch", "start", "punch")
"""What a key does: while it is down; on and off; begins it until another begins; alone while it is down."""


@dataclass(frozen=True, slots=True)
class TextureRule:
    """Keys that play a texture.

    Args:
        notes: note numbers 0..127. lamps: for each note the lamps whose middle is the centre; may be empty.
        texture: its name.
        mode: a word of TEXTURE_MODES.
        attack, decay, sustain, release: the envelope of its strength, as in a feel.
        velocities: softest and hardest strike it hears. curve, between: from velocity to strength.
        pedal: the sustain pedal holds it. channel, source: as in a key rule.
    """

    notes: tuple[int, ...]
    texture: str
    lamps: tuple[Lamps, ...] = ()
    mode: str = "hold"
    attack: float = 0.0
    decay: float = 0.0
    sustain: float = 1.0
    release: float = 0.0
    feel_name: str = ""
    velocities: tuple[int, int] = (1, 127)
    curve: str | Points = "linear"
    between: tuple[float, float] = (0.0, 1.0)
    pedal: bool = True
    channel: int | None = None
    source: str = ""
    line: int = 0
