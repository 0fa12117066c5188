"""Knows: one browser at the socket: what it says is judged and passed on, what it missed is sent to it.

Must never know: how the page looks, or how a rule is written into a file.
"""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import Mapping as ReadOnly
from typing import Any, Protocol

from pydantic import ValidationError
from starlette.websockets import WebSocket, WebSocketDisconnect

import bridge.shell.page.words as words
from bridge.shell.page.feed import Feed, difference, packet
from bridge.shell.page.limits import Allowance, Refused
from bridge.shell.page.settings import PageSettings
from bridge.shell.page.wishes import Asked, Played, Turned, Wish

AHEAD = 3
"""Pictures that may be under way unseen; a slow browser, or one that looks elsewhere, gets fewer."""

SEND_SECONDS = 10.0
NEWS_SECONDS = 0.2
REPLIES = 32
CLOSES = {1007: "message", 1009: "size"}
"""Closings by uvicorn that count as refusals: no UTF-8, too large (RFC 6455, 7.4.1)."""


class Stage(Protocol):
    """What a browser needs of the page as a whole."""

    settings: PageSettings
    feed: Feed
    refused: Refused
    facts: dict[str, Any]
    facts_number: int

    def wish(self, wish: Wish) -> bool:
        """Pass a wish on; False if there was no room."""

    def hold(self, port: str, channel: int, note: int, by: int) -> int:
        """Count one more (by=1) or less (-1) who holds a key; how many do now."""

    def port_of(self, source: str) -> str:
        """The port on which the page plays as an input."""

    def knows(self, ask: words.Ask) -> bool:
        """True if the look, lamp or take a word is about is there."""

    async def learn(self, lesson: words.Message) -> dict[str, Any]:
        """Write a lesson down, or say why not."""


