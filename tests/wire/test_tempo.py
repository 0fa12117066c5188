"""Time of ticks against exact fractions and published arithmetic; beats there and back."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.wire.tempo import DEFAULT_TEMPO, Division, Ruler, TempoMap
from tests.reference_rows import rows

TICKS = [row for row in rows("smf_vlq.csv") if row["kind"] == "tick"]
CHANGES = st.lists(st.tuples(st.integers(0, 5000), st.integers(1, 0xFFFFFF)), max_size=12)


def exact(quarter: int, changes: list[tuple[int, int]], tick: int) -> Fraction:
    """Seconds at a tick, one tick after the other."""
    seconds, tempo = Fraction(0), DEFAULT_TEMPO
    at = dict(changes)
    for passed in range(tick):
        tempo = at.get(passed, tempo)
        seconds += Fraction(tempo, 1_000_000 * quarter)
    return seconds


@given(st.integers(1, 0x7FFF), CHANGES, st.integers(0, 6000))
def test_ticks_are_exact(quarter: int, changes: list[tuple[int, int]], tick: int) -> None:
    """The time of a tick is the float nearest to the exact sum over every tick before it."""
    assert Ruler(Division.from_word(quarter), changes).seconds_at(tick) == float(
        exact(quarter, changes, tick)
    )


def test_published_tempo_map() -> None:
    """The worked tempo map gives its published time (Standard MIDI Files 1.0, arithmetic)."""
    (row,) = [row for row in rows("smf_vlq.csv") if row["kind"] == "tempo map example"]
    ruler = Ruler(Division.from_word(480), [(0, 500_000), (960, 1_000_000)])
    assert ruler.seconds_at(1320) == float(row["value_decimal"])


@pytest.mark.parametrize(("row", "quarter"), list(zip(TICKS, (480, 96), strict=True)), ids=["480", "96"])
def test_published_ticks(row: dict[str, str], quarter: int) -> None:
    """A tick at the default tempo lasts its published microseconds."""
    assert Ruler(Division.from_word(quarter), []).seconds_at(1) * 1e6 == pytest.approx(
        float(row["value_decimal"]), rel=1e-12
    )


def test_nothing_drifts_over_ten_hours() -> None:
    """Ten hours of a tempo that no float holds end on the exact second."""
    ruler = Ruler(Division.from_word(480), [(0, 333_333)])
    ticks = 10 * 3600 * 3 * 480
    assert ruler.seconds_at(ticks) == float(Fraction(ticks * 333_333, 480_000_000))


RATES = {-24: Fraction(24), -25: Fraction(25), -29: Fraction(30_000, 1001), -30: Fraction(30)}


@pytest.mark.parametrize("row", [row for row in rows("smf_vlq.csv") if row["kind"] == "division smpte"],
                         ids=lambda row: row["bytes_hex"])  # fmt: skip
def test_published_frame_rates(row: dict[str, str]) -> None:
    """Each published SMPTE byte gives its frames a second, 29 being 30 drop frame, at any tempo."""
    data = bytes.fromhex(row["bytes_hex"])
    ticks = data[1] if len(data) == 2 else 100
    rate = RATES[int.from_bytes(data[:1], signed=True)]
    ruler = Ruler(Division.from_word(data[0] << 8 | ticks), [(0, 1), (5, 9_000_000)])
    for tick in (0, 1, ticks, 1_000_000):
        assert ruler.seconds_at(tick) == float(Fraction(tick) / ticks / rate)
    assert ruler.points(0) == [(0.0, 0.0, DEFAULT_TEMPO)]


@pytest.mark.parametrize("row", [row for row in rows("smf_vlq.csv") if row["kind"] == "division"],
                         ids=lambda row: row["bytes_hex"])  # fmt: skip
def test_published_divisions(row: dict[str, str]) -> None:
    """A division with bit 15 clear is ticks a quarter note (Standard MIDI Files 1.0)."""
    division = Division.from_word(int.from_bytes(bytes.fromhex(row["bytes_hex"])))
    assert division.per_quarter == int(row["value_decimal"])


@given(st.integers(0, 0xFFFF))
def test_any_division_word(word: int) -> None:
    """A division is ticks of a length above nothing, or refused with what would be right."""
    good = 0 < word < 0x8000 or (256 - (word >> 8) in (24, 25, 29, 30) and word & 0xFF)
    if good:
        assert 0 < Ruler(Division.from_word(word), []).seconds_at(1) < 1
    else:
        with pytest.raises(ValueError, match=r"1 to 32767 ticks|24, 25, 29 or 30 frames"):
            Division.from_word(word)


@pytest.mark.parametrize("word", [0, 0x8000, 0xE700, 0xE928, 0xFFFF], ids=hex)
def test_words_that_are_no_division(word: int) -> None:
    """No ticks, no frames, and rates that SMPTE does not have are refused with what would be right."""
    with pytest.raises(
        ValueError, match=r"1 to 32767 ticks|24, 25, 29 or 30 frames a second of 1 to 255 ticks"
    ):
        Division.from_word(word)


def test_the_last_of_two_tempos_holds() -> None:
    """Of two tempo changes on one tick the later in the file counts."""
    assert Ruler(Division.from_word(1), [(0, 1), (0, 2_000_000)]).seconds_at(3) == 6.0


@given(st.integers(1, 960), CHANGES, st.integers(0, 6000), st.floats(-10, 1000))
def test_beats_there_and_back(
    quarter: int, changes: list[tuple[int, int]], tick: int, seconds: float
) -> None:
    """Every tick's time is its beat, a beat goes back to its time, and later is never an earlier beat."""
    ruler = Ruler(Division.from_word(quarter), changes)
    tempo_map = TempoMap(tuple({point[0]: point for point in ruler.points(0)}.values()))
    # One change of 1 us a quarter makes 16.7 s of float noise into that many beats, hence the wide bound.
    assert tempo_map.seconds_at(tick / quarter) == pytest.approx(ruler.seconds_at(tick), rel=1e-9, abs=1e-9)
    assert tempo_map.seconds_at(tempo_map.beat_at(seconds)) == pytest.approx(seconds, rel=1e-9, abs=1e-9)
    assert tempo_map.beat_at(seconds) <= tempo_map.beat_at(seconds + 0.001)
