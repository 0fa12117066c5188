"""Knows: which parts of a show there are while it runs; most of them may be missing.

Must never know: what any of them does, or in which order they begin and end.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from bridge.core.engine import Engine
from bridge.shell.evening import Evening
from bridge.shell.house import House
from bridge.shell.known import Known
from bridge.shell.outputs import OutputWorker
from bridge.shell.picture import PictureWriter
from bridge.shell.recording import Recording
from bridge.shell.replaying import Replaying
from bridge.shell.sound.stage import StageMusic
from bridge.shell.tally import Tally
from bridge.shell.thru import Thru

if TYPE_CHECKING:
    from bridge.shell.sound import SoundFeed


@dataclass(slots=True)
class Running:
    """The parts of one show.

    Args:
        known: the mappings of files that may come into force.
        live: the MIDI ports that are open. t: seconds of the newest frame.
    """

    engine: Engine
    tally: Tally
    known: Known
    workers: list[OutputWorker] = field(default_factory=list)
    picture: PictureWriter | None = None
    house: House | None = None
    live: Any = None
    thru: Thru | None = None
    music: StageMusic | None = None
    evening: Evening | None = None
    replaying: Replaying | None = None
    recording: Recording | None = None
    t: float = 0.0

    @property
    def ears(self) -> SoundFeed | None:
        """What hears an input; None where none is heard."""
        return self.music.live if self.music is not None else None
