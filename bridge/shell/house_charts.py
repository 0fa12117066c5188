"""Knows: how the charts of takes are drawn for the stage page, one at a time and each once.

Must never know: who asks; a path that came from outside.
"""

from __future__ import annotations

import tempfile
import threading
from collections import OrderedDict
from pathlib import Path

from bridge.shell.files import rig_from_text
from bridge.shell.takes.export_frames import export_png
from bridge.shell.takes.reader import Take
from bridge.values.errors import BridgeError

MOST = 50
"""Charts kept."""


class Charts:
    """The charts of the takes in a folder.

    Args:
        folder: where the takes are.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._kept: OrderedDict[tuple[str, int, int], bytes | None] = OrderedDict()
        self._one = threading.Lock()

    def draw(self, name: str) -> bytes | None:
        """A PNG of a take that the show told of by name; None where there is none to draw."""
        if not name or Path(name).name != name:
            return None
        with self._one:
            # However many ask and however often, each chart is drawn once: the page has better things to do.
            try:
                state = (self._folder / name).stat()
            except OSError:
                return None
            key = name, state.st_mtime_ns, state.st_size
            if key not in self._kept:
                self._kept[key] = self._drawn(name)
                if len(self._kept) > MOST:
                    self._kept.popitem(last=False)
            return self._kept[key]

    def _drawn(self, name: str) -> bytes | None:
        try:
            with Take.open(self._folder / name) as take, tempfile.TemporaryDirectory() as aside:
                rig, _ = rig_from_text(take.header.rig, name)
                out = Path(aside) / "chart.png"
                export_png(take, rig, out, name)
                return out.read_bytes()
        except (BridgeError, OSError):
            return None
