"""Knows: the bytes of one track of a MIDI file: variable-length numbers, running status, meta events.

Must never know: seconds, other tracks, or what the messages mean.

Source: Standard MIDI Files 1.0 (MMA RP-001). That system exclusive and meta events cancel running status, and
what follows F0 and F7, is from memory of it.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.values.errors import WireError
from bridge.wire.midi_in import CHANNEL_KINDS

LARGEST_VLQ = 0x0FFFFFFF
"""The largest number that four bytes of seven bits can say."""

_TRACK_NAME = 0x03
_DEVICE_NAME = 0x09
_END_OF_TRACK = 0x2F
_SET_TEMPO = 0x51


@dataclass(frozen=True, slots=True)
class Track:
    """One track, in ticks.

    Args:
        name, device: the first track name (meta 03) and device name (meta 09), empty where it has none.
        ends: tick of its end, or of its last event where End of Track is missing.
        messages: (tick, bytes as they would go over a wire).
        tempos: (tick, microseconds per quarter note).
    """

    name: str
    device: str
    ends: int
    messages: tuple[tuple[int, bytes], ...]
    tempos: tuple[tuple[int, int], ...]


def encode_vlq(value: int) -> bytes:
    """A variable-length quantity: groups of seven bits, the highest first, bit 7 set on all but the last.

    Raises:
        ValueError: value outside 0..0x0FFFFFFF.
    """
    if not 0 <= value <= LARGEST_VLQ:
        raise ValueError(f"a variable-length quantity is 0..{LARGEST_VLQ}, not {value}")
    groups = [value & 0x7F]
    while value := value >> 7:
        groups.append(value & 0x7F | 0x80)
    return bytes(reversed(groups))


class Cursor:
    """A place in a file; every step that cannot be taken is a WireError naming the byte.

    Args:
        data: the whole file.
        at: offset of the next byte.
        end: offset just after the last byte that belongs here.
        where: what the bytes belong to, for messages: "track 2".
    """

    __slots__ = ("_data", "_end", "_where", "at")

    def __init__(self, data: bytes, at: int, end: int, where: str) -> None:
        self._data = data
        self._end = end
        self._where = where
        self.at = at

    @property
    def more(self) -> bool:
        """True while a byte is left."""
        return self.at < self._end

    def byte(self, what: str) -> int:
        """The next byte, 0..255; `what` says what was expected."""
        if self.at >= self._end:
            raise WireError(f"byte {self.at}: {self._where} ends here; expected {what}")
        value = self._data[self.at]
        self.at += 1
        return value

    def data_byte(self, what: str) -> int:
        """The next byte, which must be 0..127."""
        value = self.byte(what)
        if value > 0x7F:
            raise WireError(
                f"byte {self.at - 1}: {self._where}: expected {what}, a byte 00 to 7F, found {value:02X}"
            )
        return value

    def vlq(self, what: str) -> int:
        """A variable-length quantity of one to four bytes."""
        begins = self.at
        value = 0
        for _ in range(4):
            byte = self.byte(what)
            value = value << 7 | byte & 0x7F
            if byte < 0x80:
                return value
        raise WireError(f"byte {begins}: {self._where}: expected {what} in at most 4 bytes")

    def take(self, length: int, what: str) -> bytes:
        """The next `length` bytes; nothing is set aside for bytes that are not there."""
        if length > self._end - self.at:
            raise WireError(
                f"byte {self._end}: {self._where} ends here; expected {what} of {length} bytes "
                f"from byte {self.at} to byte {self.at + length - 1}"
            )
        taken = self._data[self.at : self.at + length]
        self.at += length
        return taken

    def wrong(self, expected: str, found: int) -> WireError:
        """The error for the byte just read."""
        return WireError(f"byte {self.at - 1}: {self._where}: expected {expected}, found {found:02X}")


def read_track(data: bytes, begins: int, ends: int, number: int) -> Track:
    """Read the events of a track chunk.

    Args:
        data: the whole file, so that errors can name the byte.
        begins, ends: offsets of the chunk's content.
        number: the track's number, from 1.

    Returns:
        The track; what may stand after its End of Track does not belong to it.

    Raises:
        WireError: the first thing that is not as the standard says.
    """
    cursor = Cursor(data, begins, ends, f"track {number}")
    names: dict[int, str] = {}
    messages: list[tuple[int, bytes]] = []
    tempos: list[tuple[int, int]] = []
    tick = status = 0
    while cursor.more:
        tick += cursor.vlq("a delta time")
        head = cursor.byte("an event after its delta time")
        if head == 0xFF:
            status = 0
            kind = cursor.data_byte("the type of a meta event")
            body = cursor.take(cursor.vlq("the length of a meta event"), "a meta event")
            if kind == _END_OF_TRACK:
                break
            if kind in (_TRACK_NAME, _DEVICE_NAME):
                names.setdefault(kind, _text(body))
            elif kind == _SET_TEMPO:
                tempos.append((tick, _tempo(body, cursor.at - len(body), number)))
        elif head in (0xF0, 0xF7):
            status = 0
            body = cursor.take(
                cursor.vlq("the length of a system exclusive event"), "a system exclusive event"
            )
            messages.append((tick, b"\xf0" + body if head == 0xF0 else body))
        elif head > 0xF0:
            raise cursor.wrong("a channel message, F0, F7 or FF", head)
        else:
            if head >= 0x80:
                status = head
                first = cursor.data_byte("a data byte")
            elif status:
                first = head
            else:
                raise cursor.wrong("a status byte, as none is running", head)
            if CHANNEL_KINDS[status & 0xF0][0] == 2:
                messages.append((tick, bytes((status, first, cursor.data_byte("a second data byte")))))
            else:
                messages.append((tick, bytes((status, first))))
    return Track(
        names.get(_TRACK_NAME, ""), names.get(_DEVICE_NAME, ""), tick, tuple(messages), tuple(tempos)
    )


def _tempo(body: bytes, begins: int, number: int) -> int:
    """Microseconds per quarter note, 1..16777215; the standard asks readers to pass over extra bytes."""
    tempo = int.from_bytes(body[:3])
    if len(body) < 3 or tempo == 0:
        raise WireError(
            f"byte {begins}: track {number}: expected a tempo of 3 bytes, 1 to 16777215 microseconds "
            f"a quarter note, found {body[:3].hex(' ').upper() or 'nothing'}"
        )
    return tempo


def _text(body: bytes) -> str:
    """Printable text of a meta event; no encoding is laid down, so UTF-8 where it fits, else Latin-1."""
    try:
        text = body.decode("utf-8")
    except UnicodeDecodeError:
        text = body.decode("latin-1")
    return "".join(letter for letter in text if letter.isprintable()).strip()
