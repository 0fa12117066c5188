"""Knows: what `replay` does: a take's frames as they went out, or its events performed anew.

Must never know: how takes are stored, or how a show is built.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from bridge.commands.loading import Say, header_of, load
from bridge.commands.paging import PageWanted
from bridge.commands.performing import outputs, perform
from bridge.commands.play import check_take, ports_of
from bridge.parts.notes import HIGHEST
from bridge.plan import Plan
from bridge.shell.files import mapping_from_text, rig_from_text
from bridge.shell.takes.feeds import EventFeed, PictureFeed
from bridge.shell.takes.reader import Take
from bridge.shell.tty import can_draw
from bridge.values.errors import FileError, Problem, UsageError
from bridge.values.mapping import Mapping
from bridge.values.rig import Rig


@dataclass(frozen=True, slots=True)
class Replay:
    """What of a take is replayed, and how; `begin` and `end` in seconds of the take."""

    begin: float = 0.0
    end: float | None = None
    loop: bool = False
    speed: float = 1.0
    transpose: int = 0


def replay(
    say: Say,
    path: Path,
    rig_path: Path | None,
    mapping_path: Path | None,
    out: Sequence[str] | None,
    how: Replay,
    midi_in: Sequence[str],
    record: Path | None,
    seconds: float | None,
    page: PageWanted,
    report: Path | None = None,
) -> int:
    """Replay a take; guards stay on.

    Raises:
        UsageError: only one of rig and mapping is given, notes of frames are to be transposed, or too far.
        FileError: the take or a file cannot be read.
    """
    if (rig_path is None) != (mapping_path is None):
        raise UsageError("performing a take anew needs both --rig and --mapping")
    if abs(how.transpose) > HIGHEST:
        right = f"give -{HIGHEST} to {HIGHEST} semitones"
        raise UsageError(f"--transpose {how.transpose} leaves no note; {right}")
    with Take.open(path) as take:
        if not take.complete:
            say(f"{path}: {take.reach}")
        header = take.header
        if rig_path is not None and mapping_path is not None:
            rig, mapping, notices = load(rig_path, mapping_path)
            feed: EventFeed | PictureFeed
            feed = anew = EventFeed(
                take,
                how.begin,
                how.end,
                how.loop,
                how.speed,
                how.transpose,
                compiler(rig, mapping_path.parent),
            )
            if anew.left_out:
                notes = "1 note lies" if anew.left_out == 1 else f"{anew.left_out} notes lie"
                notices.append(
                    f"--transpose {how.transpose}: {notes} outside 0 to {HIGHEST} then and cannot be played"
                )
            header = header_of(rig, rig_path, mapping_path, mapping.name)
        else:
            if how.transpose:
                raise UsageError("--transpose moves notes; add --rig and --mapping to perform them anew")
            rig, mapping, notices = of_take(take)
            # What ran by itself is in the frames already.
            still = {name: replace(texture, run=False) for name, texture in mapping.textures.items()}
            mapping = replace(mapping, textures=still)
            feed = PictureFeed(take, how.begin, how.end, how.loop, how.speed)
    plan = Plan(rig, mapping, outputs(rig, out), [feed], seconds, can_draw(), notices=notices)
    plan.page, plan.report = page.settings(), report
    plan.title = f"replay of {path.name}"
    if record is not None:
        check_take(record, seconds)
        plan.record, plan.recording, plan.header = record, True, header
    if midi_in:
        plan.ports = ports_of(midi_in, mapping)
    if seconds is None and not how.loop:
        plan.seconds = feed.ends
    return perform(say, plan)


def of_take(take: Take) -> tuple[Rig, Mapping, list[str]]:
    """The rig and the mapping a take was recorded with, and their warnings.

    Raises:
        FileError: the take keeps none, or they cannot be read by this version.
    """
    header = take.header
    if not header.rig:
        raise FileError([Problem(0, 0, "keeps no rig", "add --rig and --mapping", str(take.path))])
    rig, _ = rig_from_text(header.rig, f"{take.path.name} {header.rig_file}")
    if not header.mapping:
        return rig, Mapping(), []
    name = f"{take.path.name} {header.mapping_file}"
    mapping, _ = mapping_from_text(header.mapping, rig, name, strict=False)
    return rig, mapping, []


def compiler(rig: Rig, folder: Path = Path()) -> Callable[[str], Mapping | None]:
    """A function that makes a mapping of a text kept in a take; None where it does not fit this rig.

    Args:
        folder: from where the mapping names its pictures.
    """

    def compiled(text: str) -> Mapping | None:
        try:
            return mapping_from_text(text, rig, folder=folder, strict=False)[0]
        except FileError:
            return None

    return compiled
