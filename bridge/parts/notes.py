"""Knows: names of notes, like `F#3` or `Bb2`, and their numbers 0..127, in any octave convention.

Must never know: which notes a mapping names, keys being held, lamps.

Sources: the names are those of twelve-tone equal temperament (ISO 16); that note 60 is middle C is
MIDI 1.0. Which octave number middle C carries is convention: C4 (scientific pitch) or C3.
"""

from __future__ import annotations

import re

HIGHEST = 127
"""The highest note number of MIDI 1.0."""

MIDDLE_C = 60

NAME = r"[A-Ga-g][#b]?-?[0-9]{1,2}"
"""What a note's name looks like, as a regular expression."""

_SHAPE = re.compile(r"([A-Ga-g])([#b]?)(-?[0-9]{1,2})", re.ASCII)
_LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_SHARPS = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
_FLATS = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
_WHITE = frozenset(_LETTERS.values())


def note_number(name: str, middle_c: str = "C4") -> int:
    """The number 0..127 of a note's name.

    Args:
        name: a letter A to G, `#` or `b` or neither, and the number of the octave: `C4`, `F#-1`, `Bb2`.
            `B#3` is `C4` and `Cb4` is `B3`, since the octave goes with the letter.
        middle_c: the name of note 60, a C: `C4` or `C3` as a rule.

    Raises:
        ValueError: no such name, a note outside 0..127, or a `middle_c` that is no C; says which.
    """
    number = _steps(name) + MIDDLE_C - _middle(middle_c)
    if not 0 <= number <= HIGHEST:
        raise ValueError(f"{name} would be note {number}, outside 0 to {HIGHEST}")
    return number


def note_name(number: int, middle_c: str = "C4", flats: bool = False) -> str:
    """The name of note 0..127, with a sharp (or a flat) for black keys.

    Raises:
        ValueError: a number outside 0..127, or a `middle_c` that is no C.
    """
    if not 0 <= number <= HIGHEST:
        raise ValueError(f"note {number} is outside 0 to {HIGHEST}")
    octave, key = divmod(number - MIDDLE_C + _middle(middle_c), 12)
    return f"{(_FLATS if flats else _SHARPS)[key]}{octave}"


def is_white(number: int) -> bool:
    """True for the notes of white keys."""
    return number % 12 in _WHITE


def _steps(name: str) -> int:
    """Semitones above C0."""
    found = _SHAPE.fullmatch(name)
    if not found:
        raise ValueError(f"{name!r} is not the name of a note")
    letter, sign, octave = found.groups()
    return int(octave) * 12 + _LETTERS[letter.upper()] + {"": 0, "#": 1, "b": -1}[sign]


def _middle(name: str) -> int:
    """Semitones of middle C above C0."""
    steps = _steps(name)
    if steps % 12 or name[:1].upper() != "C":
        raise ValueError(f"{name} is not a C, and note 60 is one")
    return steps