class Client:
    """One browser."""

    def __init__(self, socket: WebSocket, stage: Stage) -> None:
        self._socket, self._stage = socket, stage
        self._allowance = Allowance(stage.settings.rate, time.monotonic)
        self._held: dict[tuple[str, int, int], str] = {}
        """What it holds: (input it plays as, channel, note) -> the port it was struck on."""
        self._pedals: set[tuple[str, int, int]] = set()
        self._lit: set[str] = set()
        self._replies: list[dict[str, Any]] = []
        self._shown, self._sent, self._seen = b"", -1, 0
        self._number = 0
        self._news: dict[str, Any] = {}
        self._news_at = 0.0
        self._facts_number = -1
        self.wake = asyncio.Event()

    async def live(self) -> None:
        """Until the browser leaves, or is sent away."""
        writer = asyncio.create_task(self._write())
        listener = asyncio.create_task(self._listen())
        try:
            await asyncio.wait((writer, listener), return_when=asyncio.FIRST_COMPLETED)
        finally:
            for task in (writer, listener):
                task.cancel()
            for end in await asyncio.gather(writer, listener, return_exceptions=True):
                if isinstance(end, Exception):
                    # Our own mistake, not the browser's: shown among the refusals, and the page lives on.
                    self._stage.refused["mistake"] += 1
            self._let_go()

    # ---- what the browser says

    async def _listen(self) -> None:
        refused = self._stage.refused
        while True:
            try:
                text = await self._socket.receive_text()
            except WebSocketDisconnect as gone:
                if gone.code in CLOSES:
                    refused[CLOSES[gone.code]] += 1
                return
            except KeyError:
                # Bytes: the page sends none.
                await self._send_away("message", 1003, "bytes are no message")
                return
            if not self._allowance.spend():
                await self._send_away("rate", 1008, "too many messages")
                return
            try:
                message = words.read(text)
            except (ValidationError, ValueError):
                await self._send_away("message", 1008, "no message of the page")
                return
            await self._take(message)

    async def _send_away(self, why: str, code: int, reason: str) -> None:
        self._stage.refused[why] += 1
        await self._socket.close(code, reason)

    async def _take(self, message: words.Message) -> None:
        if isinstance(message, words.Seen):
            self._seen = max(self._seen, min(message.n, self._number))
            self.wake.set()
            return
        if self._stage.settings.view_only:
            self._stage.refused["look"] += 1
            self._reply(ok=False, lines=["this page only looks"])
        elif isinstance(message, words.Note):
            self._play(message)
        elif isinstance(message, words.Turn | words.Bent | words.Pressed):
            self._turn(message)
        elif isinstance(message, words.Ask):
            self._ask(message)
        else:
            answer = await self._stage.learn(message)
            self._reply(**answer)

    def _reply(self, **what: Any) -> None:
        if len(self._replies) < REPLIES:
            self._replies.append({"word": "reply", **what})
            self.wake.set()

    def _play(self, note: words.Note) -> None:
        key = (note.source, note.channel, note.note)
        port = self._stage.port_of(note.source)
        # A mapping that came in between may have given the input another port.
        if key in self._held and (not note.velocity or self._held[key] != port):
            self._lift(key)
        if (
            note.velocity
            and self._stage.wish(Played(port, note.channel, note.note, note.velocity))
            and key not in self._held
        ):
            self._held[key] = port
            self._stage.hold(port, note.channel, note.note, 1)

    def _lift(self, key: tuple[str, int, int]) -> None:
        port, (_, channel, note) = self._held.pop(key), key
        if self._stage.hold(port, channel, note, -1) == 0:
            self._stage.wish(Played(port, channel, note, 0))

    def _turn(self, turn: words.Turn | words.Bent | words.Pressed) -> None:
        number = turn.control if isinstance(turn, words.Turn) else 0
        port = self._stage.port_of(turn.source)
        self._stage.wish(Turned(port, turn.channel, turn.word, number, turn.value))
        if turn.word == "control" and number in (64, 66, 67):
            pedal = (port, turn.channel, number)
            (self._pedals.add if turn.value else self._pedals.discard)(pedal)

    def _ask(self, ask: words.Ask) -> None:
        if not self._stage.knows(ask):
            self._stage.refused["name"] += 1
            self._reply(ok=False, lines=["that is not there any more"])
            return
        if ask.what == "light":
            (self._lit.add if ask.value else self._lit.discard)(ask.name)
        self._stage.wish(Asked(ask.what, ask.name, ask.value))

    def _let_go(self) -> None:
        """The browser is gone: nothing it held stays lit."""
        for key in list(self._held):
            self._lift(key)
        for port, channel, number in self._pedals:
            self._stage.wish(Turned(port, channel, "control", number, 0))
        for lamp in self._lit:
            self._stage.wish(Asked("light", lamp, 0.0))

    # ---- what it is sent

    async def _write(self) -> None:
        while True:
            await self.wake.wait()
            self.wake.clear()
            for message in self._due():
                data = message if isinstance(message, bytes) else json.dumps(message, separators=(",", ":"))
                sending = (
                    self._socket.send_bytes(data) if isinstance(data, bytes) else self._socket.send_text(data)
                )
                try:
                    await asyncio.wait_for(sending, SEND_SECONDS)
                except TimeoutError:
                    self._stage.refused["slow"] += 1
                    return
                except (WebSocketDisconnect, RuntimeError):
                    return

    def _due(self) -> list[bytes | ReadOnly[str, Any]]:
        stage, out = self._stage, list[bytes | ReadOnly[str, Any]]()
        if self._facts_number != stage.facts_number:
            self._facts_number = stage.facts_number
            out.append({"word": "facts", **stage.facts})
        out += self._replies
        self._replies.clear()
        feed = stage.feed
        if feed.number != self._sent and self._number - self._seen < AHEAD:
            self._number += 1
            out.append(packet(self._shown, feed.drives, self._number))
            self._shown, self._sent = feed.drives, feed.number
        now = time.monotonic()
        if now - self._news_at >= NEWS_SECONDS and (news := difference(self._news, feed.news)):
            self._news, self._news_at = feed.news, now
            out.append({"word": "news", "news": news})
        return out
