"""Knows: a chorale by J. S. Bach as a player would have it: four voices, each on a MIDI channel of its own.

Must never know: what a note lights.

BWV 66.6 from the corpus that comes with music21, read from the installed library; nothing is fetched. It has
nine places where two voices sing one pitch, and 23 where a voice strikes the same pitch again.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import mido

TICKS = 480
BPM = 92
"""Beats a minute of the file: at 40 frames a second no note but the first begins exactly on a frame."""


@dataclass(frozen=True, slots=True)
class Sung:
    """A note: channel 0..3, MIDI number, velocity 1..127, begin and end in quarter notes."""

    channel: int
    note: int
    velocity: int
    begins: float
    ends: float


@cache
def chorale() -> tuple[Sung, ...]:
    """All notes, tied ones as one, by channel and begin; the velocities differ from note to note."""
    from music21 import corpus

    return tuple(
        Sung(
            channel,
            note.pitch.midi,
            1 + (37 * number + 41 * channel + 12) % 127,
            float(note.offset),
            float(note.offset + note.quarterLength),
        )
        for channel, part in enumerate(corpus.parse("bach/bwv66.6").parts)
        for number, note in enumerate(part.stripTies().flatten().notes)
    )


def write_chorale(path: Path) -> Path:
    """The chorale as a MIDI file of type 1, a track for each voice."""
    song = mido.MidiFile(type=1, ticks_per_beat=TICKS)
    song.tracks.append(mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(BPM))]))
    for channel in range(4):
        track = mido.MidiTrack()
        song.tracks.append(track)
        now = 0
        for beat, messages in moments(channel):
            tick = round(beat * TICKS)
            for message in messages:
                track.append(message.copy(time=tick - now))
                now = tick
    song.save(path)
    return path


def moments(*channels: int) -> list[tuple[float, list[mido.Message]]]:
    """(quarter notes from the start, what is sent then): ends come first, so that repeats are struck."""
    found: dict[float, list[mido.Message]] = {}
    sung = [one for one in chorale() if not channels or one.channel in channels]
    for one in sung:
        found.setdefault(one.ends, []).append(mido.Message("note_off", channel=one.channel, note=one.note))
    for one in sung:
        strike = mido.Message("note_on", channel=one.channel, note=one.note, velocity=one.velocity)
        found.setdefault(one.begins, []).append(strike)
    return sorted(found.items())
