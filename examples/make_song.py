"""Knows: the demo song of the boathouse, an original summer evening barcarolle in G, note by note.

Must never know: lamps, slots, or how the song is played; `boathouse/mapping.yaml` decides what it lights.

Composed for this project; free to use with it. Run it to write `boathouse/evening.mid` anew:

    python examples/make_song.py

The tracks are named for the inputs of the mapping. The piano stays within C3..B4, where every key has a
roof lamp, and the bass on the white keys C2..B2, where every key has a lens or the door lamp. The pads
strike at most three times in any second, so that nothing here comes near a strobe.
"""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import NamedTuple

import mido

EIGHTH = 240
BAR = 6 * EIGHTH
PIANO, BASS, PADS = 0, 1, 9  # MIDI channels 1, 2 and 10
SUSTAIN, ROOF_LEVEL = 64, 22

INTRO, FIRST, TRAVEL, LIVELY, AGAIN, CODA, END = 0, 4, 12, 20, 28, 32, 37
"""The bar in which each part begins."""


class Note(NamedTuple):
    """A note: start and end in ticks, MIDI note number, velocity 1..127."""

    start: int
    end: int
    pitch: int
    velocity: int


NAMES = {"C": 0, "D": 2, "E": 4, "F": 5, "F#": 6, "G": 7, "A": 9, "B": 11} | {
    "C#": 1,
    "D#": 3,
    "G#": 8,
    "A#": 10,
}


def pitch(name: str) -> int:
    """The number of a note such as `F#4`, where C4 is 60."""
    return 12 * (int(name[-1]) + 1) + NAMES[name[:-1]]


def at(bar: float, eighth: float = 0.0) -> int:
    """The tick of a place in the song."""
    return round(bar * BAR + eighth * EIGHTH)


def line(bar: int, text: str, velocity: int, swing: int = 0) -> list[Note]:
    """A melody from words such as `D4:2 -:1 G4:3`: note and length in eighths, `-` for a rest.

    Args:
        velocity: of a note that begins off the beat; the two beats of a bar are a little louder.
        swing: by how much the velocity rises to the middle of the phrase.
    """
    words = [word.split(":") for word in text.split()]
    whole = sum(float(length) for _, length in words)
    notes, place = [], 0.0
    for name, length in words:
        size = float(length)
        if name != "-":
            arch = swing * (1 - abs(2 * place / whole - 1))
            beat = 6 if place % 3 == 0 else 0
            start = at(bar, place)
            notes.append(
                Note(start, start + round(size * EIGHTH) - 20, pitch(name), round(velocity + arch + beat))
            )
        place += size
    return notes


def chord(bar: int, eighth: float, length: float, names: str, velocity: int, roll: int = 14) -> list[Note]:
    """A chord rolled from below, `roll` ticks from note to note, the top note brought out."""
    pitches = [pitch(name) for name in names.split()]
    start, end = at(bar, eighth), at(bar, eighth + length) - 20
    return [
        Note(start + roll * number, end, key, velocity + (10 if number == len(pitches) - 1 else 0))
        for number, key in enumerate(pitches)
    ]


def opening() -> list[Note]:
    """Four bars of single lamps."""
    text = "G3:3 D4:3  A4:4 F#4:2  E4:3 B3:3  C4:2 A4:3 F#4:1"
    return line(INTRO, text, 56, 20)


BROKEN = [
    "D3 G3 B3", "E3 G3 B3", "E3 G3 C4", "D3 G3 A3|D3 F#3 A3",
    "D3 G3 B3", "E3 G3 A3", "E3 G3 C4|F#3 A3 C4", "G3 B3 D4",
]  # fmt: skip
"""The left hand of the first part: a chord a bar, or two where a stroke parts them."""


def first_part() -> list[Note]:
    """Eight bars: the tune over broken chords."""
    notes = line(
        FIRST,
        "D4:2 G4:1 F#4:3  E4:2 G4:1 B4:2 A4:1  A4:1 G4:2 E4:3  G4:3 F#4:2 E4:1 "
        "D4:2 G4:1 B4:3  A4:2 G4:1 E4:2 C4:1  E4:3 F#4:2 A4:1  G4:5 -:1",
        84, 22,
    )  # fmt: skip
    for number, bar in enumerate(BROKEN):
        halves = bar.split("|")
        for half in (0, 1):
            low, middle, high = halves[half % len(halves)].split()
            figure = (low, middle, high) if half == 0 or len(halves) == 2 else (middle, high, middle)
            for step, name in enumerate(figure):
                start = at(FIRST + number, 3 * half + step)
                loud = 48 + 2 * min(number, 6) + (8 if step == 0 else 0)
                notes.append(Note(start, start + EIGHTH - 20, pitch(name), loud))
    return notes


