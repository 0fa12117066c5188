"""Knows: what a serial interface must be given to send DMX512: bytes, and the times of break, mark and slots.

Must never know: which device it is, how it is opened, or when to send.

Two ways: a plain RS-485 adapter, where we make the break ourselves (by the driver, or by a zero byte sent
slowly), and an interface that takes framed messages and makes it itself.
Source: ANSI E1.11-2008 (R2018), timing tables; the slow byte is common practice, arithmetic on those tables.
The message framing is that of a widespread kind of USB interface; its marks and labels are from memory.
"""

from __future__ import annotations

from bridge.values.frame import SLOTS

BAUD = 250_000
SLOT_US = 44
"""A slot is 11 bits of 4 us: one start bit, eight of data, two stop bits."""

BREAK_US = 176
"""The break the tables call typical (that figure from memory)."""

LEAST_BREAK_US, LEAST_MARK_US = 92, 12
"""A transmitter's shortest break and mark after break."""

LEAST_PACKET_US = 1204
"""A transmitter's shortest time from break to break."""

LONGEST_PACKET_US = 1_000_000
"""A transmitter's longest time from break to break; a mark may never reach it."""

START_CODE = b"\x00"
"""Null START code: what follows are levels."""


def break_packet(slots: bytes) -> bytes:
    """What follows break and mark on the line: the START code and the slots.

    Args:
        slots: up to 512 levels 0..255, slot 1 first.

    Raises:
        ValueError: more than 512 slots.
    """
    _check(len(slots))
    return START_CODE + slots


def bare_packet_time_us(
    slots: int,
    break_us: float = BREAK_US,
    mab_us: float = LEAST_MARK_US,
    between_us: float = 0,
    before_us: float = 0,
) -> float:
    """Microseconds of a packet as its parts add up, which may be less than a transmitter may take.

    Args:
        slots: 0..512, the START code not counted.
        break_us, mab_us: break, and mark after it.
        between_us: mark after each slot. before_us: mark before the next break.
    """
    _check(slots)
    return break_us + mab_us + SLOT_US * (slots + 1) + between_us * slots + before_us


def padding_us(slots: int, break_us: float = BREAK_US, mab_us: float = LEAST_MARK_US) -> float:
    """Microseconds of mark to add after the last slot so that the packet takes 1204 us."""
    return max(0, LEAST_PACKET_US - bare_packet_time_us(slots, break_us, mab_us))


def packet_time_us(slots: int, break_us: float = BREAK_US, mab_us: float = LEAST_MARK_US) -> float:
    """Microseconds from break to break, at least 1204."""
    return bare_packet_time_us(slots, break_us, mab_us) + padding_us(slots, break_us, mab_us)


def highest_refresh_hz(slots: int, break_us: float = BREAK_US, mab_us: float = LEAST_MARK_US) -> float:
    """Packets a second when each follows the last at once: 44.0995 for 512 slots, break 92 and mark 12."""
    return 1e6 / packet_time_us(slots, break_us, mab_us)


def slow_byte_baud(break_us: int = BREAK_US, stop_bits: int = 2) -> int:
    """The highest whole rate at which a zero byte makes this break and a mark of at least 12 us.

    Args:
        break_us: least length of the break in microseconds; the byte's start bit and eight zeros make it.
        stop_bits: 1 or 2; they make the mark. One stop bit alone caps the rate at 83333 bit/s.
    """
    return min(9_000_000 // break_us, stop_bits * 1_000_000 // LEAST_MARK_US)


def slow_byte_times_us(baud: float, stop_bits: int = 2) -> tuple[float, float]:
    """Break and mark in microseconds that a zero byte makes at a rate in bit/s."""
    return 9e6 / baud, stop_bits * 1e6 / baud


def _check(slots: int) -> None:
    if not 0 <= slots <= SLOTS:
        raise ValueError(f"a packet carries 0..{SLOTS} slots, not {slots}")


MESSAGE_BEGINS, MESSAGE_ENDS = 0x7E, 0xE7
SEND_PACKET, GET_PARAMETERS = 6, 3
"""Labels of framed messages."""

LONGEST_MESSAGE = 600
"""Bytes a framed message may carry; a larger claim is no message (from memory)."""

LEAST_FRAMED_SLOTS = 24


def _framed(label: int, payload: bytes) -> bytes:
    return (
        bytes((MESSAGE_BEGINS, label)) + len(payload).to_bytes(2, "little") + payload + bytes((MESSAGE_ENDS,))
    )


def framed_packet(slots: bytes) -> bytes:
    """The message that has the interface send these levels, from now until the next one.

    Args:
        slots: up to 512 levels, slot 1 first; fewer than 24 are filled up with zeros.

    Raises:
        ValueError: more than 512 slots.
    """
    return _framed(SEND_PACKET, break_packet(slots.ljust(LEAST_FRAMED_SLOTS, b"\x00")))


def framed_query() -> bytes:
    """The message that asks the interface for its settings; a reply with the same label proves one."""
    return _framed(GET_PARAMETERS, b"\x00\x00")


class FramedReader:
    """Finds framed messages in what an interface sends, however it is cut into pieces.

    Attributes:
        rubbish: bytes so far that belonged to no message.
    """

    __slots__ = ("_kept", "rubbish")

    def __init__(self) -> None:
        self.rubbish = 0
        self._kept = bytearray()

    def feed(self, data: bytes) -> list[tuple[int, bytes]]:
        """Take the next bytes; never raises. At most one message's worth is kept for the next call.

        A stray start mark can hold back what follows it until as many bytes have come as it seems to claim.

        Returns:
            (label 0..255, payload) of each message completed, in order.
        """
        kept = self._kept
        kept += data
        messages = []
        at = 0
        while (begins := kept.find(MESSAGE_BEGINS, at)) >= 0:
            self.rubbish += begins - at
            at = begins
            if len(kept) - at < 4:
                break
            length = kept[at + 2] | kept[at + 3] << 8
            ends = at + 4 + length
            if length <= LONGEST_MESSAGE and ends >= len(kept):
                break
            if length <= LONGEST_MESSAGE and kept[ends] == MESSAGE_ENDS:
                messages.append((kept[at + 1], bytes(kept[at + 4 : ends])))
                at = ends + 1
            else:
                # No message after all: a true one may begin right behind this byte.
                self.rubbish += 1
                at += 1
        else:
            self.rubbish += len(kept) - at
            at = len(kept)
        del kept[:at]
        return messages
