"""The stage page of the real program in a real browser: played, taught, darkened, lost and found again."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Any
from urllib.error import HTTPError
from urllib.request import urlopen

import mido
import pytest
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import connect

from bridge.shell.takes.reader import Take
from bridge.values.events import PortGone
from tests.acceptance.programs import NEEDS_POSIX, NEEDS_PROC, InTerminal, Piped, house_of, until
from tests.shell.page.browsers import CHROMIUM, FLAGS, SPOT, brightness, missing, open_page, quiet

BOATHOUSE = Path(__file__).parents[2] / "examples" / "boathouse"

LIT = "(names) => names.map((name) => window.lampwright.rig.target[window.lampwright.indexOf(name)])"
MOST_LIT = "() => Math.max(...window.lampwright.rig.target)"
SAYS_OPEN = "() => document.body.dataset.link === 'open' && !document.querySelector('#weather').textContent"

pytestmark = [NEEDS_POSIX, NEEDS_PROC]


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    """A headless browser."""
    if os.environ.get("LAMPWRIGHT_REQUIRE_ALL") != "1":
        pytest.importorskip("playwright.sync_api")
    import playwright.sync_api as api

    if not CHROMIUM:
        missing("Chromium")
    with api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


class Boathouse(Piped):
    """`lampwright play` with a copy of the boathouse's files and a page of its own."""

    def __init__(self, folder: Path, *more: object) -> None:
        for name in ("rig.yaml", "mapping.yaml"):
            shutil.copy(BOATHOUSE / name, folder / name)
        with socket.create_server(("127.0.0.1", 0)) as free:
            self.port = free.getsockname()[1]
        self.folder = folder
        self.begun = time.monotonic()
        env = dict.fromkeys(("XDG_CONFIG_HOME", "APPDATA", "HOME", "XDG_CACHE_HOME"), str(folder))
        super().__init__("play", "--page-port", self.port, *more, folder=folder, env=env)
        self.url = f"http://127.0.0.1:{self.port}/"
        try:
            until(self._served, "the page is served")
        except BaseException:
            self.close()
            raise

    def _served(self) -> bool:
        if self.process.poll() is not None:
            pytest.fail(f"it ended with {self.process.returncode}: {self.out}{self.errors}")
        with closing(socket.socket()) as probe:
            return probe.connect_ex(("127.0.0.1", self.port)) == 0

    def socket(self) -> Any:
        """A browser of our own."""
        return connect(f"ws://127.0.0.1:{self.port}/socket", origin=self.url.rstrip("/"))  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def show(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Boathouse]:
    """One show for all tests that leave it as it was."""
    with Boathouse(tmp_path_factory.mktemp("boathouse")) as running:
        yield running


@pytest.fixture
def page(chromium: Any, show: Boathouse) -> Iterator[Any]:
    """The page open and the caution answered; a mistake in its scripts fails the test."""
    yield from open_page(chromium, show.url)


def lit(page: Any, *lamps: str) -> list[int]:
    """The drives 0..255 of some lamps, as the page was told."""
    return list(page.evaluate(LIT, list(lamps)))


def once(page: Any, condition: Callable[[], Any], what: str, seconds: float = 20.0) -> Any:
    """As `until`, and the browser's own events are attended to meanwhile."""
    return until(lambda: page.evaluate("0") or condition(), what, seconds)


def button(page: Any, name: str) -> Any:
    """A button of the evening's sheet."""
    return page.locator("#evening").get_by_role("button", name=name, exact=True)


def test_a_chord_within_seconds(chromium: Any, tmp_path: Path) -> None:
    """From the command to three letters that light three lamps it takes less than ten seconds."""
    lamps = ("roof.1.1", "roof.5.1", "roof.2.2")
    with Boathouse(tmp_path) as show:
        for page in open_page(chromium, show.url):
            for key in "zcb":
                page.keyboard.down(key)
            once(page, lambda: all(brightness(page, lamp) > 400 for lamp in lamps), "three lamps glow")  # noqa: B023
            assert time.monotonic() - show.begun < 10.0
            assert lit(page, "roof.3.1") == [0]
            for key in "zcb":
                page.keyboard.up(key)
            once(page, lambda: lit(page, *lamps) == [0, 0, 0], "they are dark again")  # noqa: B023
        show.signal(signal.SIGINT)
        assert show.ended(5.0) == 130
        assert f"stage page: {show.url}" in show.out
        assert not show.errors


