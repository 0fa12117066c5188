"""Knows: how pictures and news of the show become the bytes and lines that browsers are sent.

Must never know: sockets, who looks, or what a lamp means to anybody.

A picture is a byte 1, the number of the picture (u32) and the drive 0..255 of every lamp; or a byte 2, the
number, and (lamp u16, drive) for those that changed. Little endian. News goes as JSON, the keys that changed.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Callable
from typing import Any

import numpy as np

from bridge.core.ports import PortNames
from bridge.values.beat import Beat
from bridge.values.frame import Frame
from bridge.values.mapping import Mapping
from bridge.values.rig import Rig

HEAD = struct.Struct("<BI")
WHOLE, CHANGES = 1, 2

Look = Callable[[], "tuple[int, Beat, Frame, dict[str, Any]] | None"]

STILL_SECONDS = 2.0
"""A show that sends no new frame for so long has stopped or hangs."""

LINK = "stage page: "

_CONTROL = re.compile(r"control (\d+) at (\d+)")
_NOTE = re.compile(r"\S+ \((\d+)\) at (\d+)")


class Feed:
    """The newest picture and news, each with a number that grows when it changes.

    Args:
        look: gives the newest (counter, beat, frame, news), or None.
        rig: the rig that is running.
        now: monotonic seconds.
    """

    def __init__(self, look: Look, rig: Rig, now: Callable[[], float]) -> None:
        self._look, self._now = look, now
        rows = {universe: row for row, universe in enumerate(rig.universes)}
        self._rows = np.array([rows[lamp.universe] for lamp in rig.lamps], dtype=np.intp)
        self._columns = np.array([lamp.slot - 1 for lamp in rig.lamps], dtype=np.intp)
        self._count = -1
        self._changed_at = now()
        self.number = 0
        """Grows with every picture that differs from the one before."""
        self.drives = bytes(len(rig.lamps))
        self.news: dict[str, Any] = {}
        self.ports = PortNames({})
        self.inputs: tuple[str, ...] = ()

    def hear(self, mapping: Mapping) -> None:
        """Another mapping is in force: arrivals are told by its inputs."""
        self.ports, self.inputs = PortNames(mapping.inputs), tuple(mapping.inputs)

    def turn(self) -> None:
        """Look once."""
        found = self._look()
        now = self._now()
        if found is None or found[0] == self._count:
            if now - self._changed_at > STILL_SECONDS and not self.news.get("still"):
                self.news = {**self.news, "still": True}
            return
        self._count, beat, frame, news = found
        self._changed_at = now
        drives = frame.slots[self._rows, self._columns].tobytes() if len(self._rows) else b""
        if drives != self.drives:
            self.drives = drives
            self.number += 1
        said = {**news, "still": False, "seconds": int(frame.t), "frame_errors": beat.errors}
        if isinstance(notices := news.get("notices"), list):
            # Where the page is they know, and its secret is for the player to hand on.
            said["notices"] = [line for line in notices if not str(line).startswith(LINK)]
        if isinstance(events := news.get("events"), list):
            said["events"] = [self._told(event) for event in events]
        self.news = said

    def _told(self, event: dict[str, Any]) -> dict[str, Any]:
        """An arrival with its input, and with its number so that it can be taught."""
        port, what = str(event.get("port", "")), str(event.get("what", ""))
        source = next((name for name in self.inputs if self.ports.matches(port, name)), "")
        kind = number = None
        if found := _NOTE.fullmatch(what):
            kind, number = "note", int(found[1])
        elif found := _CONTROL.fullmatch(what):
            kind, number = "control", int(found[1])
        elif what.startswith(("bend", "pressure")):
            kind, number = what.split()[0], 0
        return {"source": source, "kind": kind, "number": number} | event


def packet(before: bytes, now: bytes, number: int) -> bytes:
    """The shorter of the whole picture and of what changed since `before`."""
    head = number & 0xFFFFFFFF
    if len(before) == len(now):
        old, new = np.frombuffer(before, np.uint8), np.frombuffer(now, np.uint8)
        changed = np.flatnonzero(old != new)
        if 3 * len(changed) < len(now) and len(now) <= 0xFFFF:
            pairs = np.zeros(len(changed), dtype=[("lamp", "<u2"), ("drive", "u1")])
            pairs["lamp"], pairs["drive"] = changed, new[changed]
            return HEAD.pack(CHANGES, head) + pairs.tobytes()
    return HEAD.pack(WHOLE, head) + now


def difference(before: dict[str, Any], now: dict[str, Any]) -> dict[str, Any]:
    """The keys whose values changed; a key that is gone is None."""
    out = {key: value for key, value in now.items() if key not in before or before[key] != value}
    return out | {key: None for key in before if key not in now}
