"""Knows: what becomes of any bytes as a picture or film, and as a song's sound.

Must never know: who makes the bytes, or the decoders behind the readers.
"""

from __future__ import annotations

import io
import tempfile
import warnings
from pathlib import Path

import numpy as np
import soundfile
from PIL import Image

from bridge.shell.pictures import PictureError, missing_of, plan_for, seen_by_lamps
from bridge.shell.song.sound_file import SoundFile
from bridge.values.errors import FileError
from tests.fuzz.files_target import PICTURES
from tests.shell.pictures.films import lamps

_ROOM = tempfile.TemporaryDirectory(prefix="lampwright-fuzz-")

PLANS = tuple(
    plan_for(lamps(), "fill", area, None, blend, False) for area, blend in (("box", False), ("gauss", True))
)

BLOCK = 4096
MOST_BLOCKS = 8


def pictures(data: bytes) -> None:
    """A picture or an animated image; what is neither is tried as a film."""
    path = Path(_ROOM.name) / "fuzz.png"
    path.write_bytes(data)
    try:
        seen = seen_by_lamps(path, PLANS[len(data) % 2])
    except PictureError as error:
        str(error).encode("utf-8")
        return
    missing_of(path, seen)


def sounds(data: bytes) -> None:
    """A sound file is read, looked into and read again; every sample is a number within -1..1."""
    path = Path(_ROOM.name) / "fuzz.wav"
    path.write_bytes(data)
    try:
        file = SoundFile(path)
    except FileError as error:
        str(error).encode("utf-8", "surrogatepass")
        return
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for seconds in (0.0, file.length / 2, file.length + 1.0):
            file.seek(seconds)
            for _ in range(MOST_BLOCKS):
                block = file.read(BLOCK)
                if block.shape[1:] != (2,) or not np.all(np.abs(block) <= 1.0):
                    raise RuntimeError("no sound")
                if len(block) < BLOCK:
                    break
    file.close()


def picture_seeds() -> list[bytes]:
    """Small pictures of every kind, still and moving."""
    rows = np.arange(8 * 12 * 3, dtype=np.uint8).reshape(8, 12, 3)
    still, other = Image.fromarray(rows), Image.fromarray(255 - rows)
    found = [(PICTURES / "pictures" / "lettering.png").read_bytes()]
    for kind in ("PNG", "JPEG", "BMP", "PPM", "WEBP"):
        out = io.BytesIO()
        still.save(out, kind)
        found.append(out.getvalue())
    for kind in ("GIF", "WEBP", "PNG"):
        out = io.BytesIO()
        still.save(out, kind, save_all=True, append_images=[other, still], duration=40)
        found.append(out.getvalue())
    return found


def sound_seeds() -> list[bytes]:
    """A short tone in each kind of file."""
    tone = np.sin(np.arange(400) / 9.0)
    found = []
    for kind, sub, channels in (
        *(("WAV", "PCM_16", 1), ("WAV", "FLOAT", 3), ("WAV", "IMA_ADPCM", 1), ("FLAC", "PCM_16", 2)),
        *(("OGG", "VORBIS", 2), ("AIFF", "PCM_24", 2), ("MP3", "MPEG_LAYER_III", 1), ("CAF", "ALAC_16", 2)),
    ):
        out = io.BytesIO()
        soundfile.write(out, np.stack([tone] * channels, axis=1), 8000, sub, format=kind)
        found.append(out.getvalue())
    return found