def test_a_rule_is_taught_and_taken_back(page: Any, show: Boathouse) -> None:
    """The rule stands in the file with every comment kept, plays at once and on; undone, all is as before."""
    path = show.folder / "mapping.yaml"
    before = path.read_text("utf-8")
    rest = lit(page, "door")[0]
    page.click("[data-sheet=teach]")
    page.keyboard.press("q")
    heard = page.locator("#teach-heard [aria-checked=true]")
    once(page, lambda: heard.count() and heard.inner_text() == "C4 · piano", "the key was heard")
    quiet(page, "roof.1.3")
    page.mouse.click(*page.evaluate(SPOT, "door")[:2])
    page.click("#teach-write")
    page.wait_for_selector("#teach-answer[data-ok=true]")
    line = "  - {notes: C4, from: piano, lamps: door, between: [0.15, 1]}\n"
    assert path.read_text("utf-8").replace(line, "", 1) == before
    page.keyboard.down("q")
    once(page, lambda: lit(page, "door")[0] > rest + 60, "the door follows the key at once", 2.0)
    held = time.monotonic()
    # Longer than the house takes to see that the file has changed: the key is not let go for that.
    once(page, lambda: time.monotonic() > held + 1.0, "a second passes")
    assert lit(page, "door")[0] > rest + 30
    page.keyboard.up("q")
    page.click("#teach-undo")
    once(page, lambda: path.read_text("utf-8") == before, "the file is as before")
    once(page, lambda: lit(page, "door", "roof.1.3") == [rest, 0], "all is quiet")
    page.keyboard.down("q")
    once(page, lambda: lit(page, "roof.1.3")[0] > 60, "the old rule plays")
    assert lit(page, "door") == [rest]
    page.keyboard.up("q")


def test_a_take_is_recorded_and_replayed(page: Any, show: Boathouse) -> None:
    """Recorded from the page, a take is listed with its chart; replayed, once or in a loop, it plays."""
    page.click("[data-sheet=evening]")
    button(page, "Record").click()
    button(page, "Stop recording").wait_for()
    for key in "zcb":
        page.keyboard.press(key, delay=200)
    button(page, "Stop recording").click()
    entry = page.locator("#e-takes article").first
    once(page, lambda: entry.count() and "3 notes" in entry.inner_text(), "the take is listed")
    name = "boathouse-organ.take"
    assert name in entry.inner_text()
    with Take.open(show.folder / name) as take:
        assert take.complete
        length = take.ends
        assert 0.6 < length < 10.0
    picture = entry.locator("img")
    picture.scroll_into_view_if_needed()
    once(
        page,
        lambda: picture.evaluate("(image) => image.complete && image.naturalWidth > 200"),
        "its chart shows",
    )
    once(page, lambda: lit(page, "roof.1.1", "roof.5.1", "roof.2.2") == [0, 0, 0], "all is quiet")
    begun = time.monotonic()
    entry.get_by_role("button", name="Replay").click()
    for lamp in ("roof.1.1", "roof.5.1", "roof.2.2"):
        once(page, lambda: lit(page, lamp)[0] > 60, f"{lamp} is lit again")  # noqa: B023
    assert button(page, "Stop the replay").count() == 1
    once(page, lambda: button(page, "Stop the replay").count() == 0, "the replay ends")
    assert time.monotonic() - begun > length - 0.5
    once(page, lambda: lit(page, "roof.1.1", "roof.5.1", "roof.2.2") == [0, 0, 0], "and leaves no lamp lit")
    button(page, "Loop is off").click()
    button(page, "Loop is on").wait_for()
    entry.get_by_role("button", name="Replay").click()
    for _ in range(2):
        once(page, lambda: lit(page, "roof.1.1")[0] > 60, "the take begins")
        once(page, lambda: lit(page, "roof.1.1")[0] == 0, "and goes on")
    button(page, "Stop the replay").click()
    button(page, "Loop is on").click()
    once(page, lambda: button(page, "Stop the replay").count() == 0, "the replay is stopped")
    quiet(page, "roof.2.2")


@contextmanager
def storm(show: Boathouse) -> Iterator[list[int]]:
    """Strikes and releases from a browser of our own, 250 a second; yields those sent so far."""
    over, sent = threading.Event(), list[int]()

    def send(browser: Any) -> None:
        while not over.wait(0.008):
            note = 48 + len(sent) // 2 % 24
            for velocity in (0, 100):
                message = {
                    "word": "note",
                    "note": note,
                    "velocity": velocity,
                    "channel": 1,
                    "source": "piano",
                }
                browser.send(json.dumps(message))
                sent.append(note)

    def read(browser: Any) -> None:
        # Of each picture it is said that it was seen, or no more would come.
        with suppress(ConnectionClosed):
            for said in browser:
                if isinstance(said, bytes):
                    number = int.from_bytes(said[1:5], "little")
                    browser.send(json.dumps({"word": "seen", "n": number}))

    with show.socket() as browser:
        threads = [threading.Thread(target=work, args=(browser,)) for work in (send, read)]
        for thread in threads:
            thread.start()
        try:
            yield sent
        finally:
            over.set()
            threads[0].join()
            browser.close()
            threads[1].join()


