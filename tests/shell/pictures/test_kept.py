"""Long films cross to the show by name; a broken one leaves the show as it was."""

from __future__ import annotations

import multiprocessing
import pickle
from pathlib import Path

import numpy as np
from PIL import Image

from bridge.core.engine import Engine
from bridge.core.texture_draw import film
from bridge.shell.pictures.kept import LONG, keep
from bridge.shell.watch import MappingWatch
from bridge.values.events import NewMapping
from bridge.values.texture import Film, Places, Settings
from tests.shell.files.cases import boathouse


def levels(frames: int, lamps: int = 40) -> np.ndarray:
    """Levels by chance, repeatably."""
    return np.random.default_rng(1).integers(0, 65536, (frames, lamps)).astype(np.uint16)


def test_a_long_film_crosses_by_name() -> None:
    """What is pickled of a film of megabytes is a few hundred bytes, and it comes back the same."""
    long = levels(2 * LONG // 80)
    kept = keep(long)
    sent = pickle.dumps(Film((0.0,), 1.0, kept))
    assert len(sent) < 1000
    back = pickle.loads(sent)
    assert bool(np.array_equal(back.levels, long))
    # A part of it has no file of its own, and crosses as what it is.
    assert bool(np.array_equal(pickle.loads(pickle.dumps(kept[5:7])), long[5:7]))


def test_a_short_film_is_sent_whole() -> None:
    """A film of a few bytes needs no file."""
    short = levels(3)
    assert keep(short) is short


def test_what_is_drawn_is_plain() -> None:
    """Levels from a kept film are arrays like all others, and may be changed."""
    draw = film(Film((0.0, 0.5), 1.0, keep(levels(LONG // 40))[:2], blend=True))
    out = draw(Places(np.zeros(40), np.zeros(40)), 0.3, Settings())
    assert type(out) is np.ndarray
    out *= 0.5


def _decode(pipe: object) -> None:
    pipe.send(keep(levels(LONG // 40)))  # type: ignore[attr-defined]
    pipe.recv()  # type: ignore[attr-defined]


def test_the_file_goes_with_its_process() -> None:
    """Another process decodes, this one reads on after it has ended, and nothing is left behind."""
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=_decode, args=(theirs,))
    process.start()
    kept = ours.recv()
    path = Path(kept.path)
    assert path.exists()
    ours.send("leave")
    process.join(10.0)
    assert process.exitcode == 0
    assert not path.exists()
    assert bool(np.array_equal(kept, levels(LONG // 40)))


def test_the_show_goes_on_with_a_broken_film(tmp_path: Path) -> None:
    """A mapping saved with a broken picture is told with its place, and the one in force stays in force."""
    rig = boathouse()
    file = tmp_path / "m.yaml"
    Image.new("L", (9, 9), 255).save(tmp_path / "good.png")
    (tmp_path / "bad.png").write_bytes((tmp_path / "good.png").read_bytes()[:50])
    file.write_text("textures:\n  a: {picture: good.png, run: true}\n")
    watch = MappingWatch(file, rig)
    file.write_text("textures:\n  a: {picture: bad.png, run: true} # broken\n")
    watch.look()
    told = watch.look()
    assert isinstance(told, list)
    assert told[0].startswith(f"{file}:2:16: 'bad.png': ")
    file.write_text("textures:\n  a: {picture: good.png, run: true} # mended now\n")
    watch.look()
    found = watch.look()
    assert isinstance(found, tuple)
    engine = Engine(rig, found[0])
    lit = engine.advance([NewMapping(0.0, pickle.loads(pickle.dumps(found[0])))], 0.1)
    assert lit.slots[0, :24].min() > 200
