"""Knows: whether the JACK server that let us in still lives.

Must never know: ports, clients, or what to do when it died.

libjack does not say: the clients of a server that was killed go on listing its ports as they were, and
nothing arrives any more. Worse, the next attempt to become a client frees those that are left, and closing
one of them after that ends the whole process (seen with libjack 1.9.22: segmentation fault). So the server's
own socket is asked, before anything else is.
"""

from __future__ import annotations

import os
import socket
import tempfile
from pathlib import Path

PATIENCE = 0.05
"""Seconds to wait for a server too busy to take a call; one that is only busy counts as alive."""


def server_socket() -> Path | None:
    """The socket at which the server we would meet takes calls; None where none is found.

    The name is that of JACK 2: `jack_SERVER_USER_0`, in the folder it was built for.
    """
    server = os.environ.get("JACK_DEFAULT_SERVER", "default")
    user = os.getuid() if hasattr(os, "getuid") else 0
    for home in ("/dev/shm", tempfile.gettempdir()):
        path = Path(home, f"jack_{server}_{user}_0")
        if path.exists():
            return path
    return None


def takes_calls(path: Path) -> bool:
    """True unless the socket is gone or nobody listens; calls and hangs up, as libjack's own check does."""
    try:
        with socket.socket(socket.AF_UNIX) as call:
            call.settimeout(PATIENCE)
            call.connect(str(path))
    except (ConnectionRefusedError, FileNotFoundError):
        return False
    except OSError:
        return True
    return True


class JackLife:
    """Watches the server whose client we are."""

    def __init__(self) -> None:
        self._path: Path | None = None
        self._mark: tuple[int, int] | None = None

    def let_in(self) -> None:
        """We became a client just now: this is the server to watch."""
        self._path = server_socket()
        self._mark = _mark(self._path)

    def ended(self) -> bool:
        """True if that server died, even if another took its place; False where that cannot be known."""
        if self._path is None or self._mark is None:
            return False
        return _mark(self._path) != self._mark or not takes_calls(self._path)


def _mark(path: Path | None) -> tuple[int, int] | None:
    """What tells the socket from one made later under the same name."""
    try:
        found = path.stat() if path is not None else None
    except OSError:
        return None
    return None if found is None else (found.st_ino, found.st_ctime_ns)
