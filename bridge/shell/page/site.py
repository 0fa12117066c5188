"""Knows: the files of the page, the socket it listens on, and the address others reach it by.

Must never know: what is served besides, or to whom.
"""

from __future__ import annotations

import contextlib
import hashlib
import mimetypes
import socket
from importlib.resources import files

from bridge.shell.page.settings import PageSettings
from bridge.values.errors import DeviceError

BACKLOG = 64

TYPES = {".js": "text/javascript", ".css": "text/css", ".html": "text/html", ".svg": "image/svg+xml"}


def page_files() -> dict[str, tuple[bytes, str, str]]:
    """Every file of the page by name, read once: no path is ever made of what a browser asks for."""
    out = {}
    for file in files("bridge.shell.page").joinpath("web").iterdir():
        body = file.read_bytes()
        kind = TYPES.get(f".{file.name.rpartition('.')[2]}") or mimetypes.guess_type(file.name)[0]
        out[file.name] = (
            body,
            kind or "application/octet-stream",
            f'"{hashlib.sha256(body).hexdigest()[:16]}"',
        )
    return out


def listen(settings: PageSettings) -> socket.socket:
    """A listening socket on the first of the wanted ports that is free."""
    failed: OSError | None = None
    for port in settings.ports:
        try:
            family = socket.getaddrinfo(settings.host, port, type=socket.SOCK_STREAM)[0][0]
            return socket.create_server((settings.host, port), family=family, backlog=BACKLOG)
        except OSError as error:
            failed = error
    reason = failed.strerror if failed is not None else "no port"
    raise DeviceError(
        f"the page cannot be served on {settings.host} port {settings.port}: {reason}",
        "give another --page-port, an address of this computer as --page-host, or --no-page",
    )


def own_address() -> str:
    """The address by which the network knows this computer, as far as the system's routes tell."""
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        # Connecting a datagram socket sends nothing (the address is one of RFC 5737, for documents).
        probe.connect(("192.0.2.1", 9))
        return str(probe.getsockname()[0])
    return "127.0.0.1"
