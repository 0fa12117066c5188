"""Knows: what the commands under `take` do: from arguments to the takes' own functions.

Must never know: how takes are stored, drawn or written.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from bridge.commands.loading import Say, header_of, load, names_input
from bridge.commands.replay import compiler, of_take
from bridge.core.engine import Engine
from bridge.shell.feeds import ListFeed, restamped
from bridge.shell.files import rig_from_text
from bridge.shell.loop import offline
from bridge.shell.takes.edit import Grid, align, at_tempo, import_midi, trim
from bridge.shell.takes.reader import Take
from bridge.shell.tty import can_draw
from bridge.values.errors import FileError, UsageError
from bridge.values.events import Event
from bridge.values.frame import Frame
from bridge.values.mapping import Mapping
from bridge.values.rig import Rig

LONGEST = 864_000.0
"""Seconds or beats; more is a slip."""

KINDS = (".mid", ".csv", ".png", ".gif", ".mp4")
Progress = Callable[[int, int], None]


def info(say: Say, path: Path) -> int:
    """Say what is in a take."""
    from bridge.shell.takes.info import info as lines

    with Take.open(path) as take, progress("reading") as done:
        rig = None
        if take.header.rig:
            try:
                rig, _ = rig_from_text(take.header.rig)
            except FileError as error:
                say(f"its rig cannot be read by this version: {error.problems[0]}")
        for line in lines(take, rig, done):
            say(line)
    return 0


def export(
    say: Say,
    path: Path,
    out: Path,
    begin: float,
    end: float | None,
    notes: bool,
    threshold: float,
    shortest_ms: float,
) -> int:
    """Write a take as MIDI, table, chart, animation or film, by the ending of the name."""
    kind = out.suffix.casefold()
    if kind not in KINDS:
        raise UsageError(f"{out}: a take goes to {', '.join(KINDS)}; the ending of the name decides")
    with Take.open(path) as take, progress(f"writing {out.name}") as done:
        begin, last = _part(say, take, begin, end, lit=kind != ".mid")
        rig, mapping, _ = of_take(take)
        if kind == ".mid":
            _midi(say, take, rig, mapping, out, (begin, last), (notes, threshold, shortest_ms), done)
        else:
            from bridge.shell.takes import export_frames as frames

            if kind == ".csv":
                frames.export_csv(take, rig, out, begin, last, done)
            elif kind == ".png":
                frames.export_png(take, rig, out, begin=begin, end=last, progress=done)
            elif kind == ".mp4":
                frames.export_mp4(take, rig, out, begin, last, progress=done)
            elif frames.export_gif(take, rig, out, begin, last, done):
                say("longer than an animation may be, so it was cut; give --from and --to, or an .mp4")
    say(f"wrote {out}")
    return 0


def _part(say: Say, take: Take, begin: float, end: float | None, lit: bool) -> tuple[float, float]:
    """The part of a take that was asked for, in seconds; infinity for its end where none was given.

    Args:
        lit: there must be frames in it.

    Raises:
        UsageError: nothing lies in it, so that there would be nothing to write.
    """
    last = math.inf if end is None else end
    until = min(last, take.ends)
    if not begin < until or (lit and next(take.frames(begin, until), None) is None):
        asked = f"from {begin:g} s" + ("" if end is None else f" to {end:g} s")
        raise UsageError(f"{take.path}: there is nothing {asked}; the take is {take.ends:g} s long")
    if end is not None and end > take.ends + 1.0 / take.header.refresh_hz:
        say(f"{take.path} is {take.ends:g} s long and not {end:g}: taken to its end")
    return begin, last


def _midi(
    say: Say,
    take: Take,
    rig: Rig,
    mapping: Mapping,
    out: Path,
    span: tuple[float, float],
    how: tuple[bool, float, float],
    done: Progress,
) -> None:
    from bridge.shell.takes.export_midi import export_midi
    from bridge.shell.takes.frames_to_notes import frames_to_notes

    events: Sequence[Event]
    notes, threshold, shortest_ms = how
    if notes:
        found = frames_to_notes(take.frames(*span), rig, mapping, threshold, shortest_ms)
        events = found.events
        if found.keyless:
            say(f"no key holds these lamps alone, so they are left out: {', '.join(found.keyless)}")
        if found.coarse:
            say(f"no velocity gives these lamps just what they had: {', '.join(found.coarse)}")
        if found.chordal:
            say(f"a chord shape hears the keys of these lamps too: {', '.join(found.chordal)}")
    else:
        events = [event for _, _, event in take.events(*span)]
    # A file begins with what it holds, not with the silence before it.
    events = [restamped(event, max(0.0, event.stamp - span[0])) for event in events]
    written = export_midi(
        events, out, min(take.ends, span[1]) - span[0], title=take.header.title, progress=done
    )
    if written.left_out:
        left = ", ".join(f"{count} {kind}" for kind, count in written.left_out.items())
        say(f"MIDI has no message for {left}; left out")
    if not written.events:
        say("nothing was played there, so the file holds no notes")


def cut(say: Say, path: Path, out: Path, begin: float, end: float | None) -> int:
    """Write a part of a take as a new one."""
    with Take.open(path) as take, progress("trimming") as done:
        say(f"wrote {trim(take, out, begin, end, done)}")
    return 0


def onto_grid(
    say: Say,
    path: Path,
    out: Path,
    tempo: float,
    beats: float,
    first: float,
    strength: float,
    begin: float,
    end: float | None,
) -> int:
    """Move the notes of a take nearer to a grid of beats; its frames are performed anew."""
    if not (math.isfinite(first) and abs(first) <= LONGEST and math.isfinite(beats) and beats <= LONGEST):
        raise UsageError(f"--first {first} and --beats {beats} are to be numbers up to {LONGEST:g}")
    with Take.open(path) as take, progress("aligning") as done:
        begin, last = _part(say, take, begin, end, lit=False)
        rig, mapping, _ = of_take(take)
        grid = Grid(beats, at_tempo(tempo), first)
        perform = performer(rig, mapping, take)
        say(f"wrote {align(take, out, grid, strength, perform, begin, last, done)}")
    return 0


def from_midi(say: Say, song: Path, out: Path, rig_path: Path, mapping_path: Path) -> int:
    """Make a take of a MIDI file played through a rig and a mapping."""
    rig, mapping, warnings = load(rig_path, mapping_path)
    for warning in warnings:
        say(warning)
    header = header_of(rig, rig_path, mapping_path, song.stem)
    with progress("importing") as done:
        path = import_midi(song, out, header, performer(rig, mapping), names_input(mapping), done)
    say(f"wrote {path}")
    return 0


def performer(
    rig: Rig, mapping: Mapping, take: Take | None = None
) -> Callable[[Sequence[Event]], Iterator[tuple[int, Frame]]]:
    """A function that plays events through an engine, frame by frame, until they have rung out."""
    from bridge.commands.loading import tail

    compiled = compiler(rig)

    def perform(events: Sequence[Event]) -> Iterator[tuple[int, Frame]]:
        known = [_compiled(event, take, compiled) for event in events]
        feed = ListFeed([event for event in known if event is not None])
        frames = int((feed.ends + tail(mapping)) * rig.refresh_hz) + 1
        if take is not None:
            frames = max(frames, take.next_k)
        for beat, frame, _ in offline(Engine(rig, mapping), [feed], rig.refresh_hz, frames):
            yield beat.number, frame

    return perform


def _compiled(event: Event, take: Take | None, compiled: Callable[[str], Mapping | None]) -> Event | None:
    """An event as the engine takes it: a mapping saved during the take is read from the take's own text."""
    from dataclasses import replace

    from bridge.values.events import NewMapping

    if not isinstance(event, NewMapping) or take is None:
        return event
    text = take.mapping_text(event.mapping)
    mapping = compiled(text) if text is not None else None
    return replace(event, mapping=mapping) if mapping is not None else None


@contextmanager
def progress(what: str) -> Iterator[Progress]:
    """A function (done, total) that draws a bar in a terminal, once a thing takes over a second."""
    if not can_draw(sys.stderr):
        yield lambda _done, _total: None
        return
    from rich.console import Console
    from rich.progress import Progress as Bar

    from bridge.shell.clock import Clock

    clock = Clock()
    began = clock.now()
    with Bar(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, visible=False)
        yield lambda done, total: bar.update(
            task, completed=done, total=max(1, total), visible=clock.now() - began > 1.0
        )
    clock.close()
