"""What hands do that a lamp must not answer wrongly: bounces, saves with keys down, all sound off."""

from __future__ import annotations

from pathlib import Path

import mido
import pytest

from bridge.core.engine import Engine
from bridge.shell.files import mapping_from_text, rig_from_text
from bridge.values.events import Control, Event, NewMapping, NoteOff, NoteOn
from bridge.values.mapping import Mapping
from tests.acceptance.inside import Invoke, rows_of

RIG = """\
rig: Three lamps
guards: {load: off, flash: off, heat: off}
lamps: [{name: a, slot: 1}, {name: b, slot: 2}, {name: c, slot: 3}]
"""

Step = tuple[float, str, int, int]
"""Seconds, kind of message, number, value."""


def rendered(invoke: Invoke, folder: Path, mapping: str, *steps: Step) -> list[list[int]]:
    """The slots of every frame (25 ms each) of a mapping played by these messages."""
    (folder / "rig.yaml").write_text(RIG, "utf-8")
    (folder / "mapping.yaml").write_text(mapping, "utf-8")
    song, track = mido.MidiFile(type=0, ticks_per_beat=500), mido.MidiTrack()
    song.tracks.append(track)
    before = 0
    for seconds, kind, number, value in steps:
        at = round(seconds * 1000)  # 120 beats a minute of 500 ticks: a tick is a millisecond
        names = {"note_on": ("note", "velocity"), "note_off": ("note", "velocity")}
        first, second = names.get(kind, ("control", "value"))
        if kind == "polytouch":
            first, second = "note", "value"
        track.append(mido.Message(kind, **{first: number, second: value}, time=at - before))
        before = at
    song.save(folder / "song.mid")
    places = [
        f"--{what}={folder / name}"
        for what, name in (("rig", "rig.yaml"), ("mapping", "mapping.yaml"), ("midi-file", "song.mid"))
    ]
    done = invoke("render", *places, "--csv", folder / "out.csv")
    assert done.code == 0, done.errors
    return [[int(cell) for cell in row[1:]] for row in rows_of(folder / "out.csv")]


@pytest.mark.parametrize("feel", ["{release_ms: 0}", "{decay_ms: 30, sustain: 0}"])
def test_a_bounce_is_not_heard_however_soon_the_lamp_went_dark(
    invoke: Invoke, tmp_path: Path, feel: str
) -> None:
    """A strike within `ignore_repeat_ms` of the last lights nothing, even when the light has ended since."""
    mode = "shot" if "decay" in feel else "hold"
    mapping = (
        f"mapping: m\nfeels: {{f: {feel}}}\n"
        f"keys: [{{notes: 60, lamps: a, feel: f, mode: {mode}, ignore_repeat_ms: 200}}]\n"
    )
    frames = rendered(
        invoke,
        tmp_path,
        mapping,
        (0.0, "note_on", 60, 127),
        (0.01, "note_off", 60, 0),
        (0.1, "note_on", 60, 127),
        (0.15, "note_off", 60, 0),
    )
    assert all(row[0] == 0 for row in frames[3:])


def test_a_bounce_does_not_turn_a_latch_on_again(invoke: Invoke, tmp_path: Path) -> None:
    """A press that ends a latch is a strike too: a bounce within `ignore_repeat_ms` of it is not heard."""
    frames = rendered(
        invoke,
        tmp_path,
        "mapping: m\nkeys: [{notes: 60, lamps: a, mode: latch, ignore_repeat_ms: 200}]\n",
        (0.0, "note_on", 60, 127),
        (0.3, "note_off", 60, 0),
        (0.5, "note_on", 60, 127),
        (0.52, "note_off", 60, 0),
        (0.54, "note_on", 60, 127),
        (1.0, "note_off", 60, 0),
    )
    assert frames[19][0] == 255
    assert all(row[0] == 0 for row in frames[20:])


@pytest.mark.parametrize("then", ["release", "stay"])
def test_all_sound_off_darkens_chord_shapes_at_once(invoke: Invoke, tmp_path: Path, then: str) -> None:
    """Controller 120 is dark at once, for the light of chords as for that of keys."""
    frames = rendered(
        invoke,
        tmp_path,
        "mapping: m\nfeels: {slow: {release_ms: 2000}}\n"
        f"chords: {{shapes: [{{chord: major, lamps: [a, b], feel: slow, then: {then}}}]}}\n",
        *[(0.0, "note_on", note, 127) for note in (60, 64, 67)],
        (0.5, "control_change", 120, 0),
        (1.0, "note_off", 60, 0),
    )
    assert frames[18][:2] == [255, 255]
    assert all(row[:2] == [0, 0] for row in frames[21:])


