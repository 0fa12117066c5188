"""Knows: how what is heard looks in a terminal: a bar for each band, its strokes, the beat.

Must never know: how it was heard, or where the terminal is.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Group, RenderableType
from rich.text import Text

from bridge.values.events import Event
from bridge.values.sound import BeatHeard, Onset, Sound

EIGHTHS = " ▏▎▍▌▋▊▉█"
FLASH = 0.12
"""Seconds for which a stroke and a beat are shown."""

TELLS = 0.8
"""Seconds for which the strength of a stroke can be read, for whoever sets `least`."""

LEGEND = "bar: how loud, 0 to 1; lozenge and number: a stroke, and how hard, 0 to 1; dot: a beat"

COLOURS = ("orange3", "light_goldenrod2", "light_sky_blue1")


class SoundView:
    """Remembers the newest readings and draws them.

    Args:
        bands: names from the lowest up. width: characters of a bar.
    """

    def __init__(self, bands: Sequence[str], width: int = 48) -> None:
        self._bands, self._width = bands, width
        self._levels: tuple[float, ...] = ()
        self._struck: dict[int, tuple[float, float]] = {}
        self._beat: BeatHeard | None = None
        self._beats = 0

    def take(self, events: Sequence[Event]) -> None:
        """Something was heard."""
        for one in events:
            if isinstance(one, Sound):
                self._levels = one.bands
            elif isinstance(one, Onset):
                self._struck[one.band] = (one.stamp, one.strength)
            elif isinstance(one, BeatHeard):
                self._beats += one.bpm > 0.0
                self._beat = one if one.bpm else None

    def draw(self, t: float, notes: Sequence[str] = ()) -> RenderableType:
        """What is to be seen at `t` seconds, the highest band on top."""
        lines = [self._band(band, t) for band in reversed(range(len(self._bands)))]
        told = (Text(note, style="yellow") for note in notes if note)
        return Group(*lines, self._tempo(t), Text(f"{'':>10} {LEGEND}", style="dim"), *told)

    def _band(self, band: int, t: float) -> Text:
        level = self._levels[band] if band < len(self._levels) else 0.0
        at, strength = self._struck.get(band, (-1.0, 0.0))
        since = t - at
        mark = "◆" if strength > 0.6 else "◇"
        struck = f" {mark if since < FLASH else ' '} {strength:.2f}" if 0.0 <= since < TELLS else ""
        colour = COLOURS[min(2, round(2 * band / max(1, len(self._bands) - 1)))]
        line = Text(f"{self._bands[band]:>10} ")
        line.append(bar(level, self._width), style=colour)
        line.append(struck.ljust(7), style="bold" if since < FLASH else "dim")
        return line

    def _tempo(self, t: float) -> Text:
        beat = self._beat
        if beat is None:
            return Text(f"{'beat':>10} none yet; it takes some seconds of music")
        now = 0.0 <= t - beat.stamp < FLASH
        text = f"{beat.bpm:5.1f} beats a minute, {round(100 * beat.sure)} % sure"
        return Text(f"{'beat':>10} {'●' if now else '○'} {text}", style="bold" if now else "")


def bar(level: float, width: int) -> str:
    """A level 0..1 as a bar in eighths of a character, padded to `width`."""
    eighths = round(max(0.0, min(1.0, level)) * width * 8)
    full, rest = divmod(eighths, 8)
    text = "█" * full + (EIGHTHS[rest] if rest else "")
    return text.ljust(width)
