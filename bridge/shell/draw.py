"""Knows: which pictures Lampwright can draw; the one door to them.

Must never know: how any of them is drawn.
"""

from __future__ import annotations

from bridge.parts.colours import COLOURS, rgb
from bridge.shell.draw_chart import Chart, time_chart
from bridge.shell.draw_film import Film, gif
from bridge.shell.draw_rig import RigPainter, lamp_levels, rig_picture
from bridge.shell.draw_show import RigChart, chart_of

__all__ = [
    "COLOURS",
    "Chart",
    "Film",
    "RigChart",
    "RigPainter",
    "chart_of",
    "gif",
    "lamp_levels",
    "rgb",
    "rig_picture",
    "time_chart",
]
