"""Knows: the frames of a take as files for people: a table, a chart, a film, a video.

Must never know: how any of them is drawn or written; engines.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path

from bridge.shell.csv_out import CsvOut
from bridge.shell.draw import Film
from bridge.shell.files.mapping import middle_c_of
from bridge.shell.takes.gaps import Progress, quiet
from bridge.shell.takes.reader import Take
from bridge.shell.takes.roll import RollChart
from bridge.shell.takes.video import Video
from bridge.values.errors import UsageError
from bridge.values.frame import Frame
from bridge.values.rig import Rig

TELL_EVERY = 200

LONGEST_VIDEO = 86_400.0
"""Seconds: a day. A take may say that it lasts for ages, and a video has a picture for each moment of it."""


def _frames(take: Take, rig: Rig, begin: float, end: float, progress: Progress) -> Iterator[Frame]:
    """The frames between two moments, their times counted from the first moment."""
    if rig.universes != take.header.universes:
        theirs, ours = (", ".join(map(str, numbers)) for numbers in (take.header.universes, rig.universes))
        raise UsageError(
            f"the take {take.path} has universes {theirs}, and the rig has {ours}; give the rig it was"
        )
    last = min(end, take.ends)
    total = max(1, int((last - begin) * take.header.refresh_hz))
    number = 0
    for number, (_, _, t, frame) in enumerate(take.frames(begin, last), 1):
        yield frame if begin <= 0.0 else Frame(max(0.0, t - begin), frame.universes, frame.slots)
        if number % TELL_EVERY == 0:
            progress(min(number, total), total)
    progress(max(number, total), max(number, total))


def export_csv(
    take: Take,
    rig: Rig,
    path: str | Path,
    begin: float = 0.0,
    end: float = math.inf,
    progress: Progress = quiet,
) -> int:
    """Write the table that `render` writes, a row for every frame that went out; the number of rows.

    Args:
        begin, end: seconds of the take.

    Raises:
        UsageError: the rig has other universes than the take.
        DeviceError: the file cannot be written.
    """
    with CsvOut(rig, path) as out:
        for frame in _frames(take, rig, begin, end, progress):
            out.add(frame)
    return out.count


def export_png(
    take: Take,
    rig: Rig,
    path: str | Path,
    title: str = "",
    begin: float = 0.0,
    end: float = math.inf,
    progress: Progress = quiet,
) -> None:
    """Draw notes and lamps over time. Arguments and errors as `export_csv`."""
    chart = RollChart(rig, path, title or take.header.title, middle_c_of(take.header.mapping))
    for frame in _frames(take, rig, 0.0, end, progress):
        if frame.t >= begin:
            chart.add(frame)
    chart.save(sorted((event for _, _, event in take.events(0.0, end)), key=lambda event: event.stamp))


def export_gif(
    take: Take,
    rig: Rig,
    path: str | Path,
    begin: float = 0.0,
    end: float = math.inf,
    progress: Progress = quiet,
) -> bool:
    """Write the rig as a film; True if it was longer than a film may be and was cut. Else as `export_csv`."""
    with Film(rig, path) as film:
        for frame in _frames(take, rig, begin, end, progress):
            film.add(frame)
            if film.cut:
                break
    return film.cut


def export_mp4(
    take: Take,
    rig: Rig,
    path: str | Path,
    begin: float = 0.0,
    end: float = math.inf,
    rate: float = 0.0,
    progress: Progress = quiet,
) -> None:
    """Write the rig as a video, at the take's own rate (at most 60 pictures a second) unless one is given.

    Else as `export_csv`; a DeviceError also where PyAV is missing, a UsageError beyond a day.
    """
    length = min(end, take.ends) - begin
    if length > LONGEST_VIDEO:
        raise UsageError(
            f"{length / 3600:,.0f} hours are too long for a video; give --from and --to, at most a day apart"
        )
    with Video(rig, path, rate or min(60.0, take.header.refresh_hz)) as video:
        for frame in _frames(take, rig, begin, end, progress):
            video.add(frame)
