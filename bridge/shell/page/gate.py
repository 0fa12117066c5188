"""Knows: who may come in: the right Host, the right Origin, the secret of the link; what every answer says.

Must never know: what is behind it.

A page of another site must neither read ours (its address is not our Host, even where a name server lies: DNS
rebinding) nor open our socket (its Origin is not ours: RFC 6455, 10.2).
"""

from __future__ import annotations

import secrets
from collections.abc import Awaitable, Callable, MutableMapping
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qs, urlsplit

from bridge.shell.page.limits import Refused
from bridge.shell.page.settings import HERE, PageSettings, as_address, is_everywhere

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

COOKIE = "lampwright"
COOKIE_SECONDS = 12 * 3600

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
    "connect-src 'self' ws://{host}; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)

HEADERS = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cache-control": "no-cache",
}

NO_LINK = (
    "This page needs the link of tonight's show. Ask the player for it, or scan the square in the terminal."
)


class Gate:
    """Stands before the page.

    Args:
        inside: the application that only sees who may come in.
        port: asks for the port that is served, which is known once it is open.
    """

    def __init__(
        self, inside: App, settings: PageSettings, refused: Refused, port: Callable[[], int]
    ) -> None:
        self._inside, self._settings, self._refused, self._port = inside, settings, refused, port

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request or a socket in, or refuse it."""
        if scope["type"] not in ("http", "websocket"):
            return
        heads = {key.decode("latin-1"): value.decode("latin-1") for key, value in scope["headers"]}
        host = heads.get("host", "")
        names = [key for key, _ in scope["headers"]]
        # A header that stands twice could be read in two ways.
        if names.count(b"host") != 1 or names.count(b"origin") > 1 or not self._ours(host):
            await self._refuse(scope, send, "host", 421, "This is not the address of the page.")
            return
        if scope["type"] == "http":
            if scope["method"] not in ("GET", "HEAD"):
                await self._refuse(scope, send, "method", 405, "This page is only read.")
                return
            if self._settings.token and (key := parse_qs(scope["query_string"].decode("latin-1")).get("key")):
                await self._exchange(scope, send, key[0])
                return
        elif heads.get("origin") != f"http://{host}":
            await self._refuse(scope, send, "origin", 403, "Another site may not speak to the page.")
            return
        if not self._knows(heads.get("cookie", "")):
            await self._refuse(scope, send, "token", 401, NO_LINK)
            return
        await self._inside(scope, receive, _with_headers(send, host))

    def _ours(self, host: str) -> bool:
        """True for a Host header that names this server: never a name that somebody else can point here."""
        try:
            parts = urlsplit(f"//{host}")
            name, port = parts.hostname, parts.port
        except ValueError:
            return False
        if name is None or parts.netloc != host or parts.username is not None or (port or 80) != self._port():
            return False
        wanted = self._settings.host
        if name == wanted.lower() or name in HERE:
            return True
        # Served on all addresses: a number cannot be pointed elsewhere, a name can.
        return is_everywhere(wanted) and as_address(name) is not None

    def _knows(self, cookies: str) -> bool:
        token = self._settings.token
        if not token:
            return True
        try:
            found = SimpleCookie(cookies).get(COOKIE)
        except CookieError:
            return False
        return found is not None and _same(found.value, token)

    async def _exchange(self, scope: Scope, send: Send, key: str) -> None:
        """The link's secret for a cookie, and away with it from the address bar."""
        if not _same(key, self._settings.token):
            await self._refuse(scope, send, "token", 401, NO_LINK)
            return
        cookie = f"{COOKIE}={key}; Path=/; Max-Age={COOKIE_SECONDS}; HttpOnly; SameSite=Lax"
        await _answer(send, 303, "", {"location": "/", "set-cookie": cookie})

    async def _refuse(self, scope: Scope, send: Send, why: str, status: int, text: str) -> None:
        self._refused[why] += 1
        await turn_away(scope, send, status, text)


async def turn_away(scope: Scope, send: Send, status: int, text: str) -> None:
    """Answer a request, or a socket that is not open yet, with a refusal."""
    if scope["type"] == "http":
        await _answer(send, status, text, {})
    elif "websocket.http.response" in scope.get("extensions", {}):
        await _answer(send, status, text, {}, "websocket.http.response")
    else:
        await send({"type": "websocket.close", "code": 1008, "reason": text})


async def _answer(
    send: Send, status: int, text: str, more: dict[str, str], kind: str = "http.response"
) -> None:
    heads = HEADERS | {"content-type": "text/plain; charset=utf-8", "connection": "close"} | more
    body = text.encode()
    raw = [(key.encode(), value.encode()) for key, value in heads.items()]
    raw.append((b"content-length", str(len(body)).encode()))
    await send({"type": f"{kind}.start", "status": status, "headers": raw})
    await send({"type": f"{kind}.body", "body": body})


def _with_headers(send: Send, host: str) -> Send:
    heads = HEADERS | {"content-security-policy": POLICY.format(host=host)}
    raw = [(key.encode(), value.encode()) for key, value in heads.items()]

    async def send_on(message: MutableMapping[str, Any]) -> None:
        if message["type"] == "http.response.start":
            message = {**message, "headers": [*message.get("headers", ()), *raw]}
        await send(message)

    return send_on


def _same(one: str, other: str) -> bool:
    return secrets.compare_digest(one.encode(), other.encode())
