"""A song that changes its tempo sixty times, rendered, beside mido's own reckoning of its seconds."""

from __future__ import annotations

import csv
import random
from pathlib import Path

import mido

from tests.acceptance.programs import run

HZ = 40
NOTES = range(4, 124)


def write_rubato(path: Path) -> None:
    """Type 1: sixty tempos in the first track, 120 notes, each of its own pitch, in three others."""
    chance = random.Random(1685)
    song = mido.MidiFile(type=1, ticks_per_beat=220)
    tempos = mido.MidiTrack()
    song.tracks.append(tempos)
    for number in range(60):
        tempo = chance.randrange(200_000, 1_500_000)
        tempos.append(
            mido.MetaMessage("set_tempo", tempo=tempo, time=chance.randrange(1, 330) if number else 0)
        )
    pitches = list(NOTES)
    chance.shuffle(pitches)
    for voice in range(3):
        track = mido.MidiTrack([mido.MetaMessage("track_name", name=f"voice {voice + 1}")])
        song.tracks.append(track)
        for note in pitches[voice::3]:
            begins, lasts = chance.randrange(1, 480), chance.randrange(110, 220)
            track.append(mido.Message("note_on", channel=voice, note=note, velocity=90, time=begins))
            track.append(mido.Message("note_off", channel=voice, note=note, time=lasts))
    song.save(path)


def test_sixty_tempo_changes_land_every_note(scene: Path) -> None:
    """The first lit frame of every note is the first at or after the second that mido reckons for it."""
    song = scene / "rubato.mid"
    write_rubato(song)
    wanted: dict[int, float] = {}
    now, tempos = 0.0, 0
    for message in mido.MidiFile(song):
        now += message.time
        tempos += message.type == "set_tempo"
        if message.type == "note_on":
            wanted[message.note] = now
    assert tempos == 60
    assert wanted.keys() == set(NOTES)
    done = run("render", "--midi-file", song, "--csv", "out.csv", folder=scene)
    assert done.returncode == 0, done.stderr
    first: dict[int, float] = {}
    with open(scene / "out.csv", encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            for note in NOTES:
                if row[f"1.{note + 1}"] != "0":
                    first.setdefault(note, float(row["seconds"]))
    assert first.keys() == wanted.keys()
    late = [first[note] - wanted[note] for note in NOTES]
    assert min(late) > -1e-6
    assert max(late) < 1 / HZ + 1e-6
    assert max(late) > 0.5 / HZ, "notes fall between frames, not on them"
