"""Knows: what `listen` does: shows bands, strokes and beats of a file or an input, and draws them.

Must never know: how sound is analysed.
"""

from __future__ import annotations

import contextlib
import math
import re
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

from bridge.commands.loading import Say, load
from bridge.shell.clock import Clock
from bridge.shell.sound.order import Listening
from bridge.shell.tty import can_draw
from bridge.values.errors import DeviceError
from bridge.values.events import Event
from bridge.values.sound import USUAL_HEARING, BeatHeard, Hearing, Onset, Sound

PICTURES = 20
"""Pictures a second in the terminal."""

LONGEST_KEPT = 200_000
"""Readings that a chart draws at most: half an hour."""

READY = 10.0
"""Seconds the analysis may take to begin."""


def listen(
    say: Say,
    what: str,
    rig_path: Path,
    mapping_path: Path | None,
    png: Path | None = None,
    seconds: float | None = None,
    loud: bool = True,
) -> int:
    """Listen to a sound file, or to an input whose name contains `what`, until it ends or Ctrl-C.

    Args:
        mapping_path: whose section `sound` says how it is heard; the usual way where None.
        png: where the chart goes; None for none.
        seconds: how long; None until the file ends, or until told.
        loud: play a file while it is shown, where there is sound; False shows it in silence.
    """
    from bridge.shell.song import song_or_silence
    from bridge.shell.song.sound_file import length_of
    from bridge.shell.sound import SoundFeed

    hearing = USUAL_HEARING if mapping_path is None else load(rig_path, mapping_path)[1].hearing
    is_file = means_file(what)
    length = length_of(what) if is_file else math.inf
    clock = Clock()
    kept: list[Event] = []
    with contextlib.ExitStack() as stack:
        stack.callback(clock.close)
        listening = Listening(
            file=what if is_file else "", device=None if is_file else what or None, hearing=hearing
        )
        feed = SoundFeed(listening, clock.now)
        stack.callback(feed.close)
        song = None
        if is_file and loud:
            song = song_or_silence(what, clock)
            stack.callback(song.close)
        if is_file:
            _wait(feed, clock)
        parts = [f"{band} ({span})" for band, span in zip(hearing.bands, spans(hearing), strict=False)]
        say(f"{listening.name}{f', {length:.1f} s' if is_file else ''}: {', '.join(parts)}")
        feed.start = start = clock.now()
        if song is not None:
            song.start()
            if song.trouble:
                say(song.trouble)

        def now() -> float:
            place = song.position() if song is not None else None
            if place is None:
                return clock.now() - start
            return place[1] + clock.now() - place[0]

        end = min(length, math.inf if seconds is None else seconds)
        show = stack.enter_context(_shown(say, hearing))
        try:
            while (t := now()) < end:
                events = list(feed.take(t))
                if len(kept) < LONGEST_KEPT:
                    kept += events
                show(t, events, [feed.trouble, feed.note])
                clock.wait(clock.now() + 1.0 / PICTURES)
            kept += feed.take(end)
        except KeyboardInterrupt:
            pass
    readings = [one for one in kept if isinstance(one, Sound | Onset | BeatHeard)]
    if feed.trouble and not readings:
        raise DeviceError(feed.trouble)
    for line in report(readings, hearing):
        say(line)
    if is_file and (line := of_whole_file(what)):
        say(line)
    if png is not None:
        from bridge.shell.sound.draw_sound import draw_sound

        draw_sound(readings, hearing.bands, png, listening.name, spans(hearing))
        say(f"chart: {png}")
    return 0


def means_file(what: str) -> bool:
    """True if a file is meant: one that is there, or what is spelled like one; a device may be 'USB 2.0'."""
    path = Path(what)
    return path.is_file() or path.name != what or re.fullmatch(r"\.[A-Za-z]\w{1,4}", path.suffix) is not None


def spans(hearing: Hearing) -> list[str]:
    """What each band hears, from the lowest up: under 250 Hz, 250 to 2500 Hz, over 2500 Hz."""
    at = [f"{hertz:g}" for hertz in hearing.crossovers]
    if not at:
        return ["everything"]
    between = [f"{low} to {high} Hz" for low, high in pairwise(at)]
    return [f"under {at[0]} Hz", *between, f"over {at[-1]} Hz"]


def report(readings: list[Sound | Onset | BeatHeard], hearing: Hearing) -> list[str]:
    """What was heard, in a few lines."""
    lines = []
    levels = [one.bands for one in readings if isinstance(one, Sound)]
    for band, name in enumerate(hearing.bands):
        hard = sorted(one.strength for one in readings if isinstance(one, Onset) and one.band == band)
        mean = sum(one[band] for one in levels) / len(levels) if levels else 0.0
        half = f", half of them at {hard[len(hard) // 2]:.2f} or harder" if len(hard) > 1 else ""
        lines.append(f"{name}: level {mean:.2f} on average, {len(hard)} strokes{half}")
    beats = [one.bpm for one in readings if isinstance(one, BeatHeard) and one.bpm]
    middle = sorted(beats)[len(beats) // 2] if beats else 0.0
    heard = (
        f"beats: {len(beats)}, at {middle:.1f} a minute in the middle of them"
        if beats
        else "beats: none found"
    )
    return [*lines, heard]


def of_whole_file(path: str) -> str:
    """What is known of the beats of a whole file; empty where nothing is yet."""
    from bridge.shell.sound.whole import beats_of

    known = beats_of(path)
    if not known:
        return ""
    tempi = sorted(bpm for _, bpm in known)
    return (
        f"the whole file: {len(known)} beats, the first at {known[0][0]:.2f} s, "
        f"{tempi[len(tempi) // 2]:.1f} a minute; `play --song` goes by these"
    )


def _wait(feed: Any, clock: Clock) -> None:
    """Until the first readings of a file are here, so that the show does not begin without them."""
    until = clock.now() + READY
    while not feed.ready and not feed.trouble and clock.now() < until:
        feed.take(-1.0)
        clock.wait(clock.now() + 0.02)


@contextlib.contextmanager
def _shown(say: Say, hearing: Hearing) -> Any:
    """A function that shows what is heard: in this terminal, or as lines where it cannot be drawn on."""
    if not can_draw():
        yield _lines(say)
        return
    from rich.live import Live

    from bridge.shell.sound.screen import SoundView

    view = SoundView(hearing.bands)
    with Live(auto_refresh=False) as live:

        def show(t: float, events: list[Event], notes: list[str]) -> None:
            view.take(events)
            live.update(view.draw(t, notes), refresh=True)

        yield show


def _lines(say: Say) -> Callable[[float, list[Event], list[str]], None]:
    said: set[str] = set()

    def show(_t: float, _events: list[Event], notes: list[str]) -> None:
        for note in notes:
            if note and note not in said:
                said.add(note)
                say(note)

    return show
