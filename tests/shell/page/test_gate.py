"""Who may come in at the page: Host, Origin, the link's secret; what every answer says."""

from __future__ import annotations

import http.client
from collections.abc import Callable, Iterator

import pytest
from websockets.exceptions import InvalidStatus

from bridge.shell.page import PageSettings
from tests.shell.page.conftest import BOATHOUSE, Served

Serve = Callable[..., Served]


@pytest.fixture(scope="module")
def shared() -> Iterator[Served]:
    """One page for the tests that leave it as it was."""
    served = Served(BOATHOUSE, PageSettings(port=0))
    yield served
    served.close()


def get(served: Served, path: str = "/", method: str = "GET", **heads: str) -> http.client.HTTPResponse:
    """One request, its headers just as given."""
    line = http.client.HTTPConnection(served.host, timeout=5)
    line.putrequest(method, path, skip_host="Host" in heads)
    for key, value in heads.items():
        line.putheader(key, value)
    line.endheaders()
    answer = line.getresponse()
    answer.body = answer.read()  # type: ignore[attr-defined]
    line.close()
    return answer


def test_the_page_comes_with_a_policy_and_nothing_from_elsewhere(serve: Serve) -> None:
    """Every file is served with a strict policy, and names no other site and no script or style within it."""
    served = serve()
    answer = get(served)
    policy = answer.headers["content-security-policy"]
    assert answer.status == 200
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert f"ws://{served.host}" in policy
    page = answer.body.decode()  # type: ignore[attr-defined]
    assert "<style" not in page
    assert "style=" not in page
    assert "onclick" not in page
    for name in ("main.js", "style.css", "lamp.svg", "link.js"):
        file = get(served, f"/page/{name}")
        text = file.body.decode().replace("http://www.w3.org/2000/svg", "")  # type: ignore[attr-defined]
        assert file.status == 200
        assert "https://" not in text
        assert "http://" not in text
        assert file.headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "evil.example:{port}",
        "127.0.0.1:1",
        "127.0.0.1.evil.example:{port}",
        "user@127.0.0.1:{port}",
        "127.0.0.1:{port}/x",
        "127.0.0.1:{port};x",
        "[::1",
        "",
    ],
)
def test_another_host_is_refused(shared: Served, host: str) -> None:
    """A name that points here, as DNS rebinding makes one, sees nothing: 421, or h11's 400."""
    before = shared.page.refused["host"]
    answer = get(shared, Host=host.format(port=shared.place[1]))
    assert answer.status in (400, 421)
    assert shared.page.refused["host"] == before + (answer.status == 421)


def test_two_hosts_are_refused(shared: Served) -> None:
    """A Host that stands twice could be read in two ways."""
    line = http.client.HTTPConnection(shared.host, timeout=5)
    line.putrequest("GET", "/", skip_host=True)
    line.putheader("Host", shared.host)
    line.putheader("Host", "evil.example")
    line.endheaders()
    assert line.getresponse().status in (400, 421)
    line.close()


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", "https://{host}", "http://127.0.0.1:1", None]
)
def test_another_sites_socket_is_refused(shared: Served, origin: str | None) -> None:
    """A socket opens only for our own page; what has no Origin is no browser."""
    before = shared.page.refused["origin"]
    other = origin and origin.format(host=shared.host)
    with pytest.raises(InvalidStatus, match="403"), shared.browser(origin=other):
        pass
    assert shared.page.refused["origin"] == before + 1


def test_a_link_is_needed_where_a_token_is_set(serve: Serve) -> None:
    """Without the secret nothing is seen; the link gives a cookie, which opens the page and the socket."""
    served = serve(token="s3cret")
    assert get(served).status == 401
    assert get(served, "/page/main.js").status == 401
    assert get(served, "/?key=guess").status == 401
    with pytest.raises(InvalidStatus, match="401"), served.browser():
        pass
    answer = get(served, "/?key=s3cret")
    assert answer.status == 303
    assert answer.headers["location"] == "/"
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Lax" in cookie
    name = cookie.split(";")[0]
    assert get(served, Cookie=name).status == 200
    assert get(served, Cookie="lampwright=guess").status == 401
    with served.browser(additional_headers={"Cookie": name}) as browser:
        assert "facts" in browser.recv()[:40]
    assert served.page.refused["token"] == 5


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "OPTIONS", "TRACE"])
def test_the_page_is_only_read(shared: Served, method: str) -> None:
    """No request changes anything: all but GET and HEAD are refused."""
    before = shared.page.refused["method"]
    assert get(shared, method=method).status == 405
    assert shared.page.refused["method"] == before + 1


@pytest.mark.parametrize(
    "path",
    [
        "/page/../settings.py",
        "/page/..%2fsettings.py",
        "/page/%2e%2e/settings.py",
        "/page//etc/passwd",
        "/page/main.js/",
        "/chart/../1",
        "/chart/-1",
        "/chart/9",
        "/chart/1e9",
        "/nothing",
    ],
)
def test_no_path_leads_anywhere(shared: Served, path: str) -> None:
    """Only the page's own files have names, and a take has a number."""
    assert get(shared, path).status in (404, 307)


def test_a_chart_is_a_picture(shared: Served) -> None:
    """A take's chart comes by its number."""
    answer = get(shared, "/chart/1")
    assert (answer.status, answer.headers["content-type"]) == (200, "image/png")


def test_all_addresses_take_numbers_but_no_names(serve: Serve) -> None:
    """Served on every address, a Host of numbers is ours, since no name server can point it elsewhere."""
    served = serve(host="0.0.0.0", token="t")
    port = served.host.split(":")[1]
    assert get(served, Host=f"192.0.2.7:{port}").status == 401
    assert get(served, Host=f"boat.example:{port}").status == 421
