"""Knows: what a show has of music: who hears it, the clock that goes out, and what is said of both.

Must never know: how music is heard, or what it lights.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from bridge.core.engine import Engine
from bridge.shell.clock import Clock
from bridge.shell.clock_out import ClockOut, Send
from bridge.values.mapping import Mapping
from bridge.values.sound import MUSIC

if TYPE_CHECKING:
    from bridge.shell.sound.feed import SoundFeed

RULERS = {"clock": "a MIDI clock", "tap": "taps", "sound": "the music that is heard"}

SURE = 4
"""Frames for which a mapping must be in force before it is heard as it says: a song that is chosen is heard
its way at once, and its mapping follows with the next frame."""

DEAF = "the mapping that was saved follows music, and this show listens to none: end it and start it again"


class StageMusic:
    """The ears and the clock of one show.

    Args:
        ears: what hears an input or the songs; None for nothing.
        open_clock: gives what sends our MIDI clock; None for none.
        clock: monotonic time.

    Raises:
        UsageError, DeviceError: as `open_clock`.
    """

    def __init__(self, ears: SoundFeed | None, open_clock: Callable[[], Send] | None, clock: Clock) -> None:
        self._ears = ears
        self._off = 0
        self._first: Mapping | None = None
        self._out = ClockOut(open_clock(), clock) if open_clock is not None else None

    @property
    def live(self) -> SoundFeed | None:
        """What hears an input, as a feed of the loop; None where only songs are heard."""
        ears = self._ears
        listening = ears.listening if ears is not None else None
        return ears if listening is not None and not listening.file else None

    def turn(self, wall: float, t: float, engine: Engine) -> None:
        """Call with each frame: at `wall` (monotonic seconds) it is show time `t`. Returns at once.

        A mapping that was saved and wants its music heard otherwise is heeded from now on.
        """
        mapping = engine.mapping
        if self._first is None:
            self._first = mapping
        listening = self._ears.listening if self._ears is not None else None
        if listening is None or listening.hearing == mapping.hearing:
            self._off = 0
        elif (off := self._off + 1) < SURE:
            self._off = off
        elif self._ears is not None:
            self._ears.hear(mapping.hearing)
        if self._out is not None:
            self._out.tell(wall, engine.beat(t), engine.tempo[1])

    def lines(self, engine: Engine) -> list[str]:
        """What rules the beat, and what is wrong."""
        ruler, _ = engine.tempo
        lines = [f"the beat follows {RULERS[ruler]}"] if ruler in RULERS else []
        if self._deaf(engine.mapping):
            lines.append(DEAF)
        if self._ears is not None:
            lines += [line for line in (self._ears.trouble, self._ears.note) if line]
        if self._out is not None and self._out.trouble:
            lines.append(self._out.trouble)
        return lines

    def _deaf(self, mapping: Mapping) -> bool:
        """True where nothing was worth listening to when the show began, and now something is."""
        first = self._first
        if self._ears is not None or first is None or mapping is first:
            return False
        return hears_music(mapping) and not hears_music(first)

    def close(self) -> None:
        """End both; safe to call twice."""
        if self._out is not None:
            self._out.close()
        if self._ears is not None:
            self._ears.close()


def hears_music(mapping: Mapping) -> bool:
    """True if a mapping does anything with music: it is worth listening."""
    kinds = {rule.trigger.kind for rule in mapping.sets} | {rule.trigger.kind for rule in mapping.does}
    follows = "sound" in mapping.timing.order and bool(mapping.textures)
    return bool(mapping.sound) or bool(kinds & set(MUSIC)) or follows