def test_pressure_ends_with_its_key(invoke: Invoke, tmp_path: Path) -> None:
    """A key struck anew begins at its strike's level, not at the pressure of the time before."""
    frames = rendered(
        invoke,
        tmp_path,
        "mapping: m\nkeys: [{notes: 60, lamps: a, between: [0.2, 0.5], aftertouch: 1}]\n",
        (0.0, "note_on", 60, 127),
        (0.1, "polytouch", 60, 127),
        (0.2, "note_off", 60, 0),
        (0.4, "note_on", 60, 127),
        (0.5, "note_off", 60, 0),
    )
    assert frames[2][0] == 128
    assert frames[17][0] == 128


@pytest.mark.parametrize(
    "mapping",
    [
        "mapping: m\nlooks: {l: {a: 1}}\n"
        "controls: [{notes: 50, does: look, look: l, fade_ms: 0},"
        " {notes: 51, does: look, look: none, fade_ms: 2000}]\n",
        "mapping: m\nkeys: [{notes: 50, lamps: a, min_on_ms: 2000}]\n",
        "mapping: m\ncontrols: [{control: 1, sets: release_ms, between: [0, 2000]}]\n"
        "keys: [{notes: 50, lamps: a}]\n",
    ],
    ids=["a look that fades out", "a least time", "a release set by a knob"],
)
def test_a_song_goes_on_until_the_lamps_are_dark(invoke: Invoke, tmp_path: Path, mapping: str) -> None:
    """The last frame of a rendered song shows what stands for good, never a fade in the middle."""
    frames = rendered(
        invoke,
        tmp_path,
        mapping,
        (0.0, "control_change", 1, 127),
        (0.0, "note_on", 50, 127),
        (0.1, "note_off", 50, 0),
        (0.2, "note_on", 51, 127),
        (0.3, "note_off", 51, 0),
    )
    assert frames[-1] == [0, 0, 0]


def played(text: str, saved: str, *events: Event) -> list[int]:
    """Slot 1 before and after `saved` comes into force at 0.5 s."""
    rig, _ = rig_from_text(RIG)

    def made(what: str) -> Mapping:
        return mapping_from_text(what, rig)[0]

    engine = Engine(rig, made(text))
    before = engine.advance(events, 0.4).slots[0][0]
    after = engine.advance([NewMapping(0.5, made(saved), text=saved)], 0.525).slots[0][0]
    return [int(before), int(after)]


SPLIT = (
    "mapping: m\nkeys: [{notes: 60, lamps: a, velocity: 1..80, between: [0.1, 0.6]},"
    " {notes: 60, lamps: a, velocity: 81..127}]\n"
)


@pytest.mark.parametrize(
    "mapping",
    [SPLIT, "mapping: m\nkeys: [{notes: 60, lamps: a, min_velocity: 50}]\n"],
    ids=["a velocity window", "a least velocity"],
)
def test_saving_wakes_no_rule_that_did_not_hear_the_strike(mapping: str) -> None:
    """A held key goes on as it was when the file is saved: a rule too hard for its strike stays silent."""
    before, after = played(mapping, mapping + "# a remark\n", NoteOn(0.1, "p", 1, 60, 40))
    assert after == before


def test_saving_keeps_the_soft_pedal() -> None:
    """A note struck with the soft pedal down keeps its share of the level when its rule is changed."""
    text = "mapping: m\nkeys: [{notes: 60, lamps: a}]\n"
    saved = text.replace("lamps: a", "lamps: a, between: [0, 0.99]")
    before, after = played(text, saved, Control(0.0, "p", 1, 67, 127), NoteOn(0.1, "p", 1, 60, 127))
    assert after <= before


def test_release_all_ends_a_note_that_has_not_been_on_for_its_least_time() -> None:
    """`release_all` lets go of everything at once; no least time keeps a lamp burning."""
    rig, _ = rig_from_text(RIG)
    text = (
        "mapping: m\nkeys: [{notes: 60, lamps: a, min_on_ms: 60000}]\n"
        "controls: [{notes: 50, does: release_all}]\n"
    )
    engine = Engine(rig, mapping_from_text(text, rig)[0])
    engine.advance([NoteOn(0.0, "p", 1, 60, 127), NoteOff(0.1, "p", 1, 60, 64)], 0.2)
    frame = engine.advance([NoteOn(0.3, "p", 1, 50, 127)], 0.325)
    assert frame.slots[0][0] == 0


def test_a_blackout_can_be_lifted_after_switching_mappings() -> None:
    """A toggled blackout does not outlive the last rule that could lift it."""
    rig, _ = rig_from_text(RIG)
    keys = "mapping: m\nkeys: [{notes: 60, lamps: a}]\n"
    toggled = keys + "controls: [{control: 80, does: blackout, toggle: true}]\n"
    engine = Engine(rig, mapping_from_text(toggled, rig)[0])
    engine.advance([Control(0.0, "p", 1, 80, 127), Control(0.1, "p", 1, 80, 0)], 0.2)
    other = mapping_from_text(keys, rig)[0]
    engine.advance([NewMapping(0.3, other, keep=False, text=keys)], 0.3)
    frame = engine.advance([NoteOn(0.4, "p", 1, 60, 127)], 0.425)
    assert frame.slots[0][0] == 255
