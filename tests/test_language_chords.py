"""All 30 published chords, written as a player writes them and played on keys: the right shape answers.

Source: tests/reference/chords.csv (standard chord construction, as in music theory textbooks; verified there
in music21 and pychord). Where several chords have the same notes the bass decides (DESIGN, the chord shapes).
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from bridge.core.engine import Engine
from bridge.shell.files import mapping_from_text, rig_from_text
from bridge.values.events import Event, NoteOff, NoteOn
from bridge.values.rig import Rig
from tests.reference_rows import rows

ROWS = rows("chords.csv")
NAMES = [row["symbol"] for row in ROWS]
TONES = [tuple(int(tone) for tone in row["pitch_classes_root_0"].split()) for row in ROWS]
NINTHS = {"add9", "madd9", "6/9", "9", "maj9", "m9", "mM9", "7b9", "7#9", "9sus4"}
"""Chords whose table row lists a ninth, an octave higher in the stack, as a second (or a third)."""

C2 = 36


def stack(index: int) -> list[int]:
    """The chord's tones as it is built, in semitones above the root: a ninth lies over the seventh."""
    tones = list(TONES[index])
    if NAMES[index] in NINTHS:
        ninth = {"7b9": 1, "7#9": 3}.get(NAMES[index], 2)
        tones.remove(ninth)
        tones.append(ninth + 12)
    return tones


def voicings(index: int, root: int) -> Iterator[tuple[int, int, tuple[int, ...]]]:
    """Every inversion of a chord, close, wide and doubled: inversion, pitch class of the bass, notes."""
    tones = stack(index)
    for inversion in range(len(tones)):
        order = [*tones[inversion:], *tones[:inversion]]
        bass = C2 + root + order[0] % 12
        upper = [tone % 12 for tone in order[1:]]
        close = [bass + (tone - order[0]) % 12 for tone in upper]
        # Wide: each tone an octave over the one before it. Doubled: the bass two octaves up as well.
        wide = [note + 12 * (1 + place % 4) for place, note in enumerate(close)]
        for voicing in (close, wide, [*close, bass + 24]):
            yield inversion, bass % 12, (bass, *voicing)


def same_notes(index: int, root: int) -> dict[int, list[int]]:
    """Every reading of the chord's notes, by brute force over the table: chord -> its roots."""
    held = {(root + tone) % 12 for tone in TONES[index]}
    found: dict[int, list[int]] = {}
    for other, tones in enumerate(TONES):
        for at in range(12):
            if {(at + tone) % 12 for tone in tones} == held:
                found.setdefault(other, []).append(at)
    return found


def wanted(index: int, root: int, bass: int) -> int | None:
    """The chord that must answer: the one whose root lies lowest; None where none does and order decides."""
    readings = same_notes(index, root)
    if len(readings) == 1:
        return index
    rooted = [other for other, roots in readings.items() if bass in roots]
    return rooted[0] if len(rooted) == 1 else None


def player(extra: str = "") -> tuple[Engine, Rig]:
    """A rig of one lamp a chord, and a mapping in which each chord lights its own."""
    rig, _ = rig_from_text(
        f"grids: [{{name: l, columns: {len(ROWS)}, rows: 1, slot: 1}}]\n"
        "guards: {load: 'off', flash: 'off', heat: 'off'}"
    )
    # A power chord has two notes, and so no second inversion.
    shapes = "".join(
        f"    - {{chord: '{name}', lamps: l.{place}.1{'' if name == '5' and 'second' in extra else extra}}}\n"
        for place, name in enumerate(NAMES, 1)
    )
    mapping, warnings = mapping_from_text(f"chords:\n  shapes:\n{shapes}", rig)
    assert warnings == []
    return Engine(rig, mapping), rig


