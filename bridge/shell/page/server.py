"""Knows: how the page is served: one thread in the house process, its loop, its socket, its files.

Must never know: MIDI, the engine, outputs; how a rule is written; how the page looks.

Beside the show, never in its way: the house process may stall or die, and no frame is later for it.
"""

from __future__ import annotations

import asyncio
import contextlib
import socket
import threading
import time
from collections import Counter
from collections.abc import Callable
from typing import Any

import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route, WebSocketRoute
from starlette.websockets import WebSocket

import bridge.shell.page.words as words
from bridge.shell.page.client import Client
from bridge.shell.page.describe import mapping_facts, rig_facts
from bridge.shell.page.door import door
from bridge.shell.page.feed import Feed, Look
from bridge.shell.page.gate import Gate, turn_away
from bridge.shell.page.lessons import learn
from bridge.shell.page.limits import Allowance, Refused
from bridge.shell.page.outbox import Outbox
from bridge.shell.page.settings import PageSettings, is_everywhere, with_port
from bridge.shell.page.site import listen, own_address, page_files
from bridge.shell.page.teach import Taught, Teacher
from bridge.shell.page.wishes import PORT, Left, Send, Wish, must_keep
from bridge.values.mapping import Mapping
from bridge.values.rig import Rig

PICTURE_SECONDS = 1 / 30

CROWD = 3
"""How many times the rate of one browser all of them together may strike."""

InForce = Callable[[Mapping, str], None]
"""Puts a mapping that was taught in force at once: the mapping, and the text of its file."""

Chart = Callable[[int], bytes | None]
"""The PNG chart of a take by its number; called in a worker thread."""


