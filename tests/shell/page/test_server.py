"""The page as the house holds it: ports, mappings that change, goodbye."""

from __future__ import annotations

import json
import socket
from collections.abc import Callable
from dataclasses import replace

import pytest

from bridge.shell.files import mapping_from_text
from bridge.shell.page import PageServer, PageSettings
from bridge.shell.page.wishes import Left, Played
from bridge.values.errors import DeviceError
from tests.shell.page.conftest import Served, wait_for
from tests.shell.page.test_client import say, until

Serve = Callable[..., Served]


def test_a_port_that_is_taken_is_an_error_with_a_remedy(serve: Serve) -> None:
    """A port the player named is that or none; the usual one has neighbours."""
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        show = serve().show
        named = PageServer(show.look, show.send, show.rig, PageSettings(port=port, fixed=True))
        with pytest.raises(DeviceError, match="--page-port"):
            named.start()
        usual = PageServer(show.look, show.send, show.rig, PageSettings(port=port))
        usual.start()
        assert usual.url != named.url
        usual.stop()


def test_a_saved_mapping_reaches_the_browsers(serve: Serve) -> None:
    """Another mapping in force is told at once, and a key held across it is let go where it was struck."""
    served = serve()
    with served.browser() as browser:
        until(browser, "facts")
        say(browser, "note", note=60, velocity=90, source="piano")
        wait_for(lambda: served.show.wishes)
        mapping, _ = mapping_from_text(
            "inputs: {piano: Grand}\nkeys: [{notes: 60, from: piano, lamps: door}]\n", served.show.rig
        )
        served.page.show_mapping(mapping)
        facts = until(browser, "facts")
        assert [key["name"] for key in facts["mapping"]["keys"]] == ["door"]
        say(browser, "note", note=60, velocity=0, source="piano")
        wait_for(lambda: len(served.show.wishes) == 2)
    assert served.show.wishes[1] == Played("page piano", 1, 60, 0)


def test_news_come_as_what_changed(serve: Serve) -> None:
    """After the first telling only changed keys are sent."""
    served = serve()
    with served.browser() as browser:
        assert until(browser, "news")["news"]["title"] == "an evening song"
        served.show.more["take"] = {"recording": True, "seconds": 1.5}
        while "take" not in (news := until(browser, "news")["news"]):
            pass
        assert "title" not in news


def test_the_end_is_said_and_everything_let_go(serve: Serve) -> None:
    """Stopping closes the sockets, and the show hears that the page's ports are gone."""
    served = serve()
    with served.browser() as browser:
        say(browser, "note", note=60, velocity=90, source="piano")
        wait_for(lambda: served.show.wishes)
        served.page.stop()
    assert list(served.show.wishes)[1:] == [Played("page piano", 1, 60, 0), Left("page piano")]


def test_a_lesson_is_written_answered_and_shown(serve: Serve) -> None:
    """A rule taught by a browser stands in the file, is answered with its line, and is told to all."""
    served = serve()
    path = served.page.settings.mapping
    with served.browser() as browser, served.browser() as other:
        until(other, "facts")
        say(browser, "teach", kind="note", number=72, then="light", lamps=["door"], mode="latch")
        answer = until(browser, "reply")
        assert (answer["ok"], answer["written"]) == (True, "- {notes: C5, lamps: door, mode: latch}")
        assert any(key["note"] == 72 for key in until(other, "facts")["mapping"]["keys"])
        assert path is not None
        assert answer["written"] in path.read_text()
        say(browser, "undo")
        assert until(browser, "reply")["ok"]
        assert answer["written"] not in path.read_text()


def test_a_moved_lamp_is_shown_where_it_hangs_now(serve: Serve) -> None:
    """The rig file is written and the browsers are told, while the show runs on with the rig it has."""
    served = serve()
    with served.browser() as browser:
        before = {lamp["name"]: lamp for lamp in until(browser, "facts")["rig"]["lamps"]}
        say(browser, "move", lamp="west.red", right=-0.5, up=0.25)
        after = {lamp["name"]: lamp for lamp in until(browser, "facts")["rig"]["lamps"]}
    for name, lamp in after.items():
        way = (-0.5, 0.25) if name.startswith("west.") else (0.0, 0.0)
        assert (lamp["x"], lamp["y"]) == pytest.approx(
            (before[name]["x"] + way[0], before[name]["y"] + way[1])
        )


def test_a_link_is_for_others_and_a_url_for_here() -> None:
    """The link carries the secret; the address to open here does not."""
    settings = replace(PageSettings(port=0), token="abc", host="127.0.0.1")
    page = PageServer(lambda: None, lambda _wish: None, _empty(), settings)
    page.start()
    assert page.link == f"{page.url}?key=abc"
    assert json.dumps(page.facts)
    page.stop()


def _empty():  # type: ignore[no-untyped-def]
    from bridge.values.rig import Rig

    return Rig()