WAVES = [
    ("D3 G3 B3 D4 G4 B4", "A4 G4 D4 B3 G3 D3"),
    ("D#3 F#3 A3 B3 D#4 F#4", "A4 F#4 D#4 B3 A3 F#3"),
    ("E3 G3 B3 D4 E4 G4", "B4 G#4 E4 D4 B3 G#3"),
    ("C3 E3 A3 C4 E4 A4", "B4 A4 E4 C4 A3 E3"),
    ("D#3 G3 C4 D#4 G4 A4", "G4 D#4 C4 A3 G3 D#3"),
    ("D3 G3 B3 D4 G4 B4", "A4 G4 D4 B3 G3 D3"),
    ("C#3 E3 G3 A3 C#4 E4", "F#4 D4 C4 A3 F#3 C3"),
    ("D3 G3 A3 B3 D4 G4", ""),
]
"""Sixteenths that run up and down the roof; the crest of each wave is a note of the tune."""


def travelling() -> list[Note]:
    """Eight bars: waves from the eaves to the ridge and back."""
    notes = []
    for number, (up, down) in enumerate(WAVES):
        glow = 4 * min(number, 5)
        for step, name in enumerate((up + " " + down).split()):
            start = at(TRAVEL + number, step / 2)
            crest = 5.5 - abs(step - 5.5)
            last = number == len(WAVES) - 1 and step == 5
            length = 3.5 * EIGHTH if last else 2 * EIGHTH if step in (5, 6) else EIGHTH // 2
            notes.append(Note(start, start + round(length) - 10, pitch(name), round(44 + glow + 8 * crest)))
    return notes


CHORDS = [
    ("E3 G3 B3", "E3 G3 B3"), ("E3 G3 C4", "E3 G3 B3"), ("D3 G3 B3", "D3 G3 D4"), ("D3 G3 D4", "D3 F#3 D4"),
    ("E3 G#3 D4", "E3 G#3 B3"), ("C3 E3 A3", "C3 G3 A3"), ("C3 F3 A3", "C3 F3 C4"), ("D3 G3 C4", "D3 F#3 C4"),
]  # fmt: skip


def lively() -> list[Note]:
    """Eight bars in E minor: chords on the beats, a tune on top; the pads dance around them."""
    notes = line(
        LIVELY,
        "F#4:3 G4:2 A4:1  G4:3 E4:2 D4:1  G4:2 A4:1 B4:3  A4:5 F#4:1 "
        "B4:2 A4:1 G#4:3  A4:2 G4:1 E4:3  F4:2 G4:1 A4:3  A4:3 F#4:3",
        92, 18,
    )  # fmt: skip
    for number, halves in enumerate(CHORDS):
        for half, names in enumerate(halves):
            notes += chord(LIVELY + number, 3 * half, 2.5, names, 60 + 2 * number)
    return notes


def again() -> list[Note]:
    """Four bars: the tune once more, in full chords."""
    notes = line(AGAIN, "D4:2 G4:1 F#4:3  E4:2 G4:1 B4:2 A4:1  A4:1 G4:2 D#4:3  G4:6", 98, 14)
    for number, halves in enumerate(
        [("D3 G3 B3", "D3 G3 C4"), ("E3 G3 B3", "E3 G3 D4"), ("E3 G3 C4", "D#3 G3 C4"), ("D3 G3 B3", "")]
    ):
        for half, names in enumerate(halves):
            if names:
                notes += chord(AGAIN + number, 3 * half, 3, names, 74 - 4 * number)
    return notes


HOMEWARD = [
    ("B4", "G3 D4"), ("A#4", "C4 E4"), ("A4", "A3 F4"), ("G#4", "B3 D4"), ("G4", "C4 E4"), ("F#4", "C4 D4"),
]  # fmt: skip
"""A semitone at a time from right to left along the ridge, two lamps answering each."""


