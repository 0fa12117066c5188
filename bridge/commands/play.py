"""Knows: what `play` and `demo` do: from files and options to a show and its exit code.

Must never know: how a show is built, or any argument's spelling.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any

from bridge.commands.loading import Say, header_of, load, pressed, read_text, shipped, song, tail
from bridge.commands.paging import PageWanted
from bridge.commands.performing import outputs, perform
from bridge.plan import Plan
from bridge.shell.bookmark import Bookmark
from bridge.shell.clock import Clock
from bridge.shell.evening import Number
from bridge.shell.feeds import Feed, ListFeed
from bridge.shell.files import read_rig
from bridge.shell.midi_file import too_long
from bridge.shell.outputs import standing_by
from bridge.shell.resume import Resume
from bridge.shell.tty import can_draw
from bridge.values.errors import UsageError
from bridge.values.mapping import Mapping

MAPPING = Path("mapping.yaml")
"""What is played where no mapping is named."""

VIRTUAL = "Lampwright"
"""The port of ours that other programs can play into, where the system has such ports."""


def demo(say: Say, seconds: float | None, page: PageWanted, report: Path | None = None) -> int:
    """The boathouse, playing our song."""
    folder = ("examples", "boathouse")
    rig, mapping, notices = load(shipped(*folder, "rig.yaml"), shipped(*folder, "mapping.yaml"))
    events, ends = song(shipped(*folder, "evening.mid"), mapping)
    plan = Plan(rig, mapping, list(rig.outputs), [ListFeed(events)], notices=notices, title="an evening song")
    plan.seconds = ends + tail(mapping) if seconds is None else seconds
    plan.screen = can_draw()
    plan.page, plan.browse, plan.report = page.settings(), True, report
    code = perform(say, plan)
    say(
        "Next: `lampwright new` writes a rig and a mapping of your own; "
        "`lampwright ports` shows what is plugged in."
    )
    return code


@dataclass(frozen=True, slots=True)
class Wanted:
    """What `play` was asked for.

    Args:
        listen: a part of a sound input's name, empty for the usual one.
        fresh: begin anew, though the show before ended badly.
    """

    rig: Path
    mappings: Sequence[Path]
    midi_in: Sequence[str] = ()
    midi_file: Path | None = None
    out: Sequence[str] | None = None
    seconds: float | None = None
    record: Path | None = None
    song: Path | None = None
    offset_ms: float = 0.0
    set_list: Path | None = None
    page: PageWanted = field(default_factory=PageWanted)
    listen: str | None = None
    stand_by: bool = False
    report: Path | None = None
    fresh: bool = False


def play(say: Say, wanted: Wanted) -> int:
    """Play live, from a file, along with a song or through an evening; from where a bad end left it."""
    if wanted.set_list is not None and _has_none(wanted.mappings[0]):
        from bridge.commands.evening import first_mapping

        wanted = replace(wanted, mappings=[first_mapping(wanted.set_list) or MAPPING])
    files = [wanted.rig, *wanted.mappings]
    if wanted.set_list is not None:
        files.append(wanted.set_list)
    with Resume(Bookmark(files), wanted.fresh) as resume:
        return _play(say, wanted, resume)


def _play(say: Say, wanted: Wanted, resume: Resume) -> int:
    mapping_path = wanted.mappings[0]
    usual = ""
    if (wanted.song is not None or wanted.listen is not None) and _has_none(mapping_path):
        from bridge.shell.sound.usual import usual_mapping

        rig, warnings = read_rig(wanted.rig)
        mapping, usual = usual_mapping(rig)
        notices = [*(str(warning) for warning in warnings), f"no {mapping_path}: the music plays the lamps"]
    else:
        rig, mapping, notices = load(wanted.rig, mapping_path)
    specs = outputs(rig, wanted.out)
    if wanted.stand_by:
        specs, told = standing_by(specs)
        notices = [*notices, *told]
    plan = Plan(rig, mapping, specs, notices=notices, seconds=wanted.seconds)
    plan.resume = resume
    plan.title, plan.screen = mapping.name, can_draw()
    plan.files = [] if usual else [(mapping_path, mapping)]
    plan.page = wanted.page.settings(wanted.rig, mapping_path)
    plan.record = wanted.record or free_take(mapping)
    plan.recording, plan.report = wanted.record is not None, wanted.report
    if wanted.record is not None:
        check_take(wanted.record, wanted.seconds)
    plan.header = header_of(rig, wanted.rig, mapping_path, mapping.name)
    if usual:
        plan.header = replace(plan.header, mapping=usual)
    plan.thru, plan.clock_to = mapping.thru, mapping.timing.clock_to
    if len(wanted.mappings) > 1:
        plan.mappings = [(load(wanted.rig, path)[1], read_text(path)) for path in wanted.mappings]
        plan.files += [(path, one) for path, (one, _) in zip(wanted.mappings, plan.mappings, strict=True)]
    live = bool(wanted.midi_in) or (wanted.midi_file is None)
    if live:
        plan.ports = ports_of(wanted.midi_in, mapping)
    # What follows is read only where it is wanted: a show from keys alone starts sooner without it.
    if wanted.set_list is not None:
        from bridge.commands.evening import evening

        return evening(say, plan, wanted.set_list, wanted.rig)
    if wanted.listen is not None and wanted.song is None:
        from bridge.shell.sound import Listening, SoundFeed

        device = wanted.listen or None
        plan.ears = SoundFeed(Listening(device=device, hearing=mapping.hearing), Clock().now)
    if wanted.song is not None:
        _along_with_song(plan, wanted, live)
    elif wanted.midi_file is not None:
        events, ends = song(wanted.midi_file, mapping)
        if wanted.seconds is None and (flaw := too_long(wanted.midi_file, ends, "add --seconds S to end it")):
            plan.notices.append(str(replace(flaw, warning=True)))
        plan.feeds.append(ListFeed(events))
        resume.leave_out(pressed(events))
        if wanted.seconds is None and not live:
            plan.seconds = ends + tail(mapping)
    return perform(say, plan)


def _has_none(mapping: Path) -> bool:
    """True where no mapping was named and none lies here: what music does by itself will do."""
    return mapping == MAPPING and not mapping.exists()


def _along_with_song(plan: Plan, wanted: Wanted, live: bool) -> None:
    """The song is heard, or keeps time in silence, and what plays the lamps follows it."""
    from bridge.shell.song import length_of, song_or_silence
    from bridge.shell.sound.along import Along
    from bridge.shell.sound.stage import hears_music

    path = wanted.song
    if path is None:
        return
    make: Callable[[], Feed] | None = None
    prepare: Callable[[], None] | None = None
    ends = 0.0
    if wanted.midi_file is not None:
        events, ends = song(wanted.midi_file, plan.mapping)
        make = partial(ListFeed, events)
        ends += tail(plan.mapping)
        if plan.resume is not None:
            plan.resume.leave_out(pressed(events))
    length_of(path)
    if hears_music(plan.mapping):
        along = Along(Clock().now)
        prepare = partial(along.prepare, path, plan.mapping.hearing)
        prepare()
        plan.ears, make = along.ears, along.feed(path, plan.mapping.hearing, make)
    sound = partial(song_or_silence, path, Clock(), wanted.offset_ms / 1000.0)
    plan.numbers = [Number(path.stem, feed=make, ends=ends, sound=sound, prepare=prepare)]
    plan.autostart, plan.ends_with_song = True, not live
    plan.title = f"{plan.mapping.name} with {path.name}"
    if plan.header is not None:
        plan.header = replace(plan.header, song=path.name, offset_ms=wanted.offset_ms)


def check_take(path: Path, seconds: float | None = None) -> None:
    """Refuse a name for a take that can be none, before the show rather than in it.

    Args:
        seconds: how long the show is to last; None for until told.

    Raises:
        UsageError: no folder to write in, or a folder in place of a file, or no time to record in.
    """
    if seconds is not None and not seconds > 0.0:
        raise UsageError(f"--seconds {seconds:g}: there is nothing to record; give more than 0")
    try:
        is_folder, folder_is_there = path.is_dir(), path.parent.is_dir()
    except OSError as error:
        raise UsageError(f"--record {path}: that can be no file: {error.strerror}") from error
    if is_folder or not path.name:
        raise UsageError(f"--record {path}: that is a folder; give a file, like --record evening.take")
    if not folder_is_there:
        raise UsageError(f"--record {path}: there is no folder {path.parent}; make it, or name another")


def free_take(mapping: Mapping) -> Path:
    """Where `does: record` puts takes when no name was given: this folder, named after the mapping."""
    plain = "".join(letter if letter.isalnum() else "-" for letter in mapping.name.casefold()).strip("-")
    return Path(f"{plain[:60] or 'take'}.take")


def ports_of(midi_in: Sequence[str], mapping: Mapping) -> Any:
    """Opens the ports named on the command line, else those of the mapping's inputs, else all there are."""
    from bridge.shell.ports import LivePorts

    wanted = list(midi_in) or list(mapping.inputs.values())
    # Where every port is opened anyway, a port of ours would only be heard twice.
    return lambda: LivePorts(wanted, virtual=VIRTUAL) if wanted else LivePorts(None)
