"""Knows: which chords stand in a set of held notes: root, inversion, and the strongest of several readings.

Must never know: velocities, how long a note has been held, what a chord lights, or the text of a file.

Intervals are semitones above the root; pitch classes are 0..11 with C = 0; notes are MIDI numbers 0..127.
Sets of pitch classes are 12-bit masks (bit n is pitch class n), so that a reading costs a shift and an `and`.
The strongest reading is, in this order:

1. the one with the most notes of its pattern;
2. of different sets of notes, the one whose pattern comes first in the file, then the one that lies lowest;
3. of readings of one set of notes, the one whose root is the chord's lowest note (C E G A with C lowest is
   C major 6, with A lowest A minor 7; a symmetric chord takes its lowest note as root);
4. the one whose pattern comes first in the file, then the lower inversion.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Final

_TABLE: Final[tuple[tuple[str, str, tuple[str, ...], tuple[int, ...]], ...]] = (
    # name, symbol, further names, intervals. Standard chord construction, as in music theory textbooks;
    # a ninth is written 14, not 2, because inversions are counted along the stack: root, third, fifth, …
    ("power", "5", ("power 5",), (0, 7)),
    ("major", "maj", ("M",), (0, 4, 7)),
    ("minor", "m", ("min",), (0, 3, 7)),
    ("diminished", "dim", (), (0, 3, 6)),
    ("augmented", "aug", ("+",), (0, 4, 8)),
    ("sus2", "sus2", ("suspended 2",), (0, 2, 7)),
    ("sus4", "sus4", ("suspended 4", "sus"), (0, 5, 7)),
    ("major flat 5", "(b5)", (), (0, 4, 6)),
    ("dominant 7", "7", ("dom7",), (0, 4, 7, 10)),
    ("major 7", "maj7", ("M7",), (0, 4, 7, 11)),
    ("minor 7", "m7", ("min7",), (0, 3, 7, 10)),
    ("minor major 7", "mM7", ("mmaj7",), (0, 3, 7, 11)),
    ("half diminished 7", "m7b5", ("half diminished",), (0, 3, 6, 10)),
    ("diminished 7", "dim7", (), (0, 3, 6, 9)),
    ("augmented 7", "7#5", ("aug7",), (0, 4, 8, 10)),
    ("augmented major 7", "maj7#5", ("M7#5",), (0, 4, 8, 11)),
    ("7 flat 5", "7b5", (), (0, 4, 6, 10)),
    ("7 sus4", "7sus4", ("7sus",), (0, 5, 7, 10)),
    ("major 6", "6", ("maj6", "M6"), (0, 4, 7, 9)),
    ("minor 6", "m6", ("min6",), (0, 3, 7, 9)),
    ("add9", "add9", ("major add9",), (0, 4, 7, 14)),
    ("minor add9", "madd9", (), (0, 3, 7, 14)),
    ("6/9", "6/9", ("six nine",), (0, 4, 7, 9, 14)),
    ("dominant 9", "9", ("dom9",), (0, 4, 7, 10, 14)),
    ("major 9", "maj9", ("M9",), (0, 4, 7, 11, 14)),
    ("minor 9", "m9", ("min9",), (0, 3, 7, 10, 14)),
    ("minor major 9", "mM9", ("mmaj9",), (0, 3, 7, 11, 14)),
    ("7 flat 9", "7b9", (), (0, 4, 7, 10, 13)),
    ("7 sharp 9", "7#9", (), (0, 4, 7, 10, 15)),
    ("9 sus4", "9sus4", ("9sus",), (0, 5, 7, 10, 14)),
)

QUALITIES: Final[Mapping[str, tuple[int, ...]]] = MappingProxyType({row[0]: row[3] for row in _TABLE})
"""The chords that have a name: name -> intervals above the root in stack order, 0..15 semitones."""

ALIASES: Final[Mapping[str, tuple[str, ...]]] = MappingProxyType(
    {row[0]: tuple(word for word in (row[1], *row[2]) if word != row[0]) for row in _TABLE}
)
"""Name of a chord -> its symbol and the further names that are known, beside their plain variants."""

INVERSIONS: Final[Mapping[str, int | None]] = MappingProxyType(
    {"any": None, "root": 0, "first": 1, "second": 2, "third": 3, "fourth": 4}
)
"""Which note of the stack must be the lowest note held: 0 is the root; None leaves it open."""

_ALL: Final = 0xFFF
_NOTES: Final = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
_SHORT: Final = {
    "major": "maj",
    "minor": "min",
    "diminished": "dim",
    "augmented": "aug",
    "dominant": "dom",
    "suspended": "sus",
    "added": "add",
    "flat": "b",
    "sharp": "#",
    "second": "2",
    "fourth": "4",
    "fifth": "5",
    "five": "5",
    "sixth": "6",
    "six": "6",
    "seventh": "7",
    "ninth": "9",
    "nine": "9",
}


def _plain(text: str) -> str:
    """One spelling for all ways to write a quality: 'Minor seventh', 'min 7' and 'm7' are all 'min7'."""
    # Case tells minor (m) from major (M), and only there: 'm7', 'M7', 'mM7'; but 'Maj7' and 'MIN7' are plain.
    sign = re.compile(r"\s*(m?)(M?)(?!(?i:aj|in))").match(text)
    if sign:
        text = ("min" if sign[1] else "") + ("maj" if sign[2] else "") + text[sign.end() :]
    text = text.casefold()
    for word, short in _SHORT.items():
        text = text.replace(word, short)
    text = re.sub(r"[\s_()/-]+", "", text)
    return re.sub(r"^dom(?=\d)", "", re.sub(r"(?<=\d)(th|nd)", "", text))


_BY_WORD: Final = {_plain(word): row[3] for row in _TABLE for word in (row[0], row[1], *row[2])}


def known_qualities() -> list[str]:
    """The words worth suggesting for a quality: the 30 names first, then the symbols and the rest."""
    rest = [word for row in _TABLE for word in (row[1], *row[2])]
    return list(dict.fromkeys([*QUALITIES, *rest]))


def parse_quality(text: str) -> tuple[int, ...]:
    """The intervals of a quality as a player writes it.

    Names, symbols and their plain variants are known: 'minor 7', 'minor seventh', 'm7', 'min7', 'Minor-7th'.
    Case counts only where a symbol needs it: 'm7' is minor, 'M7' major.

    Returns: semitones above the root in stack order, 0..15.
    Raises: KeyError with the text when nothing is called that.
    Source: tests/reference/chords.csv (standard chord construction).
    """
    try:
        return _BY_WORD[_plain(text)]
    except KeyError:
        raise KeyError(text) from None


@dataclass(frozen=True, slots=True)
class Pattern:
    """A chord to look for on any root.

    Args:
        intervals: semitones above the root, 0 among them, in any order. They are sorted (so that 14 lies over
            7), then taken modulo 12; afterwards this is a tuple of pitch classes in stack order.
        index: its place in the file, counting from 0; lower is stronger.
        inversion: a word of INVERSIONS; of all notes held, the lowest must be that note of the stack.
        exact: True allows no other pitch class to be held.

    Attributes:
        mask: the pitch classes above the root, 12 bits. size: how many there are.

    Raises: ValueError when the intervals make no chord or the chord has no such inversion.
    """

    intervals: Collection[int]
    index: int = 0
    inversion: str = "any"
    exact: bool = False
    mask: int = field(init=False, repr=False, compare=False)
    size: int = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if 0 not in self.intervals or min(self.intervals) < 0:
            raise ValueError("intervals count up from the root, so they begin with 0")
        stack = tuple(dict.fromkeys(interval % 12 for interval in sorted(self.intervals)))
        if len(stack) < 2:
            raise ValueError("a chord needs two notes or more that are not octaves of each other")
        if self.inversion not in INVERSIONS:
            raise ValueError(f"unknown inversion {self.inversion!r}; known: {', '.join(INVERSIONS)}")
        if (INVERSIONS[self.inversion] or 0) >= len(stack):
            raise ValueError(f"a chord of {len(stack)} notes has no {self.inversion} inversion")
        object.__setattr__(self, "intervals", stack)
        object.__setattr__(self, "mask", sum(1 << interval for interval in stack))
        object.__setattr__(self, "size", len(stack))


@dataclass(frozen=True, slots=True)
class Reading:
    """One way to hear the notes held.

    Args:
        pattern: the index of the pattern it fulfils.
        root: pitch class 0..11.
        bass: the lowest note held, 0..127; it need not belong to the chord.
        inversion: which note of the stack is the lowest of the chord's own notes; 0 is the root.
        size: how many different pitch classes the pattern has.
    """

    pattern: int
    root: int
    bass: int
    inversion: int
    size: int


_Key = tuple[int, int, int, bool, int, int, int]


def _size(hit: tuple[Pattern, int]) -> int:
    return hit[0].size


def _ranked(notes: Iterable[int], patterns: Sequence[Pattern], *, largest: bool) -> tuple[int, list[_Key]]:
    """The lowest note held and a sortable key for each reading, the strongest being the least."""
    lowest: dict[int, int] = {}
    for note in sorted(set(notes)):
        lowest.setdefault(note % 12, note)
    if len(lowest) < 2:
        return 0, []
    bass_class = next(iter(lowest))
    held = sum(1 << pitch for pitch in lowest)
    hits: list[tuple[Pattern, int]] = []
    for root in lowest:
        missing = ~(held >> root | held << 12 - root) & _ALL
        hits += [(pattern, root) for pattern in patterns if not pattern.mask & missing]
    hits.sort(key=_size, reverse=True)
    kept: list[tuple[Pattern, int, int]] = []
    first: dict[int, int] = {}
    for pattern, root in hits:
        if largest and kept and pattern.size < kept[0][0].size:
            break
        step = INVERSIONS[pattern.inversion]
        if step is not None and (root + tuple(pattern.intervals)[step]) % 12 != bass_class:
            continue
        tones = (pattern.mask << root | pattern.mask >> 12 - root) & _ALL
        if pattern.exact and tones != held:
            continue
        kept.append((pattern, root, tones))
        first[tones] = min(first.get(tones, pattern.index), pattern.index)
    keys: list[_Key] = []
    for pattern, root, tones in kept:
        own_bass = next(pitch for pitch in lowest if tones >> pitch & 1)
        inversion = tuple(pattern.intervals).index((own_bass - root) % 12)
        keys.append(
            (-pattern.size, first[tones], lowest[own_bass], inversion > 0, pattern.index, inversion, root)
        )
    return lowest[bass_class], keys


def _reading(key: _Key, bass: int) -> Reading:
    return Reading(pattern=key[4], root=key[6], bass=bass, inversion=key[5], size=-key[0])


def readings(notes: Iterable[int], patterns: Sequence[Pattern]) -> list[Reading]:
    """Every reading of the held notes, the strongest first.

    Any root, any voicing and any doubling; other notes may be held besides unless the pattern is exact.
    A symmetric chord is read once for each of its roots.

    Args:
        notes: MIDI notes 0..127 in any order.
        patterns: what to look for; their indices need not be unique, but equal ones cannot be told apart.
    """
    bass, keys = _ranked(notes, patterns, largest=False)
    return [_reading(key, bass) for key in sorted(keys)]


def best(notes: Iterable[int], patterns: Sequence[Pattern]) -> Reading | None:
    """The strongest reading of the held notes, in the order given at the top of this file, or None."""
    bass, keys = _ranked(notes, patterns, largest=True)
    return _reading(min(keys), bass) if keys else None


_NAMED: Final = tuple(Pattern(row[3], index, exact=True) for index, row in enumerate(_TABLE))


def name(notes: Iterable[int]) -> str | None:
    """What the notes held are called, all of them together; None when they make none of the 30 chords.

    Root position gives 'A minor 7', any other 'C major / E' with the lowest note last. Spelled with sharps.
    """
    found = best(notes, _NAMED)
    if found is None:
        return None
    called = f"{_NOTES[found.root]} {_TABLE[found.pattern][0]}"
    return called if found.inversion == 0 else f"{called} / {_NOTES[found.bass % 12]}"
