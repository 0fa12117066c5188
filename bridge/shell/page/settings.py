"""Knows: where the page is served, to whom, and what it may show and change.

Must never know: sockets, browsers, or what a message means.

The show makes the settings once: a house process that died and was started again serves the same link.
"""

from __future__ import annotations

import ipaddress
import secrets
from dataclasses import dataclass
from pathlib import Path

DEFAULT_PORT = 5190
NEIGHBOURS = 10
"""Ports tried from the default one on, where the player has named none."""

HERE = ("127.0.0.1", "localhost", "::1")


@dataclass(frozen=True, slots=True)
class PageSettings:
    """How the page is served.

    Args:
        host: address or name to listen on; 127.0.0.1 is this computer alone.
        port: TCP port; `fixed` says that the player named it, so that no neighbour will do. 0: any free one.
        token: the secret of the link; empty where none is asked for.
        view_only: the page shows, and changes nothing.
        mapping, rig: files that the page may teach; None for none.
        clients: browsers at a time; rate: messages a second from each, on average and in one burst.
        ping_s: seconds between two signs of life, and how long an answer may take.
    """

    host: str = "127.0.0.1"
    port: int = DEFAULT_PORT
    fixed: bool = False
    token: str = ""
    view_only: bool = False
    mapping: Path | None = None
    rig: Path | None = None
    clients: int = 20
    rate: int = 300
    ping_s: float = 10.0

    @property
    def ports(self) -> range:
        """The ports to try, the wanted one first."""
        return range(self.port, self.port + (1 if self.fixed or not self.port else NEIGHBOURS))


def page_settings(
    host: str = "127.0.0.1",
    port: int | None = None,
    view_only: bool = False,
    mapping: Path | None = None,
    rig: Path | None = None,
) -> PageSettings:
    """Settings as the player's options ask: any address but this computer's own gets a token."""
    token = "" if is_here(host) else secrets.token_urlsafe(16)
    return PageSettings(
        host=host,
        port=DEFAULT_PORT if port is None else port,
        fixed=port is not None,
        token=token,
        view_only=view_only,
        mapping=mapping,
        rig=rig,
    )


def is_here(host: str) -> bool:
    """True for an address that only this computer reaches."""
    if host in HERE:
        return True
    address = as_address(host)
    return address is not None and address.is_loopback


def as_address(host: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    """An address written as numbers; None for a name."""
    try:
        return ipaddress.ip_address(host)
    except ValueError:
        return None


def is_everywhere(host: str) -> bool:
    """True for the address that stands for all of this computer's."""
    address = as_address(host)
    return address is not None and address.is_unspecified


def with_port(host: str, port: int) -> str:
    """Host and port as they stand in a link."""
    return f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
