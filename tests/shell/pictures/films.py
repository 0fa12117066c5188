"""Knows: how to make small films and lamps for tests; PyAV encodes what is then decoded.

Must never know: how films are read.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

import av
import numpy as np

from bridge.values.rig import Lamp

MS = Fraction(1, 1000)


def lamps(columns: int = 6, rows: int = 4, pitch: float = 1.0, **lamp: object) -> list[Lamp]:
    """Lamps in rows from the lower left."""
    return [
        Lamp(f"l{n}", n, 1, n + 1, at=(n % columns * pitch, n // columns * pitch), **lamp)  # type: ignore[arg-type]
        for n in range(columns * rows)
    ]


def grey(level: int, size: tuple[int, int] = (48, 32)) -> np.ndarray:
    """One shade, as sRGB codes."""
    return np.full((size[1], size[0], 3), level, dtype=np.uint8)


def encode(
    path: Path, frames: Sequence[np.ndarray], times_ms: Sequence[int] | None = None, codec: str = "ffv1"
) -> Path:
    """Write a film; `times_ms` gives frames their moments, else one each 40 ms."""
    with av.open(str(path), "w") as box:
        stream = box.add_stream(codec, rate=25)
        stream.width, stream.height = frames[0].shape[1], frames[0].shape[0]
        stream.pix_fmt = "bgr0" if codec == "ffv1" else "yuv420p"
        stream.codec_context.time_base = MS
        for number, pixels in enumerate(frames):
            frame = av.VideoFrame.from_ndarray(pixels, format="rgb24")
            frame.pts = times_ms[number] if times_ms else 40 * number
            frame.time_base = MS
            box.mux(stream.encode(frame))
        box.mux(stream.encode())
    return path