class PageServer:
    """The stage page.

    Args:
        look: the newest (counter, beat, frame, news), or None; called thirty times a second.
        send: takes a wish to the show; may block.
        rig: the rig that is running.
        settings: where and for whom.
        mapping: the mapping in force; later ones by `show_mapping`.
        chart: draws the chart of a take; None for no charts.
        in_force: puts what was taught in force; None leaves that to whoever watches the file, who then calls
            `show_mapping`. Called in a worker thread.

    Attributes:
        refused: what was refused so far, by reason.
    """

    def __init__(
        self,
        look: Look,
        send: Send,
        rig: Rig,
        settings: PageSettings,
        mapping: Mapping | None = None,
        chart: Chart | None = None,
        in_force: InForce | None = None,
    ) -> None:
        self.settings, self.refused = settings, Refused()
        self.feed = Feed(look, rig, time.monotonic)
        self.facts: dict[str, Any] = {}
        self.facts_number = 0
        self._rig, self._send, self._chart = rig, send, chart
        self._in_force = in_force
        self._hung: Rig | None = None
        self._mapping = mapping or Mapping()
        self._teacher = Teacher(settings.mapping, settings.rig, rig)
        self._clients: set[Client] = set()
        self._strikes = Allowance(CROWD * settings.rate, time.monotonic)
        self._holders: Counter[tuple[str, int, int]] = Counter()
        self._ports: set[str] = set()
        self._socket: socket.socket | None = None
        self._thread: threading.Thread | None = None
        self._server: uvicorn.Server | None = None
        self._ends = False
        self._files = page_files()
        self.show_mapping(self._mapping)

    # ---- for the house

    def start(self) -> None:
        """Open the port and serve in a thread of its own.

        Raises:
            DeviceError: the address or port cannot be had.
        """
        self._socket = listen(self.settings)
        self._outbox = Outbox(self._send)
        self._thread = threading.Thread(target=lambda: asyncio.run(self._serve()), name="page", daemon=True)
        self._thread.start()

    @property
    def url(self) -> str:
        """Where the page is, without its secret; an address to open here where it is served on all."""
        host = "127.0.0.1" if is_everywhere(self.settings.host) else self.settings.host
        return f"http://{with_port(host, self._port())}/"

    @property
    def link(self) -> str:
        """The link to hand out, secret and all, with an address that others can reach."""
        host = own_address() if is_everywhere(self.settings.host) else self.settings.host
        secret = f"?key={self.settings.token}" if self.settings.token else ""
        return f"http://{with_port(host, self._port())}/{secret}"

    def show_mapping(self, mapping: Mapping) -> None:
        """Another mapping is in force; may be called from any thread."""
        self._mapping = mapping
        self.feed.hear(mapping)
        self._tell()

    def stop(self) -> None:
        """Say goodbye to the browsers, let go of what they held, end."""
        self._ends = True
        if self._server is not None:
            self._server.should_exit = True
        if self._thread is not None:
            self._thread.join(3.0)
            for port in self._ports:
                self._outbox.put(Left(port))
            self._outbox.close()
        if self._socket is not None:
            self._socket.close()

    # ---- for a browser (see client.Stage)

    def wish(self, wish: Wish) -> bool:
        """Pass a wish on, unless all browsers together strike too often: one may leave and come back."""
        done = (must_keep(wish) or self._strikes.spend()) and self._outbox.put(wish)
        if not done:
            self.refused["busy"] += 1
        return done

    def hold(self, port: str, channel: int, note: int, by: int) -> int:
        """Two browsers may hold one key: only the last to let go releases it."""
        key = (port, channel, note)
        self._ports.add(port)
        self._holders[key] = max(0, self._holders[key] + by)
        return self._holders[key]

    def port_of(self, source: str) -> str:
        """A port that the rules of an input hear, since its name has the part they ask for."""
        part = self._mapping.inputs.get(source)
        return f"{PORT} {part}" if part else PORT

    def knows(self, ask: words.Ask) -> bool:
        """Only what is there can be asked for."""
        if ask.what == "look":
            return not ask.name or ask.name in self._mapping.looks
        if ask.what == "light":
            return any(lamp.name == ask.name for lamp in self._rig.lamps) and ask.value <= 1.0
        if ask.what == "replay":
            takes = self.feed.news.get("takes") or ()
            return any(str(take.get("number")) == ask.name for take in takes)
        return ask.what != "master" or ask.value <= 1.0

    async def learn(self, lesson: words.Message) -> dict[str, Any]:
        """Write a lesson down, in a thread, one at a time."""
        async with self._lesson:
            taught = await asyncio.to_thread(learn, self._teacher, lesson)
        if taught.rig is not None:
            self._hung = taught.rig
            self._tell()
        if taught.mapping is not None and self._in_force is not None:
            await asyncio.to_thread(self._in_force, taught.mapping, taught.text)
            self.show_mapping(taught.mapping)
        return {"about": lesson.word, **_told(taught)}

    # ---- inside

    def _port(self) -> int:
        return int(self._socket.getsockname()[1]) if self._socket is not None else self.settings.port

    def _tell(self) -> None:
        """Put together anew what browsers are told once."""
        self.facts = {
            "rig": rig_facts(self._rig, self._hung),
            "mapping": mapping_facts(self._mapping, self._rig),
            "view_only": self.settings.view_only,
            "teaches": {"mapping": self.settings.mapping is not None, "rig": self.settings.rig is not None},
            "charts": self._chart is not None,
        }
        self.facts_number += 1

    async def _serve(self) -> None:
        self._lesson = asyncio.Lock()
        routes = [
            Route("/", self._file),
            Route("/page/{name}", self._file),
            Route("/chart/{number:int}", self._draw),
            WebSocketRoute("/socket", self._meet),
        ]
        gate = Gate(Starlette(routes=routes), self.settings, self.refused, self._port)
        config = uvicorn.Config(
            gate,
            http=door(self.refused),
            ws="websockets-sansio",
            lifespan="off",
            log_config=None,
            log_level="critical",
            access_log=False,
            server_header=False,
            proxy_headers=False,
            ws_max_size=words.LARGEST,
            ws_ping_interval=self.settings.ping_s,
            ws_ping_timeout=self.settings.ping_s,
            ws_per_message_deflate=False,
            h11_max_incomplete_event_size=16_384,
            timeout_graceful_shutdown=1,
        )
        self._server = uvicorn.Server(config)
        # It may have been stopped before it was there.
        self._server.should_exit = self._ends
        pulse = asyncio.create_task(self._pulse())
        try:
            await self._server.serve(sockets=[self._socket] if self._socket else None)
        finally:
            pulse.cancel()

    async def _pulse(self) -> None:
        """Thirty times a second: look, and wake the browsers if there is something to send."""
        while True:
            await asyncio.sleep(PICTURE_SECONDS)
            if not self._clients:
                continue
            with contextlib.suppress(ValueError, KeyError, OSError):
                self.feed.turn()
            self.feed.news = {
                **self.feed.news,
                "page": {"browsers": len(self._clients), "refused": self.refused.all()},
            }
            for client in self._clients:
                client.wake.set()

    async def _meet(self, browser: WebSocket) -> None:
        if len(self._clients) >= self.settings.clients:
            self.refused["crowd"] += 1
            await turn_away(browser.scope, browser.send, 503, "too many browsers look at this show")
            return
        # Counted before the first wait, so that a crowd cannot slip in together.
        client = Client(browser, self)
        self._clients.add(client)
        try:
            await browser.accept()
            client.wake.set()
            await client.live()
        finally:
            self._clients.discard(client)

    async def _file(self, request: Request) -> Response:
        found = self._files.get(request.path_params.get("name", "index.html"))
        if found is None:
            return Response("There is no such page.", 404, media_type="text/plain")
        body, kind, tag = found
        if request.headers.get("if-none-match") == tag:
            return Response(status_code=304, headers={"etag": tag})
        return Response(body, media_type=kind, headers={"etag": tag})

    async def _draw(self, request: Request) -> Response:
        picture = None
        if self._chart is not None:
            picture = await asyncio.to_thread(self._chart, request.path_params["number"])
        if picture is None:
            return Response("There is no such take.", 404, media_type="text/plain")
        return Response(picture, media_type="image/png")


def _told(taught: Taught) -> dict[str, Any]:
    return {"ok": taught.ok, "lines": list(taught.lines), "undo": taught.undo, "written": taught.written}
