"""Knows: the songs of an evening: which is chosen, whether it plays, how its events and sound come in.

Must never know: how files are read, what a mapping means, or how sound is made.

Nothing starts until told. Between songs the look that stands goes on standing; the lamps go dark only if
somebody says so.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from bridge.shell.feeds import Feed, ListFeed, restamped
from bridge.shell.pace import Steered
from bridge.shell.song.base import Song
from bridge.values.events import Do, Event, NewMapping, Picture
from bridge.values.mapping import Mapping

LOOK_SECONDS = 2.0
"""Fade of the look that stands before a song."""


@dataclass(frozen=True, slots=True)
class Number:
    """One song of the evening, all its files read.

    Args:
        mapping, text: what plays the lamps, and the text it was read from; None keeps what is in force.
        feed: makes the events that play it, from second 0; None for hands alone.
        ends: seconds until those events are over.
        sound: opens its sound, which may take a while; None for none.
        look: the look that stands before it starts; empty to keep what stands.
        ports: those of the keys that its events press.
        prepare: told as soon as it is chosen, so that it is heard from its first second on; returns at once.
    """

    name: str
    mapping: Mapping | None = None
    text: str = ""
    feed: Callable[[], Feed] | None = None
    ends: float = 0.0
    sound: Callable[[], Song] | None = None
    look: str = ""
    ports: frozenset[str] = frozenset()
    prepare: Callable[[], None] | None = None


class Evening:
    """A feed for the loop, and what next, previous, start and stop do.

    Args:
        numbers: the songs in order, at least one.
        pace: steered by the sound of the song that plays.
        hz: frames a second.
        moved: told of the number that is chosen, so that a crash finds the way back.
        at: the number to begin with.
    """

    def __init__(
        self,
        numbers: Sequence[Number],
        pace: Steered,
        hz: float,
        moved: Callable[[int], None] = lambda _index: None,
        at: int = 0,
    ) -> None:
        self._numbers, self._pace, self._hz, self._moved = numbers, pace, hz, moved
        self.index = min(max(at, 0), len(numbers) - 1)
        self.playing = False
        self.trouble = ""
        """Why the song is not heard; empty where all is well."""
        self._song: Song | None = None
        self._opening: threading.Thread | None = None
        self._generation = 0
        self._waiting = self._mute = False
        self._feed: Feed | None = None
        self._begun = 0.0
        self._out: list[Event] = []

    @property
    def number(self) -> Number:
        """The song that is chosen."""
        return self._numbers[self.index]

    @property
    def names(self) -> list[str]:
        """The songs in order."""
        return [number.name for number in self._numbers]

    @property
    def length(self) -> float:
        """Seconds of the chosen song, as far as is known."""
        sound = self._song.length if self._song is not None else 0.0
        return max(self.number.ends, sound if math.isfinite(sound) else 0.0)

    @property
    def next_name(self) -> str:
        """The name of the song after it; empty for none."""
        return self._numbers[self.index + 1].name if self.index + 1 < len(self._numbers) else ""

    def position(self, t: float) -> float:
        """Seconds into the song at show time `t`; 0 where none plays."""
        return max(0.0, t - self._begun) if self.playing and not self._waiting else 0.0

    def choose(self, index: int, t: float) -> None:
        """Make a song the one that will start: its mapping and its look come in, its sound is made ready."""
        self._silence(t)
        self.index = min(max(index, 0), len(self._numbers) - 1)
        number = self.number
        if number.mapping is not None:
            self._out.append(NewMapping(t, number.mapping, keep=False, text=number.text))
        if number.look:
            self._out.append(Do(t, "look", number.look, LOOK_SECONDS))
        self._open(number)
        self._moved(self.index)

    def wish(self, word: str, t: float) -> None:
        """next, previous, start or stop."""
        if word == "next" and self.index + 1 < len(self._numbers):
            self.choose(self.index + 1, t)
        elif word == "previous" and self.index > 0:
            self.choose(self.index - 1, t)
        elif word == "start" and not self.playing:
            self.start(t)
        elif word == "stop" and self.playing:
            self._silence(t)
            self._open(self.number)

    def start(self, t: float) -> None:
        """Begin the chosen song; with sound, as soon as it is heard."""
        self.playing = True
        if self.number.sound is None:
            self._begin(math.ceil(t * self._hz) / self._hz)
        else:
            self._waiting = True

    def turn(self, t: float) -> None:
        """Call with each frame: starts sound that is ready, steers the pace by it, sees the end."""
        song = self._song
        if song is not None:
            self.trouble = song.trouble
            if self._waiting and not song.playing and not song.ended:
                song.start()
            reading = song.position()
            if reading is not None and self._waiting:
                wall, second = reading
                self._waiting = False
                self._begin(math.ceil((self._pace.show(wall) - second) * self._hz) / self._hz)
                self._pace.begin(self._begun)
            if reading is not None:
                self._pace.hear(*reading)
        elif self._waiting and self._mute:
            # Its sound cannot be had: the lamps play it all the same.
            self._waiting = False
            self._begin(math.ceil(t * self._hz) / self._hz)
        if self.playing and not self._waiting and self._over(t):
            last = self.index
            self._silence(t)
            if last + 1 < len(self._numbers):
                self.choose(last + 1, t)

    def _over(self, t: float) -> bool:
        number = self.number
        heard = number.sound is not None and not self._mute
        if heard and (self._song is None or not self._song.ended):
            return False
        if not heard and number.feed is None:
            return False
        return t - self._begun >= number.ends

    def take(self, until: float) -> Sequence[Event]:
        """As `Feed.take`."""
        out, self._out = self._out, []
        if self._feed is not None:
            begun = self._begun
            played = self._feed.take(until - begun)
            out += [restamped(event, event.stamp + begun) for event in played]
        return out

    def _begin(self, at: float) -> None:
        self._begun = at
        make = self.number.feed
        self._feed = make() if make is not None else ListFeed(())

    def _silence(self, t: float) -> None:
        """End what plays; keys and pictures are let go, the look stands."""
        self._generation += 1
        song, self._song = self._song, None
        if song is not None:
            song.stop()
            # Closing may wait for a device, which no frame may do.
            threading.Thread(target=song.close, name="song's end", daemon=True).start()
        if self.playing:
            self._out += [Picture(t, (), b""), Do(t, "release_all")]
        self.playing = self._waiting = False
        self._feed = None

    def _open(self, number: Number) -> None:
        """Open the sound aside; what is opened too late for its song is closed again."""
        if number.prepare is not None:
            number.prepare()
        sound, generation = number.sound, self._generation
        self._mute = False
        if sound is None:
            return

        def work() -> None:
            try:
                song = sound()
            except (
                Exception
            ) as error:  # told to the player, whatever it is: the evening goes on without sound
                self.trouble = f"{number.name}: {error}"
                self._mute = generation == self._generation
                return
            if generation == self._generation:
                self._song = song
            else:
                song.close()

        self._opening = threading.Thread(target=work, name="song", daemon=True)
        self._opening.start()

    def ready(self, seconds: float) -> bool:
        """Wait until the chosen song's sound is open (before a show begins, never in it)."""
        if self._opening is not None:
            self._opening.join(seconds)
            return not self._opening.is_alive()
        return True

    def close(self) -> None:
        """Give the sound back."""
        self._generation += 1
        song, self._song = self._song, None
        if song is not None:
            song.stop()
            song.close()
