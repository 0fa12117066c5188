"""Knows: what `render` does: a MIDI file through the engine as fast as it goes, into files.

Must never know: how frames are made or drawn.
"""

from __future__ import annotations

import contextlib
import sys
from functools import partial
from pathlib import Path

from bridge.commands.loading import Say, load, song, tail
from bridge.core.engine import Engine
from bridge.shell.feeds import ListFeed
from bridge.shell.loop import offline
from bridge.shell.midi_file import too_long
from bridge.shell.tty import is_stdout
from bridge.values.errors import FileError, UsageError

BY_ITSELF = 30.0
"""Seconds of a mapping that runs by itself, unless told."""


LONGEST = 864_000.0
"""Seconds: ten days."""


def render(
    say: Say,
    rig_path: Path,
    mapping_path: Path,
    midi_file: Path | None,
    csv: Path | None,
    png: Path | None,
    gif: Path | None,
    seconds: float | None,
) -> int:
    """Write the frames of a MIDI file, or of a mapping that runs by itself, as CSV, chart or animation."""
    from bridge.shell.csv_out import CsvOut
    from bridge.shell.draw import Film, chart_of

    if csv is None and png is None and gif is None:
        raise UsageError("render has nowhere to write; add --csv FILE, --png FILE or --gif FILE")
    if seconds is not None and not seconds > 0.0:
        raise UsageError(f"--seconds {seconds:g}: there is nothing to write; give more than 0")
    if seconds is not None and not seconds <= LONGEST:
        raise UsageError(f"--seconds {seconds}: a file needs an end; give at most {LONGEST:g} seconds")
    read = {path.resolve() for path in (rig_path, mapping_path, midi_file) if path is not None}
    for out in (csv, png, gif):
        if out is not None and out.resolve() in read:
            raise UsageError(f"{out} is one of the files that are read; write somewhere else")
    if any(out is not None and is_stdout(out) for out in (csv, png, gif)):
        # What is said must not come to stand in the table.
        say = partial(print, file=sys.stderr)
    rig, mapping, warnings = load(rig_path, mapping_path)
    for warning in warnings:
        say(warning)
    if midi_file is not None:
        events, ends = song(midi_file, mapping)
        if seconds is None and (flaw := too_long(midi_file, ends, "add --seconds S to write its beginning")):
            raise FileError([flaw])
        length = ends + tail(mapping) if seconds is None else seconds
    elif mapping.runs:
        events, length = [], BY_ITSELF if seconds is None else seconds
    else:
        raise UsageError("nothing plays this mapping; add --midi-file FILE, or give a texture run: true")
    frames = int(length * rig.refresh_hz) + 1
    engine = Engine(rig, mapping)
    with contextlib.ExitStack() as stack:
        table = stack.enter_context(CsvOut(rig, csv)) if csv is not None else None
        film = stack.enter_context(Film(rig, gif)) if gif is not None else None
        chart = chart_of(rig, png, mapping.name) if png is not None else None
        for _beat, frame, _events in offline(engine, [ListFeed(events)], rig.refresh_hz, frames):
            if table is not None:
                table.add(frame)
            if film is not None:
                film.add(frame)
            if chart is not None:
                chart.add(frame)
        if chart is not None:
            chart.save()
    written = ", ".join(str(path) for path in (csv, png, gif) if path is not None)
    say(f"{frames} frames, {length:.1f} s at {rig.refresh_hz:g} a second, {len(rig.lamps)} lamps: {written}")
    return 0
