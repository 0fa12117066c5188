"""Knows: the time chart of a take: a piano roll of its notes above the levels of its lamps, on one time axis.

Must never know: takes' files, engines, how a frame was made.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from bridge.parts.colours import rgb, shine
from bridge.parts.notes import is_white, note_name
from bridge.shell.draw_chart import RESTING, WIDTH, Chart
from bridge.shell.draw_light import FAINT, GROUND, INK, RULE, font
from bridge.shell.whole_file import whole_file
from bridge.values.events import Control, Event, NoteOff, NoteOn, PortGone
from bridge.values.frame import Frame
from bridge.values.rig import Rig

HUES = ("amber", "cyan", "lime", "pink", "violet", "orange", "green", "blue")
"""Colours of ports and channels, in order of their names; then again from the first."""

ROLL = 420
"""Pixels the roll may be high, about."""

PEDAL = 10
"""Pixels of the lane of the sustain pedal."""

LEGEND = 30
LEAST_NOTES = 12
SUSTAIN = 64
MARGIN = 28
"""Pixels a chart keeps free at the left of its longest label."""

Place = tuple[str, int]


@dataclass(frozen=True, slots=True)
class Bar:
    """A note as it is drawn: from second to second; `note` is -1 for the pedal."""

    place: Place
    note: int
    begins: float
    ends: float
    velocity: int


def bars(events: Iterable[Event], ends: float) -> Iterator[Bar]:
    """Notes, and the sustain pedal down, in order of their ends; what is still down at `ends` ends there."""
    down: dict[tuple[str, int, int], tuple[float, int]] = {}

    def up(name: tuple[str, int, int], t: float) -> Iterator[Bar]:
        found = down.pop(name, None)
        if found is not None:
            yield Bar(name[:2], name[2], found[0], max(found[0], t), found[1])

    for event in events:
        if isinstance(event, NoteOn):
            name = (event.port, event.channel, event.note)
            yield from up(name, event.stamp)
            down[name] = event.stamp, event.velocity
        elif isinstance(event, NoteOff):
            yield from up((event.port, event.channel, event.note), event.stamp)
        elif isinstance(event, PortGone):
            for name in [name for name in down if name[0] == event.port]:
                yield from up(name, event.stamp)
        elif isinstance(event, Control) and event.control == SUSTAIN:
            name = (event.port, event.channel, -1)
            if event.value < 64:
                yield from up(name, event.stamp)
            else:
                down.setdefault(name, (event.stamp, 64))
        elif isinstance(event, Control) and event.control >= 120 and event.control not in (121, 122):
            for name in [name for name in down if name[:2] == (event.port, event.channel) and name[2] >= 0]:
                yield from up(name, event.stamp)
    for name in list(down):
        yield from up(name, ends)


class RollChart:
    """Takes the frames one by one; the notes come with `save`.

    Args:
        rig: whose frames come. path: a PNG. title: drawn on top. middle_c: what note 60 is called.
    """

    def __init__(self, rig: Rig, path: str | Path, title: str = "", middle_c: str = "C4") -> None:
        labels = [f"{lamp.name}   {lamp.universe}.{lamp.slot}" for lamp in rig.lamps]
        self._path, self._title, self._middle_c = path, title, middle_c
        self._chart = Chart(labels, path, colours=[lamp.colour for lamp in rig.lamps])
        self._bare = Chart([], path).picture().width
        self._rows = np.array([rig.universes.index(lamp.universe) for lamp in rig.lamps], dtype=np.intp)
        self._columns = np.array([lamp.slot - 1 for lamp in rig.lamps], dtype=np.intp)
        self._times: list[float] = []

    def add(self, frame: Frame) -> None:
        """One frame of the rig, not before the last one."""
        self._chart.add(frame.t, frame.slots[self._rows, self._columns])
        self._times = [*self._times[:1], *self._times[1:][-1:], frame.t]

    def save(self, events: Iterable[Event]) -> None:
        """Write the picture.

        Args:
            events: what was played, in order.

        Raises:
            DeviceError: the file cannot be written.
        """
        picture = self.picture(events)
        with whole_file(self._path) as file:
            picture.save(file, "PNG", optimize=False)

    def picture(self, events: Iterable[Event]) -> Image.Image:
        """The chart of what was added so far."""
        chart = self._chart.picture()
        left = MARGIN + chart.width - self._bare
        begin, end = self._span()
        found = [bar for bar in bars(events, end) if bar.ends >= begin and bar.begins <= end]
        top = 52 if self._title else 16
        roll = _Roll(found, begin, end, self._middle_c) if any(bar.note >= 0 for bar in found) else None
        height = top + (roll.height + LEGEND if roll is not None else 0)
        image = Image.new("RGB", (chart.width, height + chart.height), GROUND)
        image.paste(chart, (0, height))
        pen = ImageDraw.Draw(image)
        if self._title:
            pen.text((left, 16), self._title, font=font(22), fill=INK)
        if roll is not None:
            roll.draw(pen, left, top)
        return image

    def _span(self) -> tuple[float, float]:
        """As the chart below has it: the last frame stands as long as the one before it."""
        if not self._times:
            return 0.0, 1e-3
        begin, last = self._times[0], self._times[-1]
        before = self._times[-2] if len(self._times) > 1 else last
        return begin, max(last + (last - before), begin + 1e-3)


class _Roll:
    """The bars of one roll, placed."""

    def __init__(self, found: list[Bar], begin: float, end: float, middle_c: str) -> None:
        self._middle_c = middle_c
        self._bars = sorted(found, key=lambda bar: bar.begins)
        self._begin, self._end = begin, end
        notes = [bar.note for bar in found if bar.note >= 0]
        spare = max(0, LEAST_NOTES - (max(notes) - min(notes) + 1))
        self._low = max(0, min(notes) - 1 - spare // 2)
        self._high = min(127, max(notes) + 1 + (spare + 1) // 2)
        self._row = max(4, min(16, ROLL // (self._high - self._low + 1)))
        self._places = sorted({bar.place for bar in found})
        self._pedal = PEDAL if any(bar.note < 0 for bar in found) else 0
        self.height = self._row * (self._high - self._low + 1) + self._pedal

    def draw(self, pen: ImageDraw.ImageDraw, left: int, top: int) -> None:
        """Draw ground, bars, names of the Cs, and whose colour is whose."""
        right = left + WIDTH - 1
        for note in range(self._low, self._high + 1):
            y = top + (self._high - note) * self._row
            pen.rectangle((left, y, right, y + self._row - 1), fill=RESTING if is_white(note) else GROUND)
            if note % 12 == 0:
                pen.line((left, y + self._row - 1, right, y + self._row - 1), fill=RULE)
                middle = y + self._row / 2
                pen.text(
                    (left - 12, middle), note_name(note, self._middle_c), font=font(12), fill=INK, anchor="rm"
                )
        floor = top + (self._high - self._low + 1) * self._row
        if self._pedal:
            pen.text((left - 12, floor + PEDAL / 2), "sustain", font=font(11), fill=FAINT, anchor="rm")
        for bar in self._bars:
            x0, x1 = self._x(bar.begins, left), self._x(bar.ends, left)
            colour = rgb(HUES[self._places.index(bar.place) % len(HUES)])
            if bar.note < 0:
                pen.rectangle((x0, floor + 3, max(x0 + 1, x1), floor + PEDAL - 2), fill=shine(colour, 0.15))
                continue
            y = top + (self._high - bar.note) * self._row
            strength = 0.12 + 0.88 * bar.velocity / 127
            box = (x0, y, max(x0 + 1, x1 - 1), y + max(1, self._row - 2))
            pen.rectangle(box, fill=shine(colour, strength))
        self._legend(pen, left, floor + self._pedal + 6, right)

    def _x(self, t: float, left: int) -> int:
        share = (min(max(t, self._begin), self._end) - self._begin) / (self._end - self._begin)
        return left + round(share * (WIDTH - 1))

    def _legend(self, pen: ImageDraw.ImageDraw, left: int, y: int, right: int) -> None:
        x = left
        for number, (port, channel) in enumerate(self._places):
            text = f"{port or 'no name'} {channel}"
            wide = font(12).getlength(text)
            if x + 16 + wide > right:
                pen.text((x, y), "…", font=font(12), fill=FAINT)
                return
            pen.rectangle((x, y + 3, x + 9, y + 12), fill=rgb(HUES[number % len(HUES)]))
            pen.text((x + 15, y), text, font=font(12), fill=INK)
            x += 15 + round(wide) + 22
