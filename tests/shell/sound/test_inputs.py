"""A real sound system: tones played into a JACK server by another program, heard through PortAudio."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import pytest

from bridge.core.engine import Engine
from bridge.shell.clock import Clock
from bridge.shell.sound import Listening, SoundFeed
from bridge.values.mapping import Mapping
from bridge.values.sound import Hearing, Onset, Sound, SoundRule
from tests.core.builders import rig
from tests.shell.jack import until
from tests.shell.song.sound_server import CLIENT, SoundServer, sound_server
from tests.shell.sound.tone_player import TonePlayer

HOP = 0.01
FRAME = 1 / 40

PERIODS = 4 * 256 / 48000
"""What the server itself takes: a period each way, and as much for a loaded machine."""


@pytest.fixture(scope="module")
def server() -> Iterator[SoundServer]:
    """A sound system of our own."""
    with sound_server(48000) as running:
        yield running


@pytest.fixture
def player(server: SoundServer) -> Iterator[TonePlayer]:
    """A program that plays; PortAudio calls it CLIENT there."""
    assert server.rate == 48000
    with TonePlayer() as playing:
        yield playing


class Ears:
    """What a feed has handed out so far."""

    def __init__(self, listening: Listening) -> None:
        self.clock = Clock()
        self.feed = SoundFeed(listening, self.clock.now)
        self.bands: tuple[float, ...] = (1.0, 1.0, 1.0)
        self.strokes: list[tuple[int, float]] = []
        until(lambda: self.hear() or self.feed.ready, "the input is heard")

    def hear(self) -> bool:
        """Take what there is; True if levels were among it."""
        found = self.feed.take(math.inf)
        for one in found:
            if isinstance(one, Sound):
                self.bands = one.bands
            elif isinstance(one, Onset):
                self.strokes.append((one.band, one.stamp + self.feed.start))
        return bool(found)

    def wait(self, bands: Callable[[tuple[float, ...]], bool], what: str) -> float:
        """Until the newest levels are so; the moment at which they were handed out."""
        until(lambda: self.hear() and bands(self.bands), what)
        return self.clock.now()

    def __enter__(self) -> Ears:
        return self

    def __exit__(self, *_: object) -> None:
        self.feed.close()


def test_tones_light_their_bands(player: TonePlayer) -> None:
    """100 Hz, 1 kHz and 8 kHz are heard as bass, middle and treble, one after the other."""
    with Ears(Listening(device=CLIENT)) as ears:
        for band, hz in enumerate((100.0, 1000.0, 8000.0)):
            player.play(hz)
            ears.wait(lambda now, band=band: now[band] > 0.9 and sum(now) < 1.6, f"{hz} Hz is heard")
        player.play(0.0, 0.0)
        ears.wait(lambda now: max(now) < 0.05, "silence is dark")
        until(lambda: "silent" in ears.feed.note, "silence is said")


def test_lamps_follow(player: TonePlayer) -> None:
    """Tones light the lamps of their band and hardly any others; in silence all are dark."""
    engine = Engine(rig(3), Mapping(sound=tuple(SoundRule(band, lamps=(band,)) for band in range(3))))
    with Ears(Listening(device=CLIENT)) as ears:
        start, clock = ears.feed.start, ears.clock

        def shown() -> list[int]:
            t = clock.now() - start
            return [int(slot) for slot in engine.advance(ears.feed.take(t), t).slots[0][:3]]

        def alone(band: int) -> bool:
            slots = shown()
            return slots[band] > 220 and sum(slots) - slots[band] < 120

        for band, hz in enumerate((100.0, 1000.0, 8000.0)):
            player.play(hz)
            until(lambda band=band: alone(band), f"{hz} Hz lights its lamp")
        player.play(0.0, 0.0)
        until(lambda: shown() == [0, 0, 0], "silence is dark")


def test_sound_is_light_within_two_hops_and_a_frame(player: TonePlayer) -> None:
    """From a tone's first sample to its reading in two hops and a frame, less what the sound system takes."""
    late, struck = [], []
    with Ears(Listening(device=CLIENT)) as ears:
        for _ in range(7):
            player.play(0.0, 0.0)
            ears.wait(lambda now: max(now) < 0.02, "it is dark")
            ears.strokes.clear()
            began = player.play(1000.0)
            late.append(ears.wait(lambda now: now[1] > 0.2, "the tone is heard") - began)
            until(lambda: ears.hear() and any(band == 1 for band, _ in ears.strokes), "its stroke is heard")
            struck.append(next(at for band, at in ears.strokes if band == 1) - began)
    assert sorted(late)[3] < 2 * HOP + FRAME + PERIODS, late
    assert abs(sorted(struck)[3]) < 0.03, struck


