"""Chord reading: the 30 chords of reference/chords.csv (standard chord construction, music theory textbooks),
what wins when several readings fit, and the words a player may use.
"""

from __future__ import annotations

import pickle
from collections.abc import Iterator
from contextlib import suppress
from itertools import product
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.parts.chords import (
    INVERSIONS,
    QUALITIES,
    Pattern,
    Reading,
    best,
    known_qualities,
    name,
    parse_quality,
    readings,
)
from tests.reference_rows import rows

ROWS = rows("chords.csv")
BY_SYMBOL = {row["symbol"]: row for row in ROWS}
NAMED = [Pattern(intervals, index) for index, intervals in enumerate(QUALITIES.values())]
NOTES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")

C3, D3, E3, F3, G3, A3, B3 = 48, 50, 52, 53, 55, 57, 59
C4, D4, E4, G4 = 60, 62, 64, 67


def steps(row: dict[str, str]) -> tuple[int, ...]:
    """The pitch classes of a row, root 0."""
    return tuple(int(step) for step in row["pitch_classes_root_0"].split())


def listed_readings(row: dict[str, str]) -> dict[int, str]:
    """Root above the row's root -> symbol, for each reading that the row allows; its own comes first."""
    allowed = {0: row["symbol"]}
    for other in filter(None, row["same_pitch_classes_as"].split("; ")):
        symbol, _, above = other.partition(" on root+")
        allowed[int(above)] = symbol
    return allowed


def voicings(pitches: list[int]) -> Iterator[list[int]]:
    """Close, open, doubled, over two octaves and reordered; `pitches` rise within an octave from the bass."""
    bass, *upper = pitches
    opened = [note + 12 * (place % 2) for place, note in enumerate(upper)]
    yield pitches
    yield [bass, *opened]
    yield [bass - 12, *pitches]
    yield [bass, bass + 12, *upper, *(note + 12 for note in upper)]
    yield [bass, *(note + 24 - 12 * (place % 2) for place, note in enumerate(upper))]
    yield list(reversed(pitches))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["quality"])
def test_every_chord_root_inversion_and_voicing(row: dict[str, str]) -> None:
    """A chord is found on any root, in any inversion and voicing; where readings share their notes, the bass
    decides, and where no reading has its root in the bass, any reading that the table lists will do."""
    allowed = {above: BY_SYMBOL[symbol] for above, symbol in listed_readings(row).items()}
    for root, turn in product(range(12), range(len(steps(row)))):
        stack = [48 + root + step for step in steps(row)]
        for notes in voicings(stack[turn:] + [note + 12 for note in stack[:turn]]):
            bass = min(notes)
            wanted = {((root + above) % 12, steps(other)) for above, other in allowed.items()}
            if bass % 12 in {at for at, _ in wanted}:
                wanted = {(at, shape) for at, shape in wanted if at == bass % 12}
            found = best(notes, NAMED)
            assert found is not None
            shape = tuple(sorted(NAMED[found.pattern].intervals))
            assert (found.root, shape) in wanted
            assert (found.bass, found.size) == (bass, int(row["note_count"]))
            called = name(notes)
            assert called is not None
            said, _, under = called.partition(" / ")
            at, _, quality = said.partition(" ")
            assert (NOTES.index(at), tuple(sorted(step % 12 for step in parse_quality(quality)))) in wanted
            assert under == ("" if NOTES.index(at) == bass % 12 else NOTES[bass % 12])


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["quality"])
def test_alone_each_chord_gives_its_inversion(row: dict[str, str]) -> None:
    """Looked for alone, a chord has as many readings as it has roots, and the strongest has its root lowest
    where the bass can be a root; else its inversion is the place of the bass in the stack."""
    stack = parse_quality(row["symbol"])
    pattern = Pattern(stack, 7)
    for root, step in product(range(12), stack):
        bass = 36 + (root + step) % 12
        found = readings([bass, *(60 + root + other for other in stack)], [pattern])
        assert len(found) * int(row["distinct_transpositions"]) == 12
        roots = {
            (root + other) % 12 for other, symbol in listed_readings(row).items() if symbol == row["symbol"]
        }
        assert {reading.root for reading in found} == roots
        for reading in found:
            assert (reading.root + stack[reading.inversion]) % 12 == bass % 12
        assert found[0].inversion == min(reading.inversion for reading in found)