def ending() -> list[Note]:
    """Five bars: the lamps go home one by one, and one last chord opens upwards."""
    notes = []
    for number, (top, answer) in enumerate(HOMEWARD):
        start = at(CODA, 3 * number)
        notes.append(Note(start, start + 3 * EIGHTH - 20, pitch(top), 80 - 4 * number))
        for step, name in enumerate(answer.split(), 1):
            begin = start + step * EIGHTH
            notes.append(Note(begin, start + 3 * EIGHTH - 20, pitch(name), 58 - 3 * number))
    return notes + chord(CODA + 3, 0, 10.5, "D3 G3 B3 D4 G4", 50, roll=EIGHTH)


def bass() -> list[Note]:
    """White keys only, from C2 to B2."""
    notes = line(INTRO + 3, "D2:6", 62)
    notes += line(FIRST, "G2:6 E2:6 C2:6 D2:6 B2:6 A2:5 B2:1 C2:3 D2:3 G2:6", 76, 10)
    notes += line(TRAVEL, "G2:6 B2:6 E2:6 A2:5 B2:1 C2:6 D2:6 A2:3 D2:3 G2:5 -:1", 80, 10)
    notes += line(
        LIVELY,
        "E2:3 E2:2 D2:1 C2:3 C2:2 A2:1 B2:3 G2:2 E2:1 D2:3 D2:3 "
        "E2:3 B2:3 A2:3 A2:2 G2:1 F2:3 C2:3 D2:3 D2:3",
        90, 12,
    )  # fmt: skip
    notes += line(AGAIN, "G2:6 E2:6 C2:6 G2:6", 86)
    return notes + line(CODA, "G2:3 C2:3 F2:3 E2:3 A2:3 D2:3 G2:11", 64)


