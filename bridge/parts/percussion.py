"""Knows: the percussion of General MIDI level 1 by name and note, 35..81, on channel 10.

Must never know: what a stroke lights, or which pads stand on the stage.

Source: General MIDI System Level 1 (MMA RP-003), percussion key map; tests/reference/gm_percussion.csv.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

PERCUSSION_CHANNEL: Final = 10
"""The channel, counted from 1, that General MIDI keeps for percussion."""

_FIRST: Final = 35
_NAMES: Final = (
    "Acoustic Bass Drum",
    "Bass Drum 1",
    "Side Stick",
    "Acoustic Snare",
    "Hand Clap",
    "Electric Snare",
    "Low Floor Tom",
    "Closed Hi-Hat",
    "High Floor Tom",
    "Pedal Hi-Hat",
    "Low Tom",
    "Open Hi-Hat",
    "Low-Mid Tom",
    "Hi-Mid Tom",
    "Crash Cymbal 1",
    "High Tom",
    "Ride Cymbal 1",
    "Chinese Cymbal",
    "Ride Bell",
    "Tambourine",
    "Splash Cymbal",
    "Cowbell",
    "Crash Cymbal 2",
    "Vibraslap",
    "Ride Cymbal 2",
    "Hi Bongo",
    "Low Bongo",
    "Mute Hi Conga",
    "Open Hi Conga",
    "Low Conga",
    "High Timbale",
    "Low Timbale",
    "High Agogo",
    "Low Agogo",
    "Cabasa",
    "Maracas",
    "Short Whistle",
    "Long Whistle",
    "Short Guiro",
    "Long Guiro",
    "Claves",
    "Hi Wood Block",
    "Low Wood Block",
    "Mute Cuica",
    "Open Cuica",
    "Mute Triangle",
    "Open Triangle",
)

PERCUSSION: Final[Mapping[int, str]] = MappingProxyType(dict(enumerate(_NAMES, _FIRST)))
"""Note 35..81 -> name, as the standard writes it."""


def _plain(text: str) -> str:
    """One spelling for all ways to write a name: 'Closed Hi-Hat', 'closed hihat' and 'closed_hi_hat'."""
    letters = "".join(letter for letter in text.casefold() if letter not in " -_\t")
    # The standard itself writes both High Tom and Hi Bongo.
    return letters.replace("high", "hi")


_BY_WORD: Final = {_plain(name): note for note, name in PERCUSSION.items()}


def percussion_name(note: int) -> str | None:
    """The name of a note on the percussion channel; None outside 35..81, which level 1 leaves open."""
    return PERCUSSION.get(note)


def percussion_note(text: str) -> int:
    """The note 35..81 of a percussion name; case, spaces, hyphens and Hi for High do not matter.

    Raises: KeyError with the text when the standard has no such name.
    """
    try:
        return _BY_WORD[_plain(text)]
    except KeyError:
        raise KeyError(text) from None


def known_percussion() -> list[str]:
    """Every percussion name in the order of its notes, for near-miss suggestions."""
    return list(_NAMES)
