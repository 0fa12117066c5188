"""Knows: how to pick 500 vertical sonorities from chorales by J. S. Bach, the same ones each time.

Must never know: how a chord is recognised.

The chorales come with music21 (its corpus, read from the installed library; nothing is fetched). Every
onset of any voice gives a vertical sonority: all notes that sound then, tied and held ones included, so
that passing notes and suspensions are there as they are when fingers move one at a time. Taken are those
with three or more pitch classes that differ from the one before: the first PER_CHORALE of each chorale,
until there are enough.

Run it to see them: python -m tests.parts.chorale_chords
"""

from __future__ import annotations

from dataclasses import dataclass

CHORALES = (
    *("bwv2.6", "bwv3.6", "bwv4.8", "bwv5.7", "bwv6.6", "bwv7.7", "bwv9.7", "bwv10.7", "bwv11.6", "bwv12.7"),
    *("bwv13.6", "bwv14.5", "bwv16.6", "bwv17.7"),
)

PER_CHORALE = 36


@dataclass(frozen=True, slots=True)
class Sonority:
    """What sounds at one onset.

    Args:
        chorale: the corpus name. beat: quarter notes from the start.
        notes: MIDI numbers from the lowest up. spelled: the same as written, 'Bb3' or 'F#4'.
    """

    chorale: str
    beat: float
    notes: tuple[int, ...]
    spelled: tuple[str, ...]


def sonorities(count: int = 500) -> list[Sonority]:
    """The first `count` sonorities of CHORALES.

    Raises: ValueError when the chorales hold fewer.
    """
    from music21 import corpus

    found: list[Sonority] = []
    for chorale in CHORALES:
        spans = sorted(
            (float(note.offset), float(note.offset + note.quarterLength), pitch.midi, pitch.nameWithOctave)
            for voice in corpus.parse(f"bach/{chorale}").parts
            for note in voice.flatten().notes
            for pitch in note.pitches
        )
        taken: list[Sonority] = []
        before: tuple[int, ...] = ()
        for beat in sorted({span[0] for span in spans}):
            sounding = sorted({(midi, name) for start, end, midi, name in spans if start <= beat < end})
            notes = tuple(midi for midi, _ in sounding)
            if notes != before and len({note % 12 for note in notes}) >= 3:
                spelled = tuple(name.replace("-", "b") for _, name in sounding)
                taken.append(Sonority(chorale, beat, notes, spelled))
            before = notes
        found += taken[:PER_CHORALE]
    if len(found) < count:
        raise ValueError(f"the chorales hold {len(found)} sonorities, fewer than {count}")
    return found[:count]


if __name__ == "__main__":
    for sonority in sonorities():
        print(f"{sonority.chorale:8} {sonority.beat:7.2f}  {' '.join(sonority.spelled)}")
