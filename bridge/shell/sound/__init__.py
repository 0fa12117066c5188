"""Music that lamps can follow: analysed in a process of its own, from an input or from a file.

Other folders take what is named here; the rest may change.
"""

from __future__ import annotations

from bridge.shell.sound.feed import SoundFeed
from bridge.shell.sound.order import Listening

__all__ = ["Listening", "SoundFeed"]
