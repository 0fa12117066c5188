"""Knows: what becomes of any frames at the page's socket, and of any heads at its door.

Must never know: who makes the bytes, or any browser.
"""

from __future__ import annotations

import asyncio
import json
import tempfile
from collections.abc import MutableMapping
from functools import cache
from pathlib import Path
from typing import Any

from starlette.websockets import WebSocket

from bridge.core.engine import Engine
from bridge.shell.files import mapping_from_text, rig_from_text
from bridge.shell.page.client import Client
from bridge.shell.page.gate import Gate
from bridge.shell.page.limits import Refused
from bridge.shell.page.server import PageServer
from bridge.shell.page.settings import PageSettings
from bridge.shell.page.wishes import Wish
from tests.shell.files.cases import MAPPING, RIG

_ROOM = tempfile.TemporaryDirectory(prefix="lampwright-fuzz-")

MOST = 40
"""Frames that are said."""


@cache
def _files() -> tuple[Path, Path]:
    folder = Path(_ROOM.name)
    return folder / "rig.yaml", folder / "mapping.yaml"


class _Kept(list[Wish]):
    """In place of the pipe to the show."""

    put = list.append


def page(data: bytes) -> None:
    """Lines are text frames of one browser, those that begin with FF binary ones; then it leaves."""
    rig_path, mapping_path = _files()
    rig_path.write_text(RIG, encoding="utf-8")
    mapping_path.write_text(MAPPING, encoding="utf-8")
    rig, _ = rig_from_text(RIG)
    mapping, _ = mapping_from_text(MAPPING, rig)
    settings = PageSettings(mapping=mapping_path, rig=rig_path)
    server = PageServer(lambda: None, lambda _: None, rig, settings, mapping)
    wishes = _Kept()
    server._outbox = wishes  # type: ignore[assignment]
    asyncio.run(_talk(server, data.split(b"\n")[:MOST]))
    engine = Engine(rig, mapping)
    half = len(wishes) // 2
    engine.advance([wish(0.0) for wish in wishes[:half]], 0.0)
    engine.advance([wish(0.01) for wish in wishes[half:]], 0.025)
    engine.advance([], 5.0)


async def _talk(server: PageServer, lines: list[bytes]) -> None:
    server._lesson = asyncio.Lock()
    said: list[MutableMapping[str, Any]] = [{"type": "websocket.connect"}]
    for line in lines:
        binary = line.startswith(b"\xff")
        key, value = ("bytes", line) if binary else ("text", line.decode("utf-8", "replace"))
        said.append({"type": "websocket.receive", key: value})
    said.append({"type": "websocket.disconnect", "code": 1005})
    left = iter(said)

    async def receive() -> MutableMapping[str, Any]:
        return next(left)

    async def send(_message: MutableMapping[str, Any]) -> None:
        pass

    socket = WebSocket({"type": "websocket", "headers": []}, receive, send)
    await socket.accept()
    client = Client(socket, server)
    # Not `live`, which keeps what a mistake of ours raises from the show.
    await client._listen()
    for message in client._due():
        if not isinstance(message, bytes):
            json.dumps(message)
    client._let_go()


def door(data: bytes) -> None:
    """Lines are method, query, then heads `name: value`; what comes in is only what may."""
    lines = data.split(b"\n")[:MOST]
    method, query = ([*lines, b"", b""])[:2]
    heads = [tuple(part.strip() for part in line.split(b":", 1)) for line in lines[2:] if b":" in line]
    for kind in ("http", "websocket"):
        for host in ("127.0.0.1", "0.0.0.0", "stage.local", "::1"):
            asyncio.run(_knock(kind, host, method, query, [(name.lower(), value) for name, value in heads]))


async def _knock(kind: str, host: str, method: bytes, query: bytes, heads: list[tuple[bytes, bytes]]) -> None:
    scope = {
        "type": kind,
        "method": method.decode("latin-1"),
        "query_string": query,
        "headers": heads,
        "path": "/",
    }
    came_in = sent = 0

    async def inside(_scope: Any, _receive: Any, send: Any) -> None:
        nonlocal came_in
        came_in += 1
        await send({"type": "http.response.start", "status": 200})

    async def receive() -> MutableMapping[str, Any]:
        return {"type": "http.disconnect"}

    async def send(message: MutableMapping[str, Any]) -> None:
        nonlocal sent
        sent += 1
        if any(b"\n" in value or b"\r" in value for _, value in message.get("headers", ())):
            raise RuntimeError("a head that is two")

    settings = PageSettings(host=host, token="secret")
    await Gate(inside, settings, Refused(), lambda: 5190)(scope, receive, send)
    if not sent or (came_in and b"secret" not in b"".join(value for _, value in heads)):
        raise RuntimeError("somebody came in without the link, or got no answer")


def page_seeds() -> list[bytes]:
    """Every message the page may send."""
    said: list[dict[str, Any]] = [
        {"word": "note", "note": 60, "velocity": 90, "source": "piano", "channel": 1},
        {"word": "note", "note": 60, "velocity": 0, "source": "piano"},
        {"word": "control", "control": 64, "value": 127, "source": "pads"},
        {"word": "control", "control": 21, "value": 64},
        {"word": "bend", "value": -8192, "channel": 16},
        {"word": "pressure", "value": 127},
        {"word": "do", "what": "look", "name": "walkin", "value": 2.5},
        {"word": "do", "what": "light", "name": "door", "value": 1.0},
        {"word": "do", "what": "blackout_on"},
        {"word": "do", "what": "set_next"},
        {"word": "do", "what": "replay", "name": "1"},
        {"word": "seen", "n": 4},
    ]
    lessons: list[dict[str, Any]] = [
        {
            "word": "teach",
            "kind": "note",
            "number": 61,
            "then": "light",
            "lamps": ["door", "roof.1"],
            "feel": "bell",
        },
        {"word": "teach", "kind": "control", "number": 23, "then": "level", "lamps": ["left"], "high": 0.5},
        {"word": "teach", "kind": "bend", "then": "master", "source": "piano", "channel": 3},
        {"word": "teach", "kind": "note", "number": 62, "then": "look", "look": "walkin"},
        {"word": "move", "lamp": "door", "right": 0.5, "up": -0.25},
        {
            "word": "patch",
            "name": "stern",
            "slot": 60,
            "x": 1,
            "y": 2.5,
            "kind": "workshop",
            "supply": "quay",
        },
        {"word": "undo"},
    ]
    one_by_one = [json.dumps(message).encode() for message in lessons]
    return [b"\n".join(json.dumps(message).encode() for message in said), *one_by_one, b"\xff\x00", b"{"]


def door_seeds() -> list[bytes]:
    """Who may come in, who gets a cookie, who may not."""
    return [
        b"GET\n\nhost: 127.0.0.1:5190\ncookie: lampwright=secret",
        b"GET\nkey=secret\nhost: 192.168.1.7:5190",
        b"GET\n\nhost: stage.local:5190\norigin: http://stage.local:5190\ncookie: a=b; lampwright=secret",
        b'POST\n\nhost: [::1]:5190\nhost: localhost:5190\ncookie: lampwright="secret"',
    ]