class Keyboard:
    """Plays chords one after the other on one engine, and says which lamps are lit while each is held."""

    def __init__(self, extra: str = "") -> None:
        self._engine, _ = player(extra)
        self._t = 0.0

    def lit(self, notes: tuple[int, ...]) -> list[int]:
        """The chords whose lamps are lit while these notes are held."""
        t = self._t
        begin: list[Event] = [NoteOn(t, "keys", 1, note, 100) for note in notes]
        end: list[Event] = [NoteOff(t + 0.05, "keys", 1, note) for note in notes]
        self._engine.advance(begin, t)
        slots = self._engine.advance([], t + 0.025).universe(1)
        self._engine.advance(end, t + 0.05)
        assert not any(self._engine.advance([], t + 0.1).universe(1)), "it stays lit"
        self._t = t + 0.125
        return [place for place in range(len(ROWS)) if slots[place]]


@pytest.mark.parametrize("index", range(len(ROWS)), ids=NAMES)
def test_every_chord_on_every_root_in_every_inversion(index: int) -> None:
    """On 12 roots, in every inversion and three voicings, the chord's own lamp lights, and only that one.

    Where another chord has the same notes: the one whose root is lowest; where neither's is, one of the two.
    """
    keys, decided = Keyboard(), 0
    for root in range(12):
        for inversion, bass, notes in voicings(index, root):
            answer = wanted(index, root, bass)
            lit = keys.lit(notes)
            if answer is not None:
                assert lit == [answer], (root, inversion, notes)
                decided += 1
            else:
                assert len(lit) == 1, (root, inversion, notes)
                assert lit[0] in same_notes(index, root), (root, inversion, notes)
    assert decided >= 12 * 3
    # In root position nothing is left to order: every chord can be had.
    assert all(wanted(index, root, root) == index for root in range(12))


def test_which_chords_need_the_bass() -> None:
    """The chords with the same notes are the very ones that the published table names."""
    for index, row in enumerate(ROWS):
        found = {
            f"{NAMES[other]} on root+{root}" if root else NAMES[other]
            for other, roots in same_notes(index, 0).items()
            for root in roots
        } - {NAMES[index]}
        assert found == set(filter(None, row["same_pitch_classes_as"].split("; ")))


@pytest.mark.parametrize("index", range(len(ROWS)), ids=NAMES)
def test_exact_chords_sound_alone(index: int) -> None:
    """With `exact: true` the chord's own notes light it; with any other note besides, no lamp of it."""
    keys = Keyboard(", exact: true")
    notes = next(iter(voicings(index, 0)))[2]
    assert keys.lit(notes) == [index]
    for extra in range(12):
        if extra in {note % 12 for note in notes}:
            continue
        assert index not in keys.lit((*notes, 72 + extra)), extra


@pytest.mark.parametrize("number", [0, 1, 2], ids=["root", "first", "second"])
def test_an_inversion_that_is_asked_for(number: int) -> None:
    """`inversion:` wants that note of the chord the lowest of all held; another bass spoils it."""
    word = ("root", "first", "second")[number]
    keys = Keyboard(f", inversion: {word}")
    for index in (1, 2, 3, 8, 15):
        for at, _, notes in voicings(index, 5):
            assert (keys.lit(notes) == [index]) == (at == number), notes


def test_the_strongest_of_several_shapes_answers() -> None:
    """Most notes first, then the order of the file; what is stronger wins wherever it stands in the file."""
    rig, _ = rig_from_text("grids: [{name: l, columns: 3, rows: 1, slot: 1}]")
    for order in (("major", "7", "9"), ("9", "7", "major"), ("7", "9", "major")):
        shapes = "".join(
            f"    - {{chord: {chord}, lamps: l.{('major', '7', '9').index(chord) + 1}.1}}\n"
            for chord in order
        )
        mapping, _ = mapping_from_text(f"chords:\n  shapes:\n{shapes}", rig)
        engine = Engine(rig, mapping)
        seen = []
        for step, note in enumerate((48, 52, 55, 58, 62)):
            engine.advance([NoteOn(step / 10, "keys", 1, note, 127)], step / 10)
            slots = engine.advance([], step / 10 + 0.05).universe(1)
            seen.append([place for place in range(3) if slots[place]])
        assert seen == [[], [], [0], [1], [2]]
