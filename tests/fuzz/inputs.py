"""Knows: how inputs are changed: bytes of any, words and lines of text.

Must never know: what an input is for.
"""

from __future__ import annotations

import random
import re
from collections.abc import Sequence

from hypothesis import strategies as st

_PARTS = re.compile(rb"[A-Za-z0-9_.#'\-]+|\n|[^A-Za-z0-9_.#'\-\n]+")


def reworded(data: bytes, chance: random.Random, words: Sequence[str], others: Sequence[bytes]) -> bytes:
    """Text with a few of its words or lines put elsewhere, taken out, doubled, or given way to others."""
    for _ in range(chance.randint(1, 4)):
        if chance.random() < 0.35:
            pieces = data.split(b"\n")
            more = chance.choice(others).split(b"\n") if others else pieces
            glue = b"\n"
            new = chance.choice(more)
        else:
            pieces = _PARTS.findall(data) or [b""]
            glue = b""
            new = chance.choice(words).encode() if chance.random() < 0.7 else chance.choice(pieces)
        at = chance.randrange(len(pieces))
        what = chance.randrange(4)
        if what == 0:
            del pieces[at]
        elif what == 1:
            pieces.insert(at, new)
        else:
            pieces[at] = new
        data = glue.join(pieces)
    return data


def changed(data: bytes, chance: random.Random, longest: int) -> bytes:
    """Bytes with a few of them changed, taken out, put in or cut off."""
    out = bytearray(data)
    for _ in range(chance.randint(1, 8)):
        at = chance.randrange(len(out) + 1)
        what = chance.randrange(6)
        if what == 0 and at < len(out):
            out[at] ^= 1 << chance.randrange(8)
        elif what == 1 and at < len(out):
            out[at] = chance.choice((0, 1, 0x7F, 0x80, 0xFF, chance.randrange(256)))
        elif what == 2:
            del out[at : at + chance.randint(1, 8)]
        elif what == 3:
            out[at:at] = chance.randbytes(chance.randint(1, 8))
        elif what == 4:
            begin = chance.randrange(len(out) + 1)
            out[at:at] = out[begin : begin + chance.randint(1, 64)]
        elif chance.random() < 0.1:
            del out[at:]
    return bytes(out[:longest])


def any_input(seeds: Sequence[bytes], longest: int, words: Sequence[str] = ()) -> st.SearchStrategy[bytes]:
    """A seed, changed by bytes or by words; or any bytes at all."""

    def make(seed: bytes, number: int, worded: bool) -> bytes:
        chance = random.Random(number)
        return (reworded(seed, chance, words, seeds) if worded else changed(seed, chance, longest))[:longest]

    worded = st.booleans() if words else st.just(False)
    near = st.builds(make, st.sampled_from(seeds), st.integers(0, 2**32 - 1), worded)
    return st.one_of(near, near, near, st.binary(max_size=min(longest, 200)))
