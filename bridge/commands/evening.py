"""Knows: how a set list becomes an evening, what is skipped, and where to go on after a crash.

Must never know: how songs are started or heard.
"""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

from bridge.commands.loading import Say, load, read_text, song, tail
from bridge.commands.performing import perform
from bridge.plan import Plan
from bridge.shell.bookmark import Bookmark
from bridge.shell.clock import Clock
from bridge.shell.evening import Number
from bridge.shell.feeds import Feed, ListFeed
from bridge.shell.files import read_set_list
from bridge.shell.song import length_of, song_or_silence
from bridge.shell.sound.along import Along
from bridge.shell.sound.stage import hears_music
from bridge.shell.takes.feeds import PictureFeed
from bridge.shell.takes.reader import Take
from bridge.values.errors import BridgeError, FileError, Problem
from bridge.values.mapping import Mapping
from bridge.values.rig import Rig
from bridge.values.set_list import SetList, SetSong


def evening(say: Say, plan: Plan, path: Path, rig_path: Path) -> int:
    """Play a set list; what cannot be played is said and skipped before the evening, not in it.

    Raises:
        FileError: the set list is wrong, or none of its songs can be played.
    """
    found, warnings = read_set_list(path, skip_missing=True)
    for warning in warnings:
        say(str(warning))
    numbers = []
    along: Along | None = None
    for one in found.playable:
        try:
            number = number_of(found, one, plan.rig, plan.mapping, rig_path)
            if one.song and hears_music(number.mapping or plan.mapping):
                along = along or Along(Clock().now)
                hearing = (number.mapping or plan.mapping).hearing
                number = replace(number, feed=along.feed(one.song, hearing, number.feed))
            numbers.append(number)
        except BridgeError as error:
            say(f"{one.name} is skipped: {error}")
    if not numbers:
        raise FileError([Problem(0, 0, "no song of it can be played", "see above", str(path))])
    if along is not None:
        plan.ears = along.ears
    mark = Bookmark(path)
    plan.numbers, plan.title = numbers, found.name or path.stem
    plan.at = _where(say, mark, [number.name for number in numbers])

    def moved(index: int) -> None:
        # A disk may stall, and this is told from within a frame.
        work = partial(mark.put, index=index, name=numbers[index].name)
        threading.Thread(target=work, name="bookmark", daemon=True).start()

    plan.moved = moved
    code = perform(say, plan)
    mark.clear()
    return code


def _where(say: Say, mark: Bookmark, names: list[str]) -> int:
    """The song to begin with: after a crash the one the evening was at, if the player agrees."""
    before = mark.read()
    index, name = before.get("index"), before.get("name")
    if not isinstance(index, int) or not 0 < index < len(names) or names[index] != name:
        return 0
    say(f"the last evening with this set list ended in {name}, song {index + 1}, without its end")
    if not sys.stdin.isatty():
        say("going on there")
        return index
    try:
        answer = input("go on there? [y] ").strip().casefold()
    except EOFError:
        answer = ""
    return 0 if answer.startswith("n") else index


def number_of(evening: SetList, one: SetSong, rig: Rig, mapping: Mapping, rig_path: Path) -> Number:
    """A song with all its files read.

    Raises:
        FileError: a file of it is wrong, or its look is not in its mapping.
    """
    text = ""
    chosen: Mapping | None = None
    if one.mapping:
        _, chosen, _ = load(rig_path, Path(one.mapping))
        text = read_text(Path(one.mapping))
        mapping = chosen
    if one.look and one.look not in mapping.looks:
        known = ", ".join(mapping.looks) or "none"
        raise FileError([evening.problem(one, "look", f"unknown look {one.look!r}", f"known: {known}")])
    make: Callable[[], Feed] | None = None
    ends = 0.0
    if one.midi:
        events, ends = song(Path(one.midi), mapping)
        ends += tail(mapping)
        make = partial(ListFeed, events)
    elif one.take:
        make, ends = _take(Path(one.take), rig)
    sound = None
    if one.song:
        length_of(one.song)
        sound = partial(song_or_silence, one.song, Clock(), one.offset)
    return Number(one.name, chosen, text, make, ends, sound, one.look)


def _take(path: Path, rig: Rig) -> tuple[Callable[[], Feed], float]:
    """A function that makes the feed of a take's frames, and its length."""
    with Take.open(path) as take:
        if take.header.universes != rig.universes:
            what = f"was recorded on universes {take.header.universes}, this rig has {rig.universes}"
            raise FileError([Problem(0, 0, what, "replay it on its own rig", str(path))])
        ends = take.ends

    def make() -> Feed:
        with Take.open(path) as again:
            return PictureFeed(again)

    return make, ends


def check_set(say: Say, path: Path, rig: Rig, mapping: Mapping, rig_path: Path) -> None:
    """Say what is wrong with a set list and the files it names.

    Raises:
        FileError: everything that is wrong.
    """
    found, warnings = read_set_list(path)
    for warning in warnings:
        say(str(warning))
    problems: list[Problem] = []
    for one in found.songs:
        try:
            number_of(found, one, rig, mapping, rig_path)
        except FileError as error:
            problems += error.problems
        except BridgeError as error:
            problems.append(found.problem(one, "name", f"{one.name}: {error}"))
    if problems:
        raise FileError(problems)
    say(f"{path}: {found.name}: {len(found.songs)} songs, all there")
