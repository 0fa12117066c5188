"""Knows: which of a mapping's inputs a port is, by a part of the port's name.

Must never know: devices, or how ports are opened.
"""

from __future__ import annotations

from collections.abc import Mapping as ReadOnly

FILE_PORT = "file"
"""The port of events from a MIDI file whose track names no input: every rule hears it."""


class PortNames:
    """Answers `does this port count as that input`, remembering what it was asked.

    An input's text is matched without regard to case. A track of a MIDI file, which has no port,
    may also be called by the input's own name.
    """

    def __init__(self, inputs: ReadOnly[str, str]) -> None:
        self._inputs = {name: part.casefold() for name, part in inputs.items()}
        self._known: dict[tuple[str, str], bool] = {}

    def matches(self, port: str, source: str) -> bool:
        """True if a rule whose `from` is `source` (empty: any) hears `port`."""
        if not source:
            return True
        found = self._known.get((port, source))
        if found is None:
            found = port == FILE_PORT or self._is(port, source)
            self._known[(port, source)] = found
        return found

    def names_an_input(self, port: str) -> bool:
        """True if the port is one of the inputs."""
        return any(self._is(port, name) for name in self._inputs)

    def _is(self, port: str, source: str) -> bool:
        name = port.casefold()
        return name == source.casefold() or self._inputs.get(source, source.casefold()) in name
