"""Knows: all that a show is told before it begins, every file read.

Must never know: how a show is put together, or how a command was spelled.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bridge.shell.evening import Number
from bridge.shell.feeds import Feed
from bridge.shell.page.settings import PageSettings
from bridge.shell.resume import Resume
from bridge.values.mapping import Mapping
from bridge.values.rig import OutputSpec, Rig
from bridge.wire.take_header import TakeHeader

if TYPE_CHECKING:
    from bridge.shell.sound import SoundFeed


@dataclass(slots=True)
class Plan:
    """What is to be played, all files read.

    Args:
        feeds: where events come from. Built before the show; `ports` names those that are live.
        seconds: length of the show, None for until told.
        screen: draw the rig in this terminal.
        files: the mapping files that may come into force and what they say, the one the show begins with
            first; one that is saved while its mapping plays is in force at the next frame.
        title: what is played, for the screen.
        notices: warnings to show.
        ports: opens the live MIDI ports when the show begins.
        record: where takes go; `recording` begins one with the first frame.
        report: where the report of the show goes; None for none.
        header: what a take says of this show.
        thru: part of the name of a MIDI output to which what arrives is sent on; empty for none.
        ears: hears an input, or the songs; the show closes it. clock_to: part of the name of a MIDI output
            that gets our clock; empty for none.
        mappings: with their texts, for program changes to switch between; fewer than two: none.
        numbers: the songs of the evening (one, for a single song); `autostart` begins the first at once,
            `ends_with_song` ends the show with it, `at` is the one to begin with.
        resume: what a show that ended badly left, and where this one is; None where that is not kept.
        page: how the stage page is served; None for none. browse: open it in this machine's browser.
        done: asked each turn; True ends the show (a script that has run out).
    """

    rig: Rig
    mapping: Mapping
    outputs: Sequence[OutputSpec]
    feeds: list[Feed] = field(default_factory=list)
    seconds: float | None = None
    screen: bool = False
    files: list[tuple[Path, Mapping]] = field(default_factory=list)
    title: str = ""
    notices: list[str] = field(default_factory=list)
    ports: Callable[[], Any] | None = None
    record: Path | None = None
    report: Path | None = None
    recording: bool = False
    header: TakeHeader | None = None
    thru: str = ""
    ears: SoundFeed | None = None
    clock_to: str = ""
    mappings: Sequence[tuple[Mapping, str]] = ()
    numbers: Sequence[Number] = ()
    autostart: bool = False
    ends_with_song: bool = False
    at: int = 0
    page: PageSettings | None = None
    browse: bool = False
    resume: Resume | None = None
    done: Callable[[], bool] = lambda: False
