"""Knows: what becomes of any bytes as the file of a take: raw, as patches to one, as rows whose checks fit.

Must never know: who makes the bytes.
"""

from __future__ import annotations

import sqlite3
import tempfile
import zlib
from contextlib import suppress
from functools import cache
from pathlib import Path

from bridge.core.engine import Engine
from bridge.shell.feeds import Feed
from bridge.shell.files import mapping_from_text, rig_from_text
from bridge.shell.loop import offline
from bridge.shell.takes.export_midi import export_midi
from bridge.shell.takes.feeds import EventFeed, PictureFeed
from bridge.shell.takes.info import info
from bridge.shell.takes.reader import Take
from bridge.shell.takes.roll import bars
from bridge.shell.takes.store import APPLICATION_ID, TABLES
from bridge.values.errors import BridgeError, WireError
from bridge.values.mapping import Mapping
from bridge.wire import take_rows
from bridge.wire.take_events import read_events
from bridge.wire.take_frames import read_frames
from bridge.wire.take_header import decode_header, join_texts, read_end, read_remarks
from tests.shell.takes.players import MAPPING, RIG, ListFeed, record, song

FRAMES = 12

_ROOM = tempfile.TemporaryDirectory(prefix="lampwright-fuzz-")
FOLDER = Path(_ROOM.name)


@cache
def base() -> bytes:
    """The file of a small take."""
    for old in FOLDER.glob("base*"):
        old.unlink()
    return record(FOLDER / "base.take", [ListFeed(song(1))], 40).read_bytes()


@cache
def base_rows() -> tuple[tuple[int, int, bytes], ...]:
    """(number of table, key, row) of it."""
    data = sqlite3.connect(":memory:")
    data.deserialize(base())
    rows = [
        (t, *row) for t, table in enumerate(TABLES) for row in data.execute(f"SELECT at, row FROM {table}")
    ]
    data.close()
    return tuple(rows)


EVENTS_IN, HEADER_IN, MAPPING_IN, KINDS = 6, 7, 8, 9
"""Kinds beyond those of rows: what stands deflated in a row of events and in a header; a later mapping."""


def packed(kind: int, body: bytes) -> bytes:
    """A row of a kind, its check right, and deflated what is deflated in a take."""
    kind %= KINDS
    if kind == EVENTS_IN:
        return take_rows.pack(take_rows.EVENTS, bytes((1, 0, 0, 39)) + zlib.compress(body, 1))
    if kind == HEADER_IN:
        return take_rows.pack(take_rows.TEXT, bytes((0, 0, 1)) + zlib.compress(body, 1))
    if kind == MAPPING_IN:
        return take_rows.pack(take_rows.TEXT, bytes((1, 0, 1)) + body)
    return take_rows.pack(kind, body)


def takes(data: bytes) -> None:
    """First byte: 0 a raw file; 1 patches (three bytes of place, one of value) of a take; else rows."""
    if not data:
        return
    kind, data = data[0] % 3, data[1:]
    if kind == 0:
        content = data
    elif kind == 1:
        patched = bytearray(base())
        for at in range(0, len(data) - 3, 4):
            patched[int.from_bytes(data[at : at + 3]) % len(patched)] = data[at + 3]
        content = bytes(patched)
    else:
        content = _made_of(data)
    path = FOLDER / "fuzz.take"
    for rest in FOLDER.glob("fuzz.*"):
        rest.unlink()
    path.write_bytes(content)
    with suppress(BridgeError), Take.open(path) as take:
        _read(take)


def _made_of(data: bytes) -> bytes:
    """A take whose rows say what `data` says, their checks right.

    Entries of table (and with 16 a row of the small take at the key), length (two bytes), key (four), body.
    """
    made = sqlite3.connect(":memory:", isolation_level=None)
    made.execute(f"PRAGMA application_id={APPLICATION_ID}")
    made.execute(f"PRAGMA user_version={take_rows.VERSION}")
    for table in TABLES:
        made.execute(f"CREATE TABLE {table}(at INTEGER PRIMARY KEY, row BLOB NOT NULL)")
    at = 0
    while at + 8 <= len(data):
        what, kind, length = data[at], data[at + 1], int.from_bytes(data[at + 2 : at + 4])
        key = int.from_bytes(data[at + 4 : at + 8], signed=True)
        body = data[at + 8 : at + 8 + length]
        at += 8 + length
        row = packed(kind & 63, body)
        if kind & 64:
            key = (1 << 60) + key
        table = TABLES[what % 4]
        if what & 16:
            number, key, row = base_rows()[key % len(base_rows())]
            table = TABLES[number]
        made.execute(f"INSERT OR REPLACE INTO {table} VALUES (?, ?)", (key, row))
    content = made.serialize()
    made.close()
    return bytes(content)


