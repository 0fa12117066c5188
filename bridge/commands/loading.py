"""Knows: how a command reads the files it was given, and where the shipped examples are.

Must never know: what a command does with them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

from bridge import __version__
from bridge.core.ports import FILE_PORT, PortNames
from bridge.shell.files import read_mapping, read_rig
from bridge.shell.given_file import odd
from bridge.shell.midi_file import read_song
from bridge.values.errors import DeviceError
from bridge.values.events import Event, NoteOn
from bridge.values.mapping import Mapping
from bridge.values.rig import Rig
from bridge.wire.take_header import TakeHeader

SHOT_TAIL = 0.25
LONGEST_TAIL = 10.0

Say = Callable[[str], None]


def shipped(*parts: str) -> Path:
    """A file under examples/ or mappings/, in an installed package or in a clone."""
    here = Path(__file__).resolve().parent.parent
    for root in (here / "shipped", here.parent):
        path = root.joinpath(*parts)
        if path.exists():
            return path
    raise DeviceError(f"{'/'.join(parts)} is missing from this installation", "install lampwright again")


def load(rig_path: Path, mapping_path: Path) -> tuple[Rig, Mapping, list[str]]:
    """Rig, mapping and the warnings of both.

    Raises:
        FileError: everything that is wrong in either; the mapping is only read against a rig that is right.
    """
    rig, warnings = read_rig(rig_path)
    mapping, more = read_mapping(mapping_path, rig)
    return rig, mapping, [str(warning) for warning in (*warnings, *more)]


def read_text(path: Path) -> str:
    """The text of a file that was just read, for a take to keep; empty where it has gone since, as a pipe."""
    try:
        if odd(path):
            return ""
        return path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError):
        return ""


def header_of(rig: Rig, rig_path: Path, mapping_path: Path, title: str) -> TakeHeader:
    """What a take says of a show of these files."""
    return TakeHeader(
        refresh_hz=rig.refresh_hz,
        universes=rig.universes,
        rig=read_text(rig_path),
        rig_file=rig_path.name,
        mapping=read_text(mapping_path),
        mapping_file=mapping_path.name,
        title=title,
        program=f"lampwright {__version__}",
    )


def song(path: Path, mapping: Mapping) -> tuple[list[Event], float]:
    """The events of a MIDI file with the ports a mapping knows, and the second at which it ends.

    A track whose device or track name is that of an input counts as that input; any other track is heard by
    every rule.

    Raises:
        FileError: it cannot be read, or is no standard MIDI file.
    """
    parsed = read_song(path)
    on_input = names_input(mapping)
    return [on_input(event) for event in parsed.events], parsed.ends


def pressed(events: Iterable[Event]) -> frozenset[str]:
    """The ports of the keys that events press."""
    return frozenset(event.port for event in events if isinstance(event, NoteOn))


def names_input(mapping: Mapping) -> Callable[[Event], Event]:
    """A function that puts an event of a MIDI file on its input, or on the port that every rule hears."""
    names = PortNames(mapping.inputs)
    return lambda event: _at(event, names)


def _at(event: Event, names: PortNames) -> Event:
    port = getattr(event, "port", None)
    if port is None or names.names_an_input(port):
        return event
    moved: Event = replace(event, port=FILE_PORT)  # type: ignore[arg-type]
    return moved


def tail(mapping: Mapping) -> float:
    """Seconds after the last note until the lamps are dark: the longest release or shot, 10 s at most."""
    longest = 0.0
    for rule in mapping.keys:
        feel = rule.feel
        run = feel.attack + feel.decay if rule.mode == "shot" else rule.min_on
        longest = max(longest, run + feel.release)
    longest = max([longest, *(rule.fade or 0.0 for rule in mapping.does)])
    longest = max(
        [longest, *(max(rule.between) for rule in mapping.sets if rule.what in ("release", "fade"))]
    )
    for shape in mapping.chords:
        longest = max(longest, mapping.window + shape.feel.release)
    for played in mapping.texture_keys:
        longest = max(longest, played.release)
    return min(LONGEST_TAIL, longest + SHOT_TAIL)