def test_table() -> None:
    """The 30 qualities are those of the published table, in its order, with its masks and note counts."""
    assert [Pattern(intervals).mask for intervals in QUALITIES.values()] == [
        int(row["bitmask_decimal"]) for row in ROWS
    ]
    assert [tuple(sorted(step % 12 for step in intervals)) for intervals in QUALITIES.values()] == [
        steps(row) for row in ROWS
    ]
    assert [Pattern(intervals).size for intervals in QUALITIES.values()] == [
        int(row["note_count"]) for row in ROWS
    ]


@pytest.mark.parametrize(("row", "quality"), list(zip(ROWS, QUALITIES, strict=True)), ids=list(QUALITIES))
def test_names_and_symbols_of_the_table(row: dict[str, str], quality: str) -> None:
    """A player may write the name or the symbol of the published table, or the name that we show."""
    for text in (row["quality"], row["quality"].title(), row["symbol"], f" {quality} ", quality.upper()):
        assert parse_quality(text) == QUALITIES[quality]


@pytest.mark.parametrize(
    ("text", "quality"),
    [
        *(("maj", "major"), ("M", "major"), ("min", "minor"), ("MIN", "minor"), ("dim", "diminished")),
        *(("Aug", "augmented"), ("+", "augmented"), ("sus", "sus4"), ("sus 2", "sus2")),
        *(("M7", "major 7"), ("Maj7", "major 7"), ("MAJ 7", "major 7"), ("major seventh", "major 7")),
        *(("min7", "minor 7"), ("minor-7th", "minor 7"), ("minor7", "minor 7"), ("dom7", "dominant 7")),
        *(("mMaj7", "minor major 7"), ("mmaj7", "minor major 7"), ("min maj 7", "minor major 7")),
        *(("half-diminished", "half diminished 7"), ("DIM7", "diminished 7"), ("aug7", "augmented 7")),
        *(("69", "6/9"), ("six nine", "6/9"), ("M9", "major 9"), ("m9", "minor 9"), ("7sus", "7 sus4")),
        *(("dominant 7 flat 9", "7 flat 9"), ("7 #9", "7 sharp 9"), ("added 9", "add9"), ("5", "power")),
    ],
)
def test_other_spellings(text: str, quality: str) -> None:
    """Common spellings are understood, and case counts only where it tells minor from major."""
    assert parse_quality(text) == QUALITIES[quality]


@pytest.mark.parametrize(
    "text", ["", " ", "majr", "Mm7", "MM7", "dom", "13", "C", "major / E", "7th chord", "ⅶ"]
)
def test_unknown_quality(text: str) -> None:
    """A word that names no chord is a KeyError that repeats it."""
    with pytest.raises(KeyError) as caught:
        parse_quality(text)
    assert caught.value.args == (text,)


def test_suggestions() -> None:
    """What is offered as a suggestion can be written, our names come first, and nothing comes twice."""
    known = known_qualities()
    assert {parse_quality(word) for word in known} == set(QUALITIES.values())
    assert known[:30] == list(QUALITIES)
    assert len(known) == len(set(known))
    assert {row["symbol"] for row in ROWS} <= set(known)


@given(st.text(max_size=12))
def test_any_text_is_a_chord_or_a_key_error(text: str) -> None:
    """Any text is a chord of the table or the one KeyError."""
    with suppress(KeyError):
        assert parse_quality(text) in QUALITIES.values()


@pytest.mark.parametrize(
    ("notes", "called"),
    [
        ([C4, E4, G4], "C major"),
        ([E3, C4, G4], "C major / E"),
        ([A3, C4, E4, G4], "A minor 7"),
        ([C3, E4, G4, A3], "C major 6"),
        ([E3, G3, A3, C4], "A minor 7 / E"),
        ([C3, E3, G3 + 1], "C augmented"),
        ([E3, G3 + 1, C4], "E augmented"),
        ([C3, G3], "C power"),
        ([G3, C4], "C power / G"),
        ([D3, G3, A3], "D sus4"),
        ([G3, A3, D4], "G sus2"),
        ([46, D4, 65], "A# major"),
        ([C3, C4], None),
        ([C3], None),
        ([], None),
        ([C4, 61, 62], None),
        ([F3, C4, E4, G4, 61], None),
    ],
)
def test_names(notes: list[int], called: str | None) -> None:
    """A name covers all the notes held: root and quality, and the bass where it is not the root."""
    assert name(notes) == called


