"""Knows: how program changes bring in one of several mappings, with held notes let go.

Must never know: where mappings come from, or what they say.
"""

from __future__ import annotations

from collections.abc import Sequence

from bridge.shell.feeds import Feed
from bridge.values.events import Event, NewMapping, Program
from bridge.values.mapping import Mapping


class Switching:
    """A feed in which program change N (as sent, from 0) also brings in mapping N; others change nothing.

    Args:
        mappings: each with the text of its file.
    """

    def __init__(self, feed: Feed, mappings: Sequence[tuple[Mapping, str]]) -> None:
        self._feed, self._mappings = feed, mappings

    def take(self, until: float) -> Sequence[Event]:
        """As `Feed.take`."""
        out: list[Event] = []
        for event in self._feed.take(until):
            out.append(event)
            if isinstance(event, Program) and event.program < len(self._mappings):
                mapping, text = self._mappings[event.program]
                out.append(NewMapping(event.stamp, mapping, keep=False, text=text))
        return out
