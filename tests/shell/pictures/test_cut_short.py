"""Films whose end is missing and whose decoders do not notice."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.files import mapping_from_text
from bridge.shell.pictures.cut_short import cut_short
from tests.shell.files.cases import boathouse
from tests.shell.pictures.films import encode

RIG = boathouse()


def chance(n: int) -> np.ndarray:
    """A frame that no encoder makes small."""
    return np.random.default_rng(n).integers(0, 255, (32, 48, 3), dtype=np.uint8)


def warnings_of(path: Path) -> list[str]:
    """What is odd about a mapping that shows a film."""
    text = f"textures: {{a: {{picture: {path.name}, lamps: roof, run: true}}}}\n"
    return [str(problem) for problem in mapping_from_text(text, RIG, "m.yaml", path.parent)[1]]


@pytest.mark.parametrize(
    ("suffix", "codec", "said"),
    [
        ("avi", "mpeg4", r"the film is cut off: of 4.0 s only [123]\.\d s can be read; copy or"),
        ("avi", "ffv1", r"the film is cut off: of 4.0 s only [123]\.\d s can be read; copy or"),
        ("ts", "mpeg4", r"the film is cut off in the middle of a packet; [123]\.\d s can be read"),
    ],
)
def test_a_film_cut_off_is_warned_of(tmp_path: Path, suffix: str, codec: str, said: str) -> None:
    """A film of which only a part is there plays as far as it goes, and the mapping says so."""
    whole = encode(tmp_path / f"whole.{suffix}", [chance(n) for n in range(100)], codec=codec)
    assert warnings_of(whole) == []
    part = tmp_path / f"part.{suffix}"
    part.write_bytes(whole.read_bytes()[: whole.stat().st_size // 2 + 7])
    (warning,) = warnings_of(part)
    assert warning.startswith("m.yaml:1:25: warning: 'part.")
    assert re.search(said, warning), warning


def test_a_size_that_was_never_written_is_no_fault(tmp_path: Path) -> None:
    """A recorder that could not go back to the head of its file leaves 0 there, and the film may be whole."""
    path = tmp_path / "a.avi"
    path.write_bytes(b"RIFF\0\0\0\0AVI LIST" + bytes(200))
    assert cut_short(path, 1.0) == ""
    path.write_bytes(b"RIFF\xff\0\0\0AVI LIST")
    assert cut_short(path, 1.0) == "the film is cut off: of 263 bytes 16 are here, and only 1.0 s can be read"


@given(st.one_of(st.binary(max_size=80), st.binary(max_size=80).map(lambda tail: b"RIFFabcdAVI " + tail)))
def test_any_bytes_are_a_sentence_or_none(tmp_path_factory: pytest.TempPathFactory, data: bytes) -> None:
    """Whatever a file begins with, there is no error."""
    path = tmp_path_factory.mktemp("any") / "a.avi"
    path.write_bytes(data)
    assert isinstance(cut_short(path, 2.0), str)
