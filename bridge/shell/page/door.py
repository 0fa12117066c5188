"""Knows: how long a connection may sit there without asking for anything, and how many there may be.

Must never know: what is asked for.
"""

from __future__ import annotations

import asyncio
from typing import Any, ClassVar, cast

from uvicorn.protocols.http.h11_impl import H11Protocol

from bridge.shell.page.limits import Refused

FIRST_SECONDS = 5.0
"""Until the first request must be whole."""

LIFE_SECONDS = 30.0
"""Until a connection that is no socket ends, whatever it does: a page loads in less."""

MOST = 250
"""Connections of all kinds."""


class Door(H11Protocol):
    """uvicorn's connection, with an end to patience; a socket, once open, is another protocol's affair."""

    refused: ClassVar[Refused] = Refused()

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Somebody has connected."""
        super().connection_made(transport)
        if len(self.connections) > MOST:
            self.refused["crowd"] += 1
            transport.abort()
            return
        self.loop.call_later(FIRST_SECONDS, self._end, True)
        self.loop.call_later(LIFE_SECONDS, self._end, False)

    def _end(self, first: bool) -> None:
        transport = cast(Any, self.transport)
        if transport.is_closing() or transport.get_protocol() is not self or (first and self.cycle):
            return
        if first:
            self.refused["slow"] += 1
        transport.abort()


def door(refused: Refused) -> type[Door]:
    """A door that counts in `refused`."""
    return type("CountingDoor", (Door,), {"refused": refused})
