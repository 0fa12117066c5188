"""What is heard, in the terminal and as a chart."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from rich.console import Console

from bridge.shell.draw_light import GROUND
from bridge.shell.sound.draw_sound import LEFT, ROW, TOP, WIDTH, draw_sound, picture
from bridge.shell.sound.screen import SoundView, bar
from bridge.values.errors import DeviceError
from bridge.values.sound import BeatHeard, Onset, Sound

BANDS = ("bass", "middle", "treble")


def shown(view: SoundView, t: float, *notes: str) -> str:
    """The view as text."""
    console = Console(width=90, record=True, file=io.StringIO())
    console.print(view.draw(t, notes))
    return console.export_text()


def test_a_bar_is_as_long_as_its_level() -> None:
    """Bars are full at 1, empty at 0, to an eighth of a character between, whatever comes."""
    assert bar(1.0, 8) == "████████"
    assert bar(0.0, 8) == " " * 8
    assert bar(0.5 + 1 / 64, 8) == "████▏   "
    assert bar(7.0, 4) == "████"


def test_the_terminal_shows_bands_strokes_beats_and_notes() -> None:
    """Bars by name with the highest on top, a lozenge for a fresh stroke, the tempo, and what is wrong."""
    view = SoundView(BANDS)
    assert "none yet" in shown(view, 0.0)
    view.take([Sound(1.0, "x", (1.0, 0.0, 0.5)), Onset(1.0, "x", 0, 0.9), BeatHeard(1.0, "x", 120.0, 0.8)])
    text = shown(view, 1.05, "the input is gone")
    assert text.index("treble") < text.index("middle") < text.index("bass")
    assert "◆" in text
    assert "●" in text
    assert "120.0 beats a minute, 80 % sure" in text
    assert "the input is gone" in text
    assert "◆ 0.90" in text
    assert "0.90" in shown(view, 1.5)
    assert "◆" not in shown(view, 2.0)
    assert "0.90" not in shown(view, 2.0)
    # What the marks mean stands there too.
    assert "lozenge and number: a stroke" in text
    view.take([BeatHeard(3.0, "x", 0.0, 0.0)])
    assert "none yet" in shown(view, 3.0)


def test_the_chart_shows_levels_where_and_when_they_were(tmp_path: Path) -> None:
    """The bass row is lit in the second half alone, the treble row nowhere; a beat is a line through all."""
    heard = [Sound(n / 100, "x", (1.0 if n > 200 else 0.0, 0.5, 0.0)) for n in range(400)]
    path = tmp_path / "chart.png"
    draw_sound([*heard, BeatHeard(1.0, "x", 120.0, 1.0), Onset(3.0, "x", 0, 1.0)], BANDS, path, "a song")
    image = np.asarray(Image.open(path).convert("RGB")).astype(int)
    bass, treble = TOP + 2 * (ROW + 14) + ROW - 30, TOP + 40
    lit = np.abs(image - np.array(GROUND)).sum(axis=2) > 60
    half = LEFT + WIDTH // 2
    assert lit[bass, half + 20 : LEFT + WIDTH - 5].all()
    assert lit[bass, LEFT : half - 20].sum() <= 2
    assert lit[treble, LEFT : LEFT + WIDTH].sum() <= 2
    assert lit[treble, LEFT + WIDTH // 4 - 4 : LEFT + WIDTH // 4 + 5].any()


def test_nothing_heard_is_a_picture_too(tmp_path: Path) -> None:
    """No readings give an empty chart; a place that cannot be written is the one named error."""
    assert picture([], BANDS).size[0] > WIDTH
    with pytest.raises(DeviceError, match="chart"):
        draw_sound([], BANDS, tmp_path / "no folder" / "chart.png")
