"""Knows: the rig and mapping files that acceptance tests play, written as a player would.

Must never know: how they are read.

One lamp a note: note n lights slot n + 1, at once, as bright as it was struck.
"""

from __future__ import annotations

from pathlib import Path

import mido

RIG = """\
rig: One lamp a note
refresh_hz: 40
on_exit: {on_exit}
lamp_types:
  plain: {{watts: 1, response: linear}}
grids:
  - {{name: lamps, columns: 16, rows: 8, at: [0, 0], spacing: [1, 1], type: plain, slot: 1}}
{outputs}
guards: {{load: off, flash: off, heat: off}}
"""

MAPPING = """\
mapping: {name}
curve: linear
feel: plain
feels:
  plain: {{attack_ms: 0, release_ms: 0}}
keys:
  - {{notes: 0..127, lamps: lamps, spread: each, mode: {mode}}}
"""

SACN = "sacn:127.0.0.1/1"


def write_scene(
    folder: Path, on_exit: str = "blackout", outputs: str = "", mode: str = "hold", name: str = "Plain"
) -> None:
    """Write rig.yaml and mapping.yaml."""
    (folder / "rig.yaml").write_text(RIG.format(on_exit=on_exit, outputs=outputs), "utf-8")
    (folder / "mapping.yaml").write_text(MAPPING.format(mode=mode, name=name), "utf-8")


def write_song(path: Path, *notes: tuple[int, int], seconds: float = 60.0) -> Path:
    """A MIDI file of (note, velocity) that all begin at once and last so long."""
    song = mido.MidiFile(type=0, ticks_per_beat=480)
    track = mido.MidiTrack()
    song.tracks.append(track)
    track += [mido.Message("note_on", note=note, velocity=velocity) for note, velocity in notes]
    ticks = round(mido.second2tick(seconds, 480, 500_000))
    for number, (note, _) in enumerate(notes):
        track.append(mido.Message("note_off", note=note, time=0 if number else ticks))
    song.save(path)
    return path


def slot_value(velocity: int) -> int:
    """The slot value 0..255 of a velocity: level v/127, linear response, rounded half up."""
    return int(velocity / 127 * 255 + 0.5)


def picture(notes: dict[int, int]) -> tuple[int, ...]:
    """The 512 slots of one universe while these notes sound, {note: velocity}."""
    slots = [0] * 512
    for note, velocity in notes.items():
        slots[note] = slot_value(velocity)
    return tuple(slots)