MAJOR, MINOR = QUALITIES["major"], QUALITIES["minor"]


def test_most_notes_win() -> None:
    """The pattern with the most notes wins wherever it stands in the file."""
    patterns = [Pattern(MAJOR, 0), Pattern(MINOR, 1), Pattern(QUALITIES["minor 7"], 2)]
    assert best([C3, E3, G3, A3], patterns) == Reading(pattern=2, root=9, bass=C3, inversion=1, size=4)


@pytest.mark.parametrize(("first", "second", "root"), [(MAJOR, MINOR, 0), (MINOR, MAJOR, 9)])
def test_file_order_decides_between_different_notes(
    first: tuple[int, ...], second: tuple[int, ...], root: int
) -> None:
    """Of two chords of one size on different notes the first in the file wins, whatever the bass."""
    patterns = [Pattern(first, 0), Pattern(second, 1)]
    for notes in ([A3, C4, E4, G4], [C3, E3, G3, A3]):
        found = best(notes, patterns)
        assert found is not None
        assert (found.root, found.pattern) == (root, 0)


@pytest.mark.parametrize("order", [("major 6", "minor 7"), ("minor 7", "major 6")])
def test_bass_decides_before_file_order(order: tuple[str, str]) -> None:
    """Of two readings of the same notes the one with its root lowest wins; if there is none, the file."""
    patterns = [Pattern(QUALITIES[quality], index) for index, quality in enumerate(order)]
    roots = {"major 6": 0, "minor 7": 9}
    for notes, winner in (
        ([C3, E3, G3, A3], "major 6"),
        ([A3, C4, E4, G4], "minor 7"),
        ([E3, G3, A3, C4], order[0]),
    ):
        found = best(notes, patterns)
        assert found is not None
        assert (found.root, order[found.pattern]) == (roots[winner], winner)


@pytest.mark.parametrize("first", ["major 6", "minor 7"])
def test_a_set_of_notes_is_as_early_as_its_first_pattern(first: str) -> None:
    """The reading that the bass prefers stands in the file where the first of the same notes stands."""
    order = (first, "dominant 7", "minor 7" if first == "major 6" else "major 6")
    patterns = [Pattern(QUALITIES[quality], index) for index, quality in enumerate(order)]
    held = [A3, B3 - 1, C4, E4, G4]
    assert best(held, patterns) == Reading(order.index("minor 7"), root=9, bass=A3, inversion=0, size=4)
    assert best(held, patterns[1:2]) == Reading(1, root=0, bass=A3, inversion=3, size=4)


def test_same_pattern_on_two_roots() -> None:
    """Of one pattern on two roots the chord that lies lowest wins (C E G B D: C major, not G major)."""
    assert [reading.root for reading in readings([C3, E3, G3, B3, D4], [Pattern(MAJOR)])] == [0, 7]
    assert [reading.root for reading in readings([G3, B3, C4, D4, E4], [Pattern(MAJOR)])] == [7, 0]


def test_exact() -> None:
    """An exact pattern allows doubling but no other note; without it other notes are allowed."""
    loose, exact = Pattern(MAJOR), Pattern(MAJOR, exact=True)
    assert best([C3, E3, G3, C4, E4 + 12], [exact]) == Reading(0, 0, C3, 0, 3)
    assert best([C3, E3, G3, 61], [exact]) is None
    assert best([C3, E3, G3, 61], [loose]) == Reading(0, 0, C3, 0, 3)
    assert best([C3, E3], [loose]) is None


def test_foreign_bass() -> None:
    """A bass outside the chord is told as bass; the inversion counts from the chord's own lowest note."""
    assert best([F3, G3, C4, E4], [Pattern(MAJOR)]) == Reading(0, root=0, bass=F3, inversion=2, size=3)
    assert best([F3, C4, E4, G4], [Pattern(MAJOR, inversion="root")]) is None