def test_blackout_under_load(page: Any, show: Boathouse) -> None:
    """While two hundred notes a second arrive, Escape darkens every lamp at once and keeps it so."""
    with storm(show) as sent:
        once(page, lambda: page.evaluate(MOST_LIT) > 60, "the storm lights lamps")
        before = len(sent)
        pressed = time.monotonic()
        page.keyboard.press("Escape")
        once(page, lambda: page.evaluate(MOST_LIT) == 0, "every lamp is dark", 2.0)
        took = time.monotonic() - pressed
        dark = time.monotonic()
        while time.monotonic() < dark + 1.0:
            assert page.evaluate(MOST_LIT) == 0
        assert len(sent) > before + 100, "the notes went on"
        assert page.locator("#dark").is_visible()
        assert took < 1.0
        page.keyboard.press("Escape")
        once(page, lambda: page.evaluate(MOST_LIT) > 60, "the light is back")
    once(page, lambda: lit(page, "roof.1.1", "roof.6.4") == [0, 0], "the storm left no key down")


def test_a_lamp_is_found_by_pressing_it(page: Any) -> None:
    """A lamp pressed in the window is lit at its place, by its name, for as long as it is pressed."""
    x, y, _ = page.evaluate(SPOT, "east.red")
    page.mouse.move(x, y)
    page.mouse.down()
    once(page, lambda: lit(page, "east.red")[0] > 150, "it lights")
    assert page.inner_text("#tag") == "east.red"
    assert lit(page, "east.amber") == [0]
    page.mouse.up()
    once(page, lambda: lit(page, "east.red") == [0], "it is let go")


def test_the_house_is_killed(chromium: Any, tmp_path: Path) -> None:
    """After kill -9 the page says so, what it held is let go, and it finds the next house by itself."""
    with Boathouse(tmp_path, "--record", "evening.take") as show:
        for page in open_page(chromium, show.url):
            page.keyboard.down("q")
            once(page, lambda: lit(page, "roof.1.3")[0] > 60, "the lamp is held")  # noqa: B023
            first = until(lambda: house_of(show.pid), "there is a house")
            os.kill(first, signal.SIGKILL)
            once(page, lambda: "out of reach" in page.inner_text("#weather"), "the page says so")  # noqa: B023
            assert page.locator("#quay").get_attribute("data-off") == "true"
            once(page, lambda: page.evaluate(SAYS_OPEN), "the page is back by itself")  # noqa: B023
            assert until(lambda: house_of(show.pid), "there is another house") != first
            once(page, lambda: lit(page, "roof.1.3") == [0], "the key was let go")  # noqa: B023
            page.keyboard.up("q")
            page.keyboard.down("z")
            once(page, lambda: lit(page, "roof.1.1")[0] > 60, "it plays on")  # noqa: B023
            page.keyboard.up("z")
        show.signal(signal.SIGINT)
        show.ended(5.0)
    with Take.open(tmp_path / "evening.take") as take:
        gone = [event for _, _, event in take.events() if isinstance(event, PortGone)]
        assert [event.port for event in gone][:1] == ["page piano"]


def test_what_was_taught_outlives_the_house(chromium: Any, tmp_path: Path) -> None:
    """What was saved while the show goes on is what the next house tells of, not what the show began with."""
    with Boathouse(tmp_path) as show:
        path = tmp_path / "mapping.yaml"
        path.write_text(
            path.read_text("utf-8").replace("  walkin:", "  nightfall: {door: 0.7}\n  walkin:"), "utf-8"
        )
        for page in open_page(chromium, show.url):
            page.click("[data-sheet=evening]")
            button(page, "nightfall").wait_for()
            os.kill(until(lambda: house_of(show.pid), "there is a house"), signal.SIGKILL)
            once(page, lambda: "out of reach" in page.inner_text("#weather"), "the page says so")  # noqa: B023
            once(page, lambda: page.evaluate(SAYS_OPEN), "the page is back by itself")  # noqa: B023
            button(page, "nightfall").click()
            once(page, lambda: lit(page, "door")[0] > 80, "the look stands")  # noqa: B023


def write_song(path: Path, note: int) -> None:
    """Two seconds of one note, for the piano."""
    song = mido.MidiFile(type=1, ticks_per_beat=480)
    track = mido.MidiTrack()
    song.tracks.append(track)
    track += [
        mido.MetaMessage("track_name", name="piano"),
        mido.Message("note_on", note=note, velocity=110),
        mido.Message("note_off", note=note, time=1920),
    ]
    song.save(path)