def test_a_program_that_leaves_is_heard_again(player: TonePlayer) -> None:
    """The program that plays ends: silence is said, nothing fails; when it is back it is heard again."""
    with Ears(Listening(device=CLIENT)) as ears:
        player.leave()
        until(lambda: ears.hear() and "silent" in ears.feed.note, "the silence is said")
        with TonePlayer() as again:
            again.play(1000.0)
            ears.wait(lambda now: now[1] > 0.9, "it is heard again")
            assert ears.feed.trouble == ""


@pytest.mark.usefixtures("server")
def test_an_input_that_is_not_there_is_said() -> None:
    """A name that fits no input is trouble that lists those there are."""
    feed = SoundFeed(Listening(device="no such thing"), Clock().now)
    try:
        until(lambda: "no sound input fits 'no such thing'" in feed.trouble, "the trouble is shown")
        assert "give one of" in feed.trouble
    finally:
        feed.close()


def test_what_is_too_loud_is_said(player: TonePlayer) -> None:
    """An input that clips is a note that says what to do, and is no more when it is turned down."""
    with Ears(Listening(device=CLIENT)) as ears:
        player.play(1000.0, 1.5)
        until(lambda: ears.hear() and "too loud" in ears.feed.note, "it is said")
        player.play(1000.0, 0.5)
        until(lambda: ears.hear() and "too loud" not in ears.feed.note, "it is said no more")


def test_an_input_is_heard_differently_without_a_gap(player: TonePlayer) -> None:
    """Other crossovers: the input stays open, and the tone is in the band that they say."""
    with Ears(Listening(device=CLIENT)) as ears:
        player.play(1000.0)
        ears.wait(lambda now: len(now) == 3 and now[1] > 0.9, "the tone is heard")
        ears.feed.hear(Hearing(crossovers=(4000.0,), bands=("low", "high")))
        ears.wait(lambda now: len(now) == 2 and now[0] > 0.9, "it is heard differently")
        assert ears.feed.trouble == ""


def test_two_shows_hear_one_input(player: TonePlayer) -> None:
    """Two programs listen to one input, and both hear it."""
    with Ears(Listening(device=CLIENT)) as one, Ears(Listening(device=CLIENT)) as other:
        player.play(1000.0)
        for ears in (one, other):
            ears.wait(lambda now: now[1] > 0.9, "the tone is heard")


def test_an_input_that_comes_later_is_found(server: SoundServer) -> None:
    """A show that begins before its input is there says so, and hears it as soon as it has come."""
    server.stop()
    feed = SoundFeed(Listening(device="system"), Clock().now)
    try:
        until(lambda: "there is no sound input" in feed.trouble, "the trouble is shown")
        server.start()
        until(lambda: feed.take(math.inf), "it is heard")
        until(lambda: not feed.trouble, "the trouble is over")
    finally:
        feed.close()


def test_a_sound_system_that_dies_is_found_again(server: SoundServer) -> None:
    """The server is killed: the input is said to be gone; with another server it is heard again."""
    with TonePlayer() as player, Ears(Listening(device=CLIENT)) as ears:
        player.play(1000.0)
        ears.wait(lambda now: now[1] > 0.9, "it is heard")
        server.stop(kill=True)
        until(lambda: (ears.hear() or True) and "gone" in ears.feed.trouble, "the trouble is shown")
        player.kill()
        server.start()
        with TonePlayer() as again:
            again.play(1000.0)
            ears.bands = (0.0, 0.0, 0.0)
            ears.wait(lambda now: now[1] > 0.9, "it is heard again")
