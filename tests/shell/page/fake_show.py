"""A small show for the page: the boathouse's real engine at 40 Hz in a thread, and the page beside it.

Run as a program it serves until its input ends, says its link first and then each wish as a line of JSON.
Lines it understands: `pause` and `resume` the frames, `news {...}` to add to the news, `mapping PATH` to put
another mapping in force.
"""

from __future__ import annotations

import json
import sys
import threading
import time
from collections import deque
from dataclasses import asdict
from pathlib import Path
from typing import Any

from bridge.core.engine import Engine
from bridge.shell.files import read_mapping, read_rig
from bridge.shell.news import news
from bridge.shell.page import PageServer, PageSettings
from bridge.shell.page.wishes import Wish
from bridge.shell.tally import Tally
from bridge.shell.watch import MappingWatch
from bridge.values.beat import Beat
from bridge.values.events import NewMapping
from bridge.values.frame import Frame
from bridge.values.mapping import Mapping

HZ = 40.0
SAID = ("word", "name", "value", "port", "channel", "note", "velocity", "kind", "number")


class FakeShow:
    """An engine that plays what the page asks, as the show process would."""

    def __init__(self, rig: Path, mapping: Path, say: Any = None) -> None:
        self.rig, _ = read_rig(rig)
        self.mapping, _ = read_mapping(mapping, self.rig)
        self.engine = Engine(self.rig, self.mapping)
        self.wishes: deque[Wish] = deque()
        self.more: dict[str, Any] = {}
        self.paused = False
        self.takes = 0
        self._say = say
        self._lock = threading.Lock()
        self._arrived: list[Wish] = []
        self._newest: tuple[int, Beat, Frame, dict[str, Any]] | None = None
        self._stop = threading.Event()
        self._tally = Tally()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def send(self, wish: Wish) -> None:
        """As the pipe to the show."""
        with self._lock:
            self._arrived.append(wish)
        self.wishes.append(wish)
        if self._say:
            said = {key: value for key, value in asdict(wish).items() if key in SAID}
            self._say(json.dumps({"wish": type(wish).__name__, **said}))

    def look(self) -> Any:
        """As the picture's reader."""
        return self._newest

    def start(self) -> None:
        """Begin to turn."""
        self._thread.start()

    def stop(self) -> None:
        """End."""
        self._stop.set()
        self._thread.join(2.0)

    def hear(self, mapping: Mapping) -> None:
        """A saved mapping comes into force."""
        with self._lock:
            self.mapping = mapping
            self._arrived.append(lambda stamp: NewMapping(stamp, mapping))  # type: ignore[arg-type]

    def _run(self) -> None:
        begin, k, told = time.monotonic(), 0, dict[str, Any]()
        while not self._stop.is_set():
            time.sleep(max(0.0, begin + k / HZ - time.monotonic()))
            k += 1
            if self.paused:
                continue
            with self._lock:
                arrived, self._arrived = self._arrived, []
            frame = self.engine.advance([wish(k / HZ) for wish in arrived], k / HZ)
            beat = Beat(k, 0.0003)
            self._tally.add(beat)
            if k % 4 == 0 or not told:
                told = news(self.engine, self._tally, [], "an evening song", []) | self.more
            self._newest = (2 * k, beat, frame, told)


def main() -> None:
    """Serve until the input ends: RIG MAPPING PORT [view]."""
    rig, mapping, port = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3])

    def say(line: str) -> None:
        print(line, flush=True)

    show = FakeShow(rig, mapping, say)
    settings = PageSettings(
        port=port, fixed=True, mapping=mapping, rig=rig, view_only="view" in sys.argv, ping_s=5.0
    )
    page = PageServer(
        show.look,
        show.send,
        show.rig,
        settings,
        show.mapping,
        in_force=lambda mapping, _text: show.hear(mapping),
    )
    show.start()
    page.start()
    say(json.dumps({"url": page.url}))
    watch = MappingWatch(mapping, show.rig)
    done = threading.Event()

    def look() -> None:
        while not done.wait(0.1):
            found = watch.look()
            if isinstance(found, tuple):
                show.hear(found[0])
                page.show_mapping(found[0])
                show.more["notices"] = []
            elif found:
                show.more["notices"] = found

    threading.Thread(target=look, daemon=True).start()
    for line in sys.stdin:
        word, _, rest = line.strip().partition(" ")
        if word in ("pause", "resume"):
            show.paused = word == "pause"
        elif word == "news":
            show.more |= json.loads(rest)
    done.set()
    page.stop()
    show.stop()


if __name__ == "__main__":
    main()
