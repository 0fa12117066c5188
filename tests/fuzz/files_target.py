"""Knows: what becomes of any bytes as a rig, a mapping, a set list, or what a show that ended badly left.

Must never know: who makes the bytes.
"""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

from bridge.core.engine import Engine
from bridge.shell.cautions import cautions
from bridge.shell.explain import explain
from bridge.shell.files import mapping_from_text, rig_from_text, set_list_from_text
from bridge.shell.files.report import Report
from bridge.shell.files.source import decode
from bridge.shell.resume_marks import described, parsed, time_of_day
from bridge.shell.sheet import sheet_html
from bridge.shell.sums import sum_lines
from bridge.values.errors import FileError
from bridge.values.events import Mark, Restore
from bridge.values.mapping import Mapping
from bridge.values.rig import Rig
from tests.fuzz.playing import play
from tests.shell.files.cases import FULL, MAPPING, RIG

ROOT = Path(__file__).resolve().parent.parent.parent
PICTURES = ROOT / "examples" / "textures"
"""From where pictures are named."""

CUT = b"\n%%%%\n"
"""Between a rig and a mapping, and between that and bytes to play as MIDI."""

LONGEST_MESSAGE = 2_000_000


@cache
def boathouse() -> Rig:
    """The rig that every shipped mapping is written for."""
    return rig_from_text((ROOT / "examples" / "boathouse" / "rig.yaml").read_text(encoding="utf-8"))[0]


def _text(data: bytes, name: str) -> str | None:
    """The text of a file, read as `read_file` reads it."""
    report = Report(name)
    text = decode(data, report)
    report.finish()
    return text


def _said(error: FileError) -> None:
    """Messages are part of the product: they must be text that can be shown, and not without end."""
    if not 0 < len(str(error).encode("utf-8")) < LONGEST_MESSAGE:
        raise RuntimeError("an error that says nothing, or too much")


def files(data: bytes) -> None:
    """A rig, and a mapping for it, checked and played; the boathouse plays where the rig is none."""
    pieces = data.split(CUT)
    rig = _rig(pieces[0])
    if len(pieces) > 1:
        mapping = _mapping(pieces[1], rig or boathouse())
        if mapping is not None:
            play(rig or boathouse(), mapping, b"".join(pieces[2:]))
    elif rig is not None:
        play(rig, Mapping())


def _rig(data: bytes) -> Rig | None:
    try:
        text = _text(data, "rig.yaml")
        rig, warnings = rig_from_text(text or "", "rig.yaml")
    except FileError as error:
        _said(error)
        return None
    "\n".join([*map(str, warnings), *cautions(rig), *sum_lines(rig)]).encode("utf-8")
    if len(rig.lamps) <= 200:
        sheet_html(rig).encode("utf-8")
    return rig


def _mapping(data: bytes, rig: Rig) -> Mapping | None:
    try:
        text = _text(data, "mapping.yaml")
        mapping, warnings = mapping_from_text(text or "", rig, "mapping.yaml", PICTURES)
    except FileError as error:
        _said(error)
        return None
    "\n".join([*map(str, warnings), *explain(rig, mapping)]).encode("utf-8")
    return mapping


def sets(data: bytes) -> None:
    """A set list, and the mark of a show that ended badly: both are files that anything can stand in."""
    try:
        set_list_from_text(
            _text(data, "set.yaml") or "", PICTURES, "set.yaml", skip_missing=bool(len(data) % 2)
        )
    except FileError as error:
        _said(error)
    try:
        found = json.loads(data.decode("utf-8"))
    except (ValueError, RecursionError):
        return  # as `Bookmark.read`
    left = parsed(found) if isinstance(found, dict) else None
    if left is not None:
        described(left)
        time_of_day(left.made, 0.0)
        _restore(left.marks)


@cache
def _usual() -> Mapping:
    return mapping_from_text(MAPPING, boathouse())[0]


def _restore(marks: tuple[Mark, ...]) -> None:
    """What a mark says comes back on a mapping that may know none of it."""
    engine = Engine(boathouse(), _usual())
    engine.advance([Restore(0.0, marks)], 0.0)
    for k in range(1, 6):
        engine.advance([], k / 10)
    engine.standing(0.6)


def files_seeds() -> list[bytes]:
    """Every rig with every mapping that is shipped, by themselves and with each other."""
    rig = (ROOT / "examples" / "boathouse" / "rig.yaml").read_bytes()
    found = [ROOT / "examples" / "boathouse" / "mapping.yaml", *sorted((ROOT / "mappings").glob("*.yaml"))]
    found += sorted(PICTURES.glob("*.yaml"))
    play_bytes = bytes.fromhex("90 3C 40 91 24 7F B0 40 7F B0 15 33 E0 00 7F D0 40 C0 05 F8 FA FE")
    return [
        rig,
        RIG.encode() + CUT + MAPPING.encode() + CUT + play_bytes,
        FULL.encode() + CUT + MAPPING.encode(),
        *(CUT + path.read_bytes() + CUT + play_bytes for path in found),
        rig + CUT + found[0].read_bytes(),
    ]


def sets_seeds() -> list[bytes]:
    """A set list of two songs, and a mark of every kind."""
    marks = [
        ["look", "walkin", "", 0, -1, [1.0, 0.5]],
        ["latch", "left", "pads", 1, 36, [0.5, 1.0, 2.0]],
        ["texture", "waves", "", 0, -1, [1.0, 2.0, 3.0]],
        ["chord", "major", "", 0, -1, [0.5, 1.0, 60.0]],
        ["set master", "", "", 0, -1, [0.5]],
        ["set level", "left", "", 0, -1, [0.5]],
        ["tempo", "", "", 0, -1, [0.0, 120.0]],
        ["dark", "", "", 0, -1, []],
    ]
    mark = {"version": 1, "made": 1.7e9, "song": 0, "name": "one", "mapping": 0, "marks": marks}
    return [
        b"set: Village evening\nsongs:\n  - {name: one, midi: whole_song.yaml, look: walkin}\n"
        b"  - {name: two, song: ripples.yaml, offset_ms: -20, mapping: ripples.yaml}\n",
        b"set: none\nsongs: [{name: gone, song: nowhere.flac, take: nothing.take}]\n",
        json.dumps(mark).encode(),
    ]
