"""Knows: which slots of a frame go on which row of a rig's time chart, and what the row is called.

Must never know: how a chart is drawn, or where frames come from.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from bridge.shell.draw_chart import Chart
from bridge.values.frame import Frame
from bridge.values.rig import Rig


class RigChart:
    """The time chart of a rig, a row for each lamp in the order of the rig, with its name and its slot.

    A 16-bit lamp shows its coarse slot. The memory does not grow with the length.
    """

    def __init__(self, rig: Rig, path: str | Path, title: str = "") -> None:
        labels = [f"{lamp.name}   {lamp.universe}.{lamp.slot}" for lamp in rig.lamps]
        colours = [lamp.colour for lamp in rig.lamps]
        self._chart = Chart(labels, path, colours=colours, title=title)
        self._rows = np.array([rig.universes.index(lamp.universe) for lamp in rig.lamps], dtype=np.intp)
        self._columns = np.array([lamp.slot - 1 for lamp in rig.lamps], dtype=np.intp)

    def add(self, frame: Frame) -> None:
        """One frame of the rig, not before the last one."""
        self._chart.add(frame.t, frame.slots[self._rows, self._columns])

    def save(self) -> None:
        """Write the picture.

        Raises:
            DeviceError: the file cannot be written.
        """
        self._chart.save()


def chart_of(rig: Rig, path: str | Path, title: str = "") -> RigChart:
    """A time chart of the rig that takes its frames one by one; nothing is written before `save`."""
    return RigChart(rig, path, title)
