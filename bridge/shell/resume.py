"""Knows: when the mark of where a show stands is written, and what a show that ended badly left behind.

Must never know: what a mark lights, where marks are kept, devices.

A thread writes, never a frame: on a change, at most once a second; every ten seconds while only time moves
something (a film that was started), and now and then in any case, so that a mark tells until when a show
lived. A kill of every process leaves the last mark.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from types import TracebackType

from bridge.shell.bookmark import Bookmark
from bridge.shell.resume_marks import Found, Place, described, parsed, steady, time_of_day, written
from bridge.values.events import Event, Mark, NewMapping, Restore
from bridge.values.mapping import Mapping

OLDEST = 12 * 3600.0
"""Seconds after which a mark is of another evening; a clock that was set back counts alike."""

EVERY, DRIFT, ALIVE = 1.0, 10.0, 30.0
"""Seconds between two writings; while only time moves something; while nothing does, to say until when."""

CLOSES_WITHIN = 1.0
"""Seconds that the end of a show gives the disk."""

TOLD = 60.0
"""Seconds of the show for which the player is told of what was found."""


class Resume:
    """The mark of one show. Leaving the `with` block without an error is a clean end.

    Args:
        mark: where it is kept. fresh: what is found there does not count.
        now: seconds since 1970. every: least seconds between two writings.
    """

    def __init__(
        self, mark: Bookmark, fresh: bool = False, now: Callable[[], float] = time.time, every: float = EVERY
    ) -> None:
        self._mark, self._now, self._every = mark, now, every
        self.found: Found | None = None
        """What the show before left; None where it ended well, or too long ago."""
        self._too_old = ""
        if fresh:
            mark.clear()
        else:
            self._read()
        self._last: tuple[Place, tuple[Mark, ...]] | None = None
        self._steady: object = None
        self._last_t = 0.0
        self._next: Found | None = None
        self._wake, self._over = threading.Event(), threading.Event()
        self._clean = True
        self._thread: threading.Thread | None = None

    def _read(self) -> None:
        found = parsed(self._mark.read())
        if found is None:
            return
        if abs(self._now() - found.made) > OLDEST:
            when = time_of_day(found.made, self._now())
            self._too_old = f"the show that ended badly at {when} is over 12 hours ago: begun anew"
        else:
            self.found = found

    @property
    def line(self) -> str:
        """What the player is told of it; empty where there is nothing to tell."""
        said = described(self.found) if self.found is not None else ""
        if self.found is None or not said:
            return self._too_old
        when = time_of_day(self.found.made, self._now())
        return f"found where the show was at {when} when it ended badly: {said}; play --fresh begins anew"

    def leave_out(self, ports: Collection[str]) -> None:
        """What plays presses the keys of these ports anew, which would put out latches that came back."""
        if self.found is not None:
            kept = tuple(mark for mark in self.found.marks if mark.note < 0 or mark.port not in ports)
            self.found = replace(self.found, marks=kept)

    def song(self, names: Sequence[str]) -> int:
        """The number in a set list to begin with: where the show was, if that song is still there."""
        if self.found is None:
            return 0
        place = self.found.place
        if 0 <= place.song < len(names) and names[place.song] == place.name:
            return place.song
        return names.index(place.name) if place.name in names else 0

    def events(self, mappings: Sequence[tuple[Mapping, str]] = ()) -> list[Event]:
        """What brings it all back at second 0, after everything else that happens then.

        Args:
            mappings: with their texts, where there are several.
        """
        if self.found is None:
            return []
        out: list[Event] = []
        number = self.found.place.mapping
        if 0 < number < len(mappings):
            out.append(NewMapping(0.0, mappings[number][0], keep=False, text=mappings[number][1]))
        return [*out, Restore(0.0, self.found.marks)]

    def look(self, standing: Callable[[float], tuple[Mark, ...]], place: Place, t: float) -> None:
        """Call some times a second with what asks the engine; returns at once."""
        try:
            marks = standing(t)
        except Exception:
            return  # a mark may cost the mark, and never the show
        now = (place, marks)
        stands, pause = self._steady, ALIVE
        if now != self._last:
            stands = (place, [steady(mark) for mark in marks])
            pause = 0.0 if stands != self._steady else DRIFT
        if t - self._last_t < pause:
            return
        self._last, self._steady, self._last_t = now, stands, t
        self._next = Found(self._now(), place, marks)
        self._wake.set()
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, name="mark", daemon=True)
            self._thread.start()

    def _work(self) -> None:
        over = False
        while not over:
            self._wake.wait()
            self._wake.clear()
            over = self._over.is_set()
            newest, self._next = self._next, None
            if newest is not None and not (over and self._clean):
                self._mark.put(**written(newest))
            self._over.wait(self._every)
        self._end()

    def _end(self) -> None:
        if self._clean:
            self._mark.clear()
        self._mark.close()

    def close(self, clean: bool = True) -> None:
        """The show is over; a clean end takes the mark out. Waits a second for the disk, no longer."""
        self._clean = clean
        self._over.set()
        self._wake.set()
        if self._thread is not None:
            self._thread.join(CLOSES_WITHIN)
        else:
            self._end()

    def __enter__(self) -> Resume:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close(clean=kind is None)
