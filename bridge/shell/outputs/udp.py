"""Knows: a UDP socket that sends to an address or groups, and what each way of failing asks of the player.

Must never know: what is in a packet.
"""

from __future__ import annotations

import errno
import ipaddress
import socket
from collections.abc import Iterable
from contextlib import suppress
from itertools import repeat
from typing import Any

from bridge.shell import handles
from bridge.values.errors import DeviceError

REFUSED_IN_A_ROW = 10
"""Pictures the system may have no room for before that counts as a failure: a wireless link pauses for some
tens of milliseconds in good health, and the next frame is newer anyway."""

ROOM = 1 << 18
"""Bytes of packets the system is asked to hold for us: a picture of 64 universes with what the system adds to
each packet. Linux gives about as much unasked, others as little as 9 kB."""

MULTICAST_HOPS = 8
"""Routers a multicast packet may pass: enough to cross a site, not to leave it. Common practice; ANSI E1.31
gives no number."""

_UNREACHABLE = {
    getattr(errno, name)
    for name in ("ENETUNREACH", "EHOSTUNREACH", "ENETDOWN", "EHOSTDOWN", "ENODEV", "ENONET")
    if hasattr(errno, name)
}


class UdpSender:
    """Sends packets to one address, or to groups beside it; never waits.

    The socket stays unconnected: each packet then takes the route of the moment, and a far end that is not
    there yet is no error here, so its return is seen with the very next packet.

    Args:
        host: a name or address; a multicast address sends to its group.
        port: UDP port of the far end.
        interface: address of the network interface to send from; empty for the system's choice.
    """

    def __init__(self, host: str, port: int, interface: str = "") -> None:
        self.host = host
        self.port = port
        self.interface = interface
        self._socket: socket.socket | None = None
        self._target: Any = None
        self._refused = 0

    @property
    def target(self) -> tuple[str, int] | None:
        """The address and port packets go to; None while closed."""
        return None if self._socket is None else (str(self._target[0]), int(self._target[1]))

    def open(self) -> None:
        """Find the address and make the socket.

        Raises:
            DeviceError: no such host or no such interface.
        """
        self.close()
        try:
            found = socket.getaddrinfo(self.host, self.port, type=socket.SOCK_DGRAM)
        except (OSError, UnicodeError):  # UnicodeError: a name no domain could have
            raise DeviceError(
                f"no address is known for the host {self.host!r}",
                "check the spelling, or write its number, such as 192.168.1.50",
            ) from None
        source = self._source()
        usable = [row for row in found if source is None or row[0] == _family(source)]
        if not usable:
            raise DeviceError(
                f"{self.host} cannot be reached from {self.interface}: one is IPv4, the other IPv6",
                "name an interface address of the same kind, or leave interface out",
            )
        family, _, _, _, self._target = usable[0]
        try:
            self._socket = socket.socket(family, socket.SOCK_DGRAM)
            self._set_up(self._socket, source)
        except OSError as error:
            self.close()
            raise explain(error, self.host, self.port, self.interface) from None
        self._refused = 0

    def send(self, packet: bytes | memoryview) -> None:
        """Hand a packet to the system; one it has no room for is dropped.

        Raises:
            DeviceError: it cannot be sent.
        """
        self.send_all((packet,))

    def send_all(
        self, packets: Iterable[bytes | memoryview], targets: Iterable[tuple[str, int]] | None = None
    ) -> None:
        """Hand over the packets of one picture; those the system has no room for are dropped.

        Args:
            targets: address and port of each packet, numeric and of the socket's own kind; the sender's
                own address unless given.

        Raises:
            DeviceError: one cannot be sent.
        """
        made = self._socket
        if made is None:
            raise DeviceError(f"the socket to {self.host} is closed")
        room = True
        to = repeat(self._target) if targets is None else targets
        for packet, target in zip(packets, to, strict=False):
            try:
                made.sendto(packet, target)
            except BlockingIOError:
                room = False
            except ConnectionError:
                pass  # the system passes on that nobody listened to an earlier packet; this one may be heard
            except OSError as error:
                if error.errno != errno.ENOBUFS:
                    raise explain(error, self.host, self.port, self.interface) from None
                room = False
        if room:
            self._refused = 0
        else:
            self._no_room()

    def close(self) -> None:
        """Let the socket go."""
        if self._socket is not None:
            with suppress(OSError):
                self._socket.close()
            self._socket = None

    def _no_room(self) -> None:
        self._refused += 1
        if self._refused >= REFUSED_IN_A_ROW:
            raise DeviceError(
                f"the network takes no packets for {self.host}",
                "check the cable or the wireless link of this machine",
            )

    def _source(self) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
        if not self.interface:
            return None
        try:
            return ipaddress.ip_address(self.interface)
        except ValueError:
            raise DeviceError(
                f"the interface {self.interface!r} is not an address",
                "write the address this machine has on that network, such as 192.168.1.20",
            ) from None

    def _set_up(
        self, made: socket.socket, source: ipaddress.IPv4Address | ipaddress.IPv6Address | None
    ) -> None:
        made.setblocking(False)
        with suppress(OSError):  # a system that gives less goes on with what it gives
            made.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, ROOM)
        if made.family == socket.AF_INET and ipaddress.ip_address(self._target[0]).is_multicast:
            made.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_TTL, MULTICAST_HOPS)
            if source is not None:
                made.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, source.packed)
        if source is not None:
            made.bind((self.interface, 0))


def explain(error: OSError, host: str, port: int, interface: str = "") -> DeviceError:
    """An error of the socket, and what the player can do about it."""
    number = error.errno
    if handles.used_up(error):
        return handles.explain(f"nothing can be sent to {host}")
    if number == errno.EADDRNOTAVAIL:
        return DeviceError(
            f"no network interface of this machine has the address {interface or 'asked for'}",
            "plug in the network, or write one of this machine's own addresses as interface, or leave it out",
        )
    if number == errno.EACCES:
        return DeviceError(
            f"the system refuses to send to {host}; it is a broadcast address",
            "write the node's own address",
        )
    if number == errno.EPERM:
        return DeviceError(
            f"this machine's firewall refuses packets to {host}",
            f"let Lampwright send to UDP port {port}",
        )
    if number in _UNREACHABLE:
        return DeviceError(
            f"no network of this machine leads to {host}",
            "plug in the cable or join the network, check that both addresses are in one subnet, and that "
            "the system lets this program use the local network",
        )
    if number == errno.EINVAL and interface:
        return DeviceError(
            f"{host} cannot be reached from the interface {interface}",
            "write the address this machine has on the network of the lamps, or leave interface out",
        )
    return DeviceError(f"sending to {host} failed: {error.strerror or error}")


def _family(address: ipaddress.IPv4Address | ipaddress.IPv6Address) -> socket.AddressFamily:
    return socket.AF_INET if address.version == 4 else socket.AF_INET6
