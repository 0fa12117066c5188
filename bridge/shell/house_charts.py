"""Knows: how the chart of a take is drawn for the stage page.

Must never know: who asks; a path that came from outside.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from bridge.shell.files import rig_from_text
from bridge.shell.takes.export_frames import export_png
from bridge.shell.takes.reader import Take
from bridge.values.errors import BridgeError


def chart_of_take(folder: Path, name: str) -> bytes | None:
    """A PNG of a take that the show told of by name; None where there is none to draw."""
    if not name or Path(name).name != name:
        return None
    try:
        with Take.open(folder / name) as take, tempfile.TemporaryDirectory() as aside:
            rig, _ = rig_from_text(take.header.rig, name)
            out = Path(aside) / "chart.png"
            export_png(take, rig, out, name)
            return out.read_bytes()
    except (BridgeError, OSError):
        return None