def test_an_evening_is_run_from_the_page(chromium: Any, tmp_path: Path) -> None:
    """Nothing plays until Start; Next chooses the second song, and Start plays that one."""
    write_song(tmp_path / "one.mid", 48)
    write_song(tmp_path / "two.mid", 53)
    songs = "  - {name: Harbour lights, midi: one.mid}\n  - {name: Last ferry, midi: two.mid, look: dusk}\n"
    (tmp_path / "set.yaml").write_text(f"set: A summer evening\nsongs:\n{songs}", "utf-8")
    with Boathouse(tmp_path, "--set", "set.yaml") as show:
        for page in open_page(chromium, show.url):
            page.click("[data-sheet=evening]")
            button(page, "Start").wait_for()
            assert page.locator("#e-set li").all_inner_texts() == ["Harbour lights", "Last ferry"]
            assert lit(page, "roof.1.1", "roof.6.1") == [0, 0]
            button(page, "Start").click()
            once(page, lambda: lit(page, "roof.1.1")[0] > 60, "the first song plays")  # noqa: B023
            button(page, "Stop").click()
            once(page, lambda: lit(page, "roof.1.1") == [0], "it is stopped")  # noqa: B023
            button(page, "Next").click()
            page.locator("#e-set [aria-current]", has_text="Last ferry").wait_for()
            once(page, lambda: lit(page, "west.amber")[0] > 2, "its look comes in")  # noqa: B023
            button(page, "Start").click()
            once(page, lambda: lit(page, "roof.6.1")[0] > 60, "the second song plays")  # noqa: B023
            assert lit(page, "roof.1.1") == [0]


def test_who_only_looks_changes_nothing(chromium: Any, tmp_path: Path) -> None:
    """With --page-view-only there is nothing to play on, and what is sent all the same is refused."""
    with Boathouse(tmp_path, "--page-view-only", "--record", "evening.take") as show:
        page = chromium.new_page()
        page.goto(show.url)
        page.click("#caution-live")
        once(page, lambda: not page.locator("#quay").is_visible(), "there is nothing to play on")
        assert page.is_disabled("#blackout")
        page.keyboard.press("q")
        page.keyboard.press("Escape")
        with show.socket() as browser:
            browser.send(json.dumps({"word": "note", "note": 60, "velocity": 100, "source": "piano"}))
            browser.send(json.dumps({"word": "do", "what": "blackout_on"}))
            replies: list[Any] = []
            while len(replies) < 2:
                said = browser.recv(5.0)
                if isinstance(said, str) and json.loads(said)["word"] == "reply":
                    replies.append(json.loads(said))
        assert [reply["ok"] for reply in replies] == [False, False]
        assert not page.locator("#dark").is_visible()
        page.close()
        show.signal(signal.SIGINT)
        show.ended(5.0)
    with Take.open(tmp_path / "evening.take") as take:
        assert list(take.events()) == []


def test_others_need_the_link(chromium: Any, tmp_path: Path) -> None:
    """Served to all, the page opens with the secret of the link alone, said and drawn as a square."""
    with Boathouse(tmp_path, "--page-host", "0.0.0.0") as show:
        show.says("stage page: http://")
        found = re.search(r"stage page: http://[^/]+/(\?key=[\w-]{20,})", show.out)
        assert found is not None
        until(lambda: show.out.count("█▄") + show.out.count("▀█") > 20, "the square is drawn")
        with pytest.raises(HTTPError, match="401"):
            urlopen(show.url, timeout=5)
        with pytest.raises(InvalidStatus, match="401"), show.socket():
            pass
        with pytest.raises(HTTPError, match="401"):
            urlopen(show.url + "?key=" + "x" * 22, timeout=5)
        for page in open_page(chromium, show.url + found[1]):
            assert page.url == show.url
            page.keyboard.down("q")
            once(page, lambda: lit(page, "roof.1.3")[0] > 60, "it plays")  # noqa: B023
            page.keyboard.up("q")


def test_the_square_stands_beside_the_rig(tmp_path: Path) -> None:
    """A terminal with room shows the link's square; where only this computer looks, there is none."""
    for name in ("rig.yaml", "mapping.yaml"):
        shutil.copy(BOATHOUSE / name, tmp_path / name)
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    square = "▀" * 24
    with InTerminal("play", "--page-host", "0.0.0.0", "--page-port", port, folder=tmp_path) as show:
        show.shows("?key=")
        show.shows(square)
        show.type(b"\x03")
        assert show.ended(5.0) == 130
    with InTerminal("play", "--page-port", port, folder=tmp_path) as show:
        show.shows(f"stage page: http://127.0.0.1:{port}/")
        show.type(b"\x03")
        assert show.ended(5.0) == 130
        assert square not in show.raw