@pytest.mark.parametrize(
    ("word", "lowest"), [("root", C3), ("first", E3), ("second", G3), ("third", B3 - 1), ("fourth", D3)]
)
def test_inversion_words(word: str, lowest: int) -> None:
    """A pattern that asks for an inversion wants that note of the stack lowest; the ninth is the fourth."""
    pattern = Pattern(QUALITIES["dominant 9"], inversion=word)
    held = [C3, E3, G3, B3 - 1, D3]
    for bass in held:
        found = best([bass, *(note + 24 for note in held)], [pattern])
        assert (found is not None) == (bass == lowest)
        assert found is None or found.inversion == INVERSIONS[word]


def test_interval_lists() -> None:
    """An interval list means the pitch classes it reaches; a note over the octave is high in the stack."""
    ninth = Pattern((0, 4, 7, 14))
    assert ninth == Pattern(frozenset({14, 0, 7, 4})) == Pattern([0, 4, 4, 7, 12, 14])
    assert ninth.intervals == (0, 4, 7, 2)
    assert best([D3, C4, E4, G4], [ninth]) == Reading(0, 0, D3, 3, 4)
    assert best([D3, C4, E4, G4], [Pattern((0, 2, 4, 7))]) == Reading(0, 0, D3, 1, 4)


@pytest.mark.parametrize(
    ("intervals", "inversion", "message"),
    [
        ((), "any", "begin with 0"),
        ((3, 7), "any", "begin with 0"),
        ((-5, 0, 4), "any", "begin with 0"),
        ((0,), "any", "not octaves of each other"),
        ((0, 12, 24), "any", "not octaves of each other"),
        ((0, 4, 7), "lowest", "unknown inversion 'lowest'; known: any, root, first, second, third, fourth"),
        ((0, 4, 7), "third", "a chord of 3 notes has no third inversion"),
    ],
)
def test_pattern_mistakes(intervals: tuple[int, ...], inversion: str, message: str) -> None:
    """Intervals that make no chord and inversions that it cannot have are refused with the reason."""
    with pytest.raises(ValueError, match=message):
        Pattern(intervals, inversion=inversion)


def test_patterns_cross_processes() -> None:
    """A pattern that was sent to another process reads chords as the one at home."""
    sent = pickle.loads(pickle.dumps(Pattern(MAJOR, 3, "root", True)))
    assert sent == Pattern(MAJOR, 3, "root", True)
    assert best([C3, E3, G3], [sent]) == Reading(3, 0, C3, 0, 3)


some_notes = st.lists(st.integers(0, 127), max_size=10)
some_patterns = st.lists(
    st.tuples(
        st.frozensets(st.integers(1, 21), min_size=1, max_size=5),
        st.sampled_from(["any", "root"]),
        st.booleans(),
    ).filter(lambda wish: any(step % 12 for step in wish[0])),
    max_size=8,
).map(lambda wishes: [Pattern(wish[0] | {0}, index, *wish[1:]) for index, wish in enumerate(wishes)])


@given(some_notes, some_patterns)
def test_agrees_with_plain_sets(notes: list[int], patterns: list[Pattern]) -> None:
    """The readings are those found by trying every root with plain sets, and the order is a total one."""
    held = {note % 12 for note in notes}
    wanted = set()
    for pattern, root in product(patterns, range(12)):
        tones = {(root + step) % 12 for step in pattern.intervals}
        if tones <= held and (tones == held or not pattern.exact):
            if pattern.inversion == "root" and min(notes) % 12 != root:
                continue
            own = min(note for note in notes if note % 12 in tones)
            inversion = list(pattern.intervals).index((own - root) % 12)
            wanted.add(Reading(pattern.index, root, min(notes), inversion, len(tones)))
    found = readings(notes, patterns)
    assert len(found) == len(wanted)
    assert set(found) == wanted
    assert best(notes, patterns) == (found[0] if found else None)
    assert [reading.size for reading in found] == sorted((reading.size for reading in found), reverse=True)


@given(some_notes, st.randoms(use_true_random=False), st.integers(0, 11))
def test_any_key(notes: list[int], chance: Random, by: int) -> None:
    """A chord moved by some semitones is the same chord on another root, in whatever order keys go down."""
    notes = [note % 100 for note in notes]
    moved = [note + by for note in notes]
    chance.shuffle(moved)
    one, other = best(notes, NAMED), best(moved + moved[:2], NAMED)
    if one is None:
        assert other is None
    else:
        assert other == Reading(one.pattern, (one.root + by) % 12, one.bass + by, one.inversion, one.size)
