"""The socket, and what each way of failing asks of the player."""

from __future__ import annotations

import errno
import socket
from collections.abc import Iterator

import pytest

from bridge.shell.outputs.udp import MULTICAST_HOPS, REFUSED_IN_A_ROW, UdpSender, explain
from bridge.values.errors import DeviceError

from .bench import UdpEnd


@pytest.fixture
def end() -> Iterator[UdpEnd]:
    """A socket here."""
    made = UdpEnd()
    yield made
    made.close()


class Full:
    """A socket for which the system never has room."""

    def __init__(self, error: OSError) -> None:
        self.error = error

    def sendto(self, _packet: bytes, _target: object) -> None:
        raise self.error

    def close(self) -> None:
        """Nothing to let go."""


def test_a_packet_arrives_whole(end: UdpEnd) -> None:
    """One send is one datagram."""
    sender = UdpSender("127.0.0.1", end.port, "127.0.0.1")
    sender.open()
    assert sender.target == ("127.0.0.1", end.port)
    sender.send(b"one")
    sender.send(b"two")
    assert (end.take(), end.take()) == (b"one", b"two")
    sender.close()
    assert sender.target is None


def test_a_far_end_that_is_not_there_yet_is_no_error() -> None:
    """Packets nobody hears raise nothing, and a receiver that starts late hears the next."""
    end = UdpEnd()
    port = end.port
    end.close()
    sender = UdpSender("127.0.0.1", port)
    sender.open()
    for _ in range(20):
        sender.send(b"unheard")
    late = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    late.bind(("127.0.0.1", port))
    late.settimeout(2)
    sender.send(b"heard")
    assert late.recv(100) == b"heard"
    late.close()
    sender.close()


@pytest.mark.parametrize("host", ["fe80::1%nosuch", "x" * 70 + ".org", "a..b", "\ud800"])
def test_an_unknown_host_is_named(host: str) -> None:
    """A host without an address, or one no host could have, is told with what to write."""
    with pytest.raises(DeviceError, match=r"no address is known for the host.*check the spelling"):
        UdpSender(host, 9).open()


def test_an_interface_this_machine_has_not() -> None:
    """198.51.100.77 is kept for documents (RFC 5737); no machine has it."""
    with pytest.raises(DeviceError, match=r"no network interface .* 198\.51\.100\.77; .*own addresses"):
        UdpSender("127.0.0.1", 9, "198.51.100.77").open()


def test_an_interface_given_by_its_name() -> None:
    """A name in place of an address is told with an example."""
    with pytest.raises(DeviceError, match=r"'eth0' is not an address; .*192\.168\.1\.20"):
        UdpSender("127.0.0.1", 9, "eth0").open()


def test_an_interface_of_the_other_kind() -> None:
    """IPv4 cannot be sent from an IPv6 address."""
    with pytest.raises(DeviceError, match="one is IPv4, the other IPv6"):
        UdpSender("127.0.0.1", 9, "::1").open()


def test_the_system_refuses_a_broadcast_address() -> None:
    """The end of the loopback network is a broadcast address; only the system knows that, and says so."""
    sender = UdpSender("127.255.255.255", 9, "127.0.0.1")
    sender.open()
    with pytest.raises(DeviceError, match="broadcast address; write the node's own address"):
        sender.send(b"x")
    sender.close()


def test_multicast_goes_to_the_group_from_the_interface() -> None:
    """The socket is set up for the group before anything is sent; here nothing is."""
    sender = UdpSender("239.255.0.7", 5568, "127.0.0.1")
    sender.open()
    made = sender._socket
    assert made is not None
    assert sender.target == ("239.255.0.7", 5568)
    assert made.getsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_TTL) == MULTICAST_HOPS
    chosen = made.getsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, 4)
    assert chosen == socket.inet_aton("127.0.0.1")
    assert not made.getblocking()
    sender.close()