def _read(take: Take) -> None:
    """All that the commands about takes do with one, beside drawing."""
    with suppress(BridgeError):
        # A file name that is no UTF-8 stands in a take as it is (`shell/tty.py` shows it all the same).
        "\n".join(info(take, RIG)).encode("utf-8", "surrogatepass")
    rig, mapping = RIG, MAPPING
    with suppress(BridgeError):
        rig = rig_from_text(take.header.rig)[0]
        mapping = mapping_from_text(take.header.mapping, rig, strict=False)[0]
    for t in (0.0, 0.2, take.ends):
        with suppress(BridgeError):
            take.frame_at(t)
    with suppress(BridgeError):
        _show(PictureFeed(take), mapping)
    with suppress(BridgeError):
        _show(EventFeed(take, transpose=1, compile=lambda text: mapping_from_text(text, RIG)[0]), MAPPING)
    with suppress(BridgeError):
        events = [event for _, _, event in take.events(0.0, 60.0)]
        list(bars(events, take.ends))
        export_midi(events, FOLDER / "out.mid", min(take.ends, 3600.0))
    with suppress(BridgeError):
        list(zip(take.skipped(), range(1000), strict=False))


def _show(feed: Feed, mapping: Mapping) -> None:
    engine = Engine(RIG, mapping if mapping is MAPPING else MAPPING)
    for _ in offline(engine, [feed], 40.0, FRAMES):
        pass


def rows(data: bytes) -> None:
    """The body of any row, its check right; the first byte is its kind."""
    if not data:
        return
    kind, body = data[0] % KINDS, data[1:]
    row = packed(kind, body)
    with suppress(WireError):
        if kind == take_rows.FRAMES:
            found = read_frames(row)
            list(zip(found.frames(40.0), range(2000), strict=False))
            for universes in (1, 2):
                with suppress(WireError):
                    found.pictures(universes)
        elif kind in (take_rows.EVENTS, EVENTS_IN):
            read_events(row).events()
        elif kind == take_rows.REMARKS:
            read_remarks(row)
        elif kind == take_rows.END:
            read_end(row)
        elif kind in (take_rows.TEXT, HEADER_IN, MAPPING_IN):
            for text in join_texts([row]).values():
                decode_header(text)
        else:
            list(take_rows.find_rows(body))


def _entries(*made: tuple[int, int, int, bytes]) -> bytes:
    """(table, kind, key, body) as `_made_of` reads them."""
    return b"".join(
        bytes([table, kind]) + len(body).to_bytes(2) + key.to_bytes(4, signed=True) + body
        for table, kind, key, body in made
    )


def _inside() -> tuple[bytes, bytes]:
    """What stands deflated in the header and the events of the small take."""
    by_kind = {row[4]: row[take_rows.HEAD.size : -take_rows.CRC.size] for _, _, row in base_rows()}
    return zlib.decompress(by_kind[take_rows.TEXT][3:]), zlib.decompress(by_kind[take_rows.EVENTS][4:])


def takes_seeds() -> list[bytes]:
    """A whole file, patches in each page, and rows of the small take, as they are and made anew."""
    header, events = _inside()
    every = _entries(*((16, 0, number, b"") for number in range(len(base_rows()))))
    made = []
    for table, key, row in base_rows():
        far = key >= 1 << 59
        body = row[take_rows.HEAD.size : -take_rows.CRC.size]
        made.append((table, row[4] | far << 6, key - (far << 60), body))
    frames = [entry for entry in made if entry[1] == take_rows.FRAMES]
    anew = [
        (0, HEADER_IN, 0, header),
        (0, MAPPING_IN, 1000, b"mapping: later"),
        (1, EVENTS_IN, 0, events),
        *frames,
    ]
    remarks = (2, take_rows.REMARKS, 1, b'\1[[3,"late",12.5],[5,"load",{"quay":3}]]')
    patches = b"".join(at.to_bytes(3) + b"\x7f" for at in (20, 60, 100, 5000, 16384 + 4))
    return [
        *(b"\2" + every, b"\2" + _entries(*made, remarks), b"\2" + _entries(*anew, remarks), b"\1" + patches),
        *(b"\0" + base()[:2048], b"\0SQLite format 3\0"),
    ]


def rows_seeds() -> list[bytes]:
    """The rows of the small take, and what is deflated in them."""
    whole = [bytes([row[4]]) + row[take_rows.HEAD.size : -take_rows.CRC.size] for _, _, row in base_rows()]
    header, events = _inside()
    return [*whole, bytes([HEADER_IN]) + header, bytes([EVENTS_IN]) + events, b'\4\1[[3,"late",12.5]]']
