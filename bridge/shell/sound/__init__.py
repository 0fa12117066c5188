"""Music that lamps can follow: analysed in a process of its own, from an input or from a file.

Other folders take what is named here; the rest may change. Loaded when first asked for.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.shell.late import late

if TYPE_CHECKING:
    from bridge.shell.sound.feed import SoundFeed
    from bridge.shell.sound.order import Listening

__all__ = ["Listening", "SoundFeed"]

__getattr__ = late(__name__, {"SoundFeed": "feed", "Listening": "order"})