@pytest.mark.parametrize("error", [BlockingIOError(), OSError(errno.ENOBUFS, "no buffers")])
def test_a_moment_without_room_is_passed_over(error: OSError) -> None:
    """A few packets dropped for want of room are no failure; a row of them is."""
    sender = UdpSender("127.0.0.1", 9)
    sender.open()
    sender.close()
    sender._socket = Full(error)  # type: ignore[assignment]
    for _ in range(REFUSED_IN_A_ROW - 1):
        sender.send(b"x")
    with pytest.raises(DeviceError, match=r"takes no packets for 127\.0\.0\.1; check the cable"):
        sender.send(b"x")


def test_a_packet_with_room_ends_the_row(end: UdpEnd) -> None:
    """Only packets refused one after the other count as a failure."""
    sender = UdpSender("127.0.0.1", end.port)
    sender.open()
    real = sender._socket
    for _ in range(3):
        sender._socket = Full(BlockingIOError())  # type: ignore[assignment]
        for _ in range(REFUSED_IN_A_ROW - 1):
            sender.send(b"refused")
        sender._socket = real
        sender.send(b"taken")
        assert end.take() == b"taken"
    sender.close()


def test_a_picture_of_many_packets_counts_once(end: UdpEnd) -> None:
    """A picture without room is one refusal, however many packets it had; a whole one ends the row."""
    sender = UdpSender("127.0.0.1", end.port)
    sender.open()
    real = sender._socket
    packets = [b"%d" % number for number in range(64)]
    sender._socket = Full(BlockingIOError())  # type: ignore[assignment]
    for _ in range(REFUSED_IN_A_ROW - 1):
        sender.send_all(packets)
    sender._socket = real
    sender.send_all(packets)
    assert [end.take() for _ in packets] == packets
    sender._socket = Full(BlockingIOError())  # type: ignore[assignment]
    for _ in range(REFUSED_IN_A_ROW - 1):
        sender.send_all(packets)
    with pytest.raises(DeviceError, match="takes no packets"):
        sender.send_all(packets)
    sender._socket = real
    sender.close()


def test_packets_go_to_the_addresses_they_are_meant_for(end: UdpEnd) -> None:
    """Each packet has its own target, as groups do."""
    other = UdpEnd()
    sender = UdpSender("127.0.0.1", 9)
    sender.open()
    sender.send_all([b"one", b"two"], [("127.0.0.1", end.port), ("127.0.0.1", other.port)])
    assert (end.take(), other.take()) == (b"one", b"two")
    sender.close()
    other.close()


@pytest.mark.parametrize("error", [ConnectionRefusedError(), ConnectionResetError()])
def test_word_of_an_earlier_packet_is_passed_over(error: OSError) -> None:
    """Some systems report with one packet that nobody listened to the one before; that is no failure."""
    sender = UdpSender("127.0.0.1", 9)
    sender.open()
    sender.close()
    sender._socket = Full(error)  # type: ignore[assignment]
    for _ in range(2 * REFUSED_IN_A_ROW):
        sender.send(b"x")
    assert sender._socket is not None


@pytest.mark.parametrize(
    ("number", "says"),
    [
        (
            errno.ENETUNREACH,
            "no network of this machine leads to 10.0.0.9; plug in the cable or join the network",
        ),
        (errno.EHOSTUNREACH, "no network of this machine leads to 10.0.0.9; plug in the cable"),
        (errno.ENETDOWN, "no network of this machine leads to 10.0.0.9; plug in the cable"),
        (errno.EADDRNOTAVAIL, "no network interface of this machine has the address 10.0.0.1; plug in"),
        (errno.EPERM, "firewall refuses packets to 10.0.0.9; let Lampwright send to UDP port 5568"),
        (errno.EACCES, "it is a broadcast address; write the node's own address"),
        (errno.EINVAL, "10.0.0.9 cannot be reached from the interface 10.0.0.1; write the address"),
        (errno.EMSGSIZE, "sending to 10.0.0.9 failed"),
    ],
)
def test_each_failure_says_what_to_do(number: int, says: str) -> None:
    """The numbers are POSIX errno; Windows gives the same through Python."""
    assert says in str(explain(OSError(number, "words"), "10.0.0.9", 5568, "10.0.0.1"))