def pads() -> list[Note]:
    """Up to four moments a bar in the lively part, at most three in any second; and a pad for each look."""
    wings = ["L R", "L R", "L R", "M H", "R L", "R L", "L R", "M H"]
    numbers = {"L": 36, "M": 37, "R": 38, "H": 39, "eaves": 40, "ridge": 41, "west": 42, "east": 43}
    strikes: list[tuple[int, float, int, int]] = []
    for number, pair in enumerate(wings):
        bar, loud = LIVELY + number, 78 + 4 * number
        one, two = pair.split()
        strikes += [(bar, 0, numbers[one], loud), (bar, 3, numbers[two], loud)]
        if number % 4 != 3:
            strikes += [(bar, 2, numbers["eaves"], loud - 12), (bar, 5, numbers["ridge"], loud - 12)]
        if number % 2:
            strikes += [(bar, 0, numbers["west"], loud), (bar, 3, numbers["east"], loud)]
    strikes += [(INTRO, 0, 51, 20), (CODA + 1, 0, 52, 20)]
    return [Note(at(b, e), at(b, e) + EIGHTH // 2, key, velocity) for b, e, key, velocity in strikes]


def pedal() -> list[tuple[int, int, int]]:
    """(tick, controller, value): the sustain pedal, changed just after each chord, as a player does."""
    moves = []
    changes = [at(bar) for bar in (0, 2, 3)]
    changes += [at(bar, 3 * half) for bar in range(FIRST, CODA + 3) for half in (0, 1)]
    # Where one chord fills the bar, the pedal stays down for all of it.
    whole = [*range(FIRST, FIRST + 3), *range(TRAVEL, TRAVEL + 2), *range(TRAVEL + 3, TRAVEL + 6)]
    changes = [tick for tick in changes if tick not in {at(bar, 3) for bar in whole}]
    changes.append(at(CODA + 3))
    for number, tick in enumerate(changes):
        if number:
            moves.append((tick, SUSTAIN, 0))
        moves.append((tick + 60, SUSTAIN, 127))
    moves.append((at(END, -1), SUSTAIN, 0))
    return moves


def swell() -> list[tuple[int, int, int]]:
    """(tick, controller, value): the whole roof breathes in and out under the last chords."""
    steps = 48
    moves = [(0, ROOF_LEVEL, 0)]
    for step in range(1, steps + 1):
        height = 1 - abs(2 * step / steps - 1)
        smooth = height * height * (3 - 2 * height)
        moves.append((at(AGAIN) + step * 4 * BAR // steps, ROOF_LEVEL, round(100 * smooth)))
    return moves


def tempos() -> list[tuple[int, float]]:
    """(tick, dotted quarters a minute)."""
    marks = [(at(INTRO), 46.0), (at(INTRO + 3), 44.0), (at(INTRO + 3, 3), 42.0), (at(FIRST), 52.0)]
    marks += [(at(FIRST + 7), 50.0), (at(FIRST + 7, 3), 47.0), (at(TRAVEL), 54.0)]
    marks += [(at(TRAVEL + 7), 52.0), (at(TRAVEL + 7, 3), 50.0), (at(LIVELY), 60.0), (at(LIVELY + 4), 62.0)]
    marks += [(at(LIVELY + 7), 58.0), (at(LIVELY + 7, 3), 54.0), (at(AGAIN), 54.0), (at(AGAIN + 3), 50.0)]
    return marks + [(at(CODA + half // 2, 3 * (half % 2)), 48.0 - 1.6 * half) for half in range(8)]


def tidy(notes: list[Note]) -> list[Note]:
    """In order, and no key struck again before it was let go; of two at one time the louder stays."""
    by_key: dict[tuple[int, int], Note] = {}
    for note in notes:
        name = (note.start, note.pitch)
        if name not in by_key or by_key[name].velocity < note.velocity:
            by_key[name] = note
    ordered = sorted(by_key.values())
    out = []
    for index, note in enumerate(ordered):
        later = [other.start for other in ordered[index + 1 :] if other.pitch == note.pitch]
        out.append(note._replace(end=min([note.end, *(start - 10 for start in later[:1])])))
    return out


def track(
    name: str, channel: int, program: int | None, notes: list[Note], moves: list[tuple[int, int, int]]
) -> mido.MidiTrack:
    """A track named for an input of the mapping; at one tick keys come up before pedals and new keys."""
    timed: list[tuple[int, int, mido.Message]] = []
    for note in tidy(notes):
        off = mido.Message("note_off", channel=channel, note=note.pitch, velocity=64)
        on = mido.Message("note_on", channel=channel, note=note.pitch, velocity=note.velocity)
        timed += [(note.end, 0, off), (note.start, 2, on)]
    for tick, control, value in moves:
        timed.append((tick, 1, mido.Message("control_change", channel=channel, control=control, value=value)))
    timed.sort(key=lambda item: item[:2])
    out = mido.MidiTrack(
        [mido.MetaMessage("track_name", name=name), mido.MetaMessage("device_name", name=name)]
    )
    if program is not None:
        out.append(mido.Message("program_change", channel=channel, program=program))
    now = 0
    for tick, _, message in timed:
        out.append(message.copy(time=tick - now))
        now = tick
    out.append(mido.MetaMessage("end_of_track", time=at(END) - now))
    return out


def compose() -> mido.MidiFile:
    """The whole song: type 1, 480 ticks to the quarter note."""
    song = mido.MidiFile(type=1, ticks_per_beat=2 * EIGHTH)
    head = mido.MidiTrack([mido.MetaMessage("track_name", name="Evening at the boathouse")])
    head.append(mido.MetaMessage("time_signature", numerator=6, denominator=8, clocks_per_click=36))
    head.append(mido.MetaMessage("key_signature", key="G"))
    now = 0
    for tick, beats in tempos():
        # A dotted quarter is three eighths; the file wants microseconds for a plain quarter.
        head.append(mido.MetaMessage("set_tempo", tempo=round(60e6 / beats * 2 / 3), time=tick - now))
        now = tick
    head.append(mido.MetaMessage("end_of_track", time=at(END) - now))
    piano = opening() + first_part() + travelling() + lively() + again() + ending()
    song.tracks += [
        head,
        track("piano", PIANO, 0, piano, pedal()),
        track("bass", BASS, 32, bass(), []),
        track("pads", PADS, None, pads(), swell()),
    ]
    return song


def song_bytes() -> bytes:
    """The song as a standard MIDI file; the same bytes every time."""
    out = BytesIO()
    compose().save(file=out)
    return out.getvalue()


if __name__ == "__main__":
    place = Path(__file__).with_name("boathouse") / "evening.mid"
    place.write_bytes(song_bytes())
    print(f"{place.name}: {compose().length:.1f} s")
