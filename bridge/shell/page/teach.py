"""Knows: how a lesson becomes a line in the player's files: read, written, read again, undone.

Must never know: browsers, sockets, the engine.

The file is read afresh for each lesson, one line is added, and the result is read as on the day of the show:
only if it says what was meant, and nothing else has changed, does it take the file's place. A file that
somebody saved in the meantime is left alone.
"""

from __future__ import annotations

import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from yaml import MappingNode

import bridge.shell.page.edit as edit
from bridge.parts.notes import note_name
from bridge.shell.files import mapping_from_text, rig_from_text
from bridge.shell.files.report import Report
from bridge.shell.files.source import decode
from bridge.shell.page.lesson_text import Lesson, NewLamp, lamp_entry, rule_entry
from bridge.shell.page.same import same_but_moved, same_but_one_lamp, same_but_one_rule
from bridge.shell.whole_file import whole_file
from bridge.values.errors import FileError, Problem
from bridge.values.mapping import Mapping
from bridge.values.rig import Rig

__all__ = ["Draft", "Lesson", "NewLamp", "Taught", "Teacher"]

STEPS = 50
"""Lessons that can be taken back."""

BOM = b"\xef\xbb\xbf"


@dataclass(frozen=True, slots=True)
class Taught:
    """What became of a lesson.

    Args:
        lines: what to tell the player. written: what stands in the file now, empty where nothing was added.
        undo: how many lessons can be taken back.
        mapping, rig: what the file now says, where it was written; text: the file's.
    """

    ok: bool
    lines: tuple[str, ...] = ()
    written: str = ""
    undo: int = 0
    mapping: Mapping | None = None
    rig: Rig | None = None
    text: str = ""


@dataclass(frozen=True, slots=True)
class Draft:
    """A file as it was read and as it will be; nothing is written yet."""

    path: Path
    before: bytes
    after: bytes
    written: str = ""
    mapping: Mapping | None = None
    rig: Rig | None = None


class Teacher:
    """Writes into the mapping and the rig file.

    Args:
        mapping, rig: the files; None where there is none to teach.
        running: the rig that is running, which every mapping is read against.
    """

    def __init__(self, mapping: Path | None, rig: Path | None, running: Rig) -> None:
        self._mapping, self._rig, self._running = mapping, rig, running
        self._steps: list[tuple[Path, bytes, bytes]] = []

    def rule(self, lesson: Lesson) -> Draft:
        """A rule for the mapping file.

        Raises:
            FileError: the file cannot be read, has mistakes, or the lesson makes no rule; says why.
        """
        path, before, text = self._read(self._mapping, "mapping")
        old, _ = mapping_from_text(text, self._running, path.name, path.parent)
        try:
            middle_c = edit.word(edit.top_of(text), "middle_c") or "C4"
            section, fields = rule_entry(lesson, note_name(lesson.number, middle_c), self._running)
            entry = edit.flow(fields)
            after = edit.apply(text, [edit.add_entry(text, section, entry)])
        except (edit.NoPlaceError, ValueError) as error:
            raise _wrong(path, str(error)) from None
        new, _ = mapping_from_text(after, self._running, path.name, path.parent)
        if not same_but_one_rule(old, new, lesson, self._running):
            raise _wrong(path, edit.NO_PLACE, f"add it in your editor, under {section}: - {entry}")
        return Draft(path, before, _encode(before, after), f"- {entry}", new)

    def move(self, lamp: str, right: float, up: float) -> Draft:
        """Hang a lamp, with the grid or head it belongs to, elsewhere: metres to the right and up.

        Raises:
            FileError: as `rule`.
        """
        path, before, text = self._read(self._rig, "rig")
        old, _ = rig_from_text(text, path.name)
        try:
            top = edit.top_of(text)
            hung = [*edit.entries(top, "lamps"), *edit.entries(top, "grids")]
            owner = next((node for node in hung if _owns(edit.word(node, "name"), lamp)), None)
            if owner is None:
                raise _wrong(path, f"there is no lamp {lamp!r} in the file")
            x, y = _place(owner)
            pair = edit.flow(round(x + right, 2)), edit.flow(round(y + up, 2))
            after = edit.apply(text, edit.set_pair(text, owner, "at", pair, "name"))
        except (edit.NoPlaceError, ValueError) as error:
            raise _wrong(path, str(error)) from None
        new, _ = rig_from_text(after, path.name)
        name = edit.word(owner, "name")
        moved = float(pair[0]) - x, float(pair[1]) - y
        if not same_but_moved(old, new, lambda other: _owns(name, other), moved):
            raise _wrong(path, edit.NO_PLACE, f"give {name} at: [{pair[0]}, {pair[1]}] in your editor")
        return Draft(path, before, _encode(before, after), f"{name} at: [{pair[0]}, {pair[1]}]", None, new)

    def patch(self, lamp: NewLamp) -> Draft:
        """A new lamp for the rig file.

        Raises:
            FileError: as `rule`.
        """
        path, before, text = self._read(self._rig, "rig")
        old, _ = rig_from_text(text, path.name)
        try:
            entry = edit.flow(lamp_entry(lamp))
            after = edit.apply(text, [edit.add_entry(text, "lamps", entry)])
        except (edit.NoPlaceError, ValueError) as error:
            raise _wrong(path, str(error)) from None
        new, _ = rig_from_text(after, path.name)
        if not same_but_one_lamp(old, new, lamp.name):
            raise _wrong(path, edit.NO_PLACE, f"add it in your editor, under lamps: - {entry}")
        return Draft(path, before, _encode(before, after), f"- {entry}", None, new)

    def write(self, draft: Draft) -> Taught:
        """Put a draft in the file's place.

        Raises:
            FileError: the file was saved by somebody else since it was read.
            DeviceError: it cannot be written.
        """
        _replace(draft.path, draft.before, draft.after)
        self._steps = [*self._steps[1 - STEPS :], (draft.path, draft.before, draft.after)]
        line = f"written into {draft.path.name}: {draft.written}"
        text = draft.after.decode("utf-8-sig")
        return Taught(True, (line,), draft.written, len(self._steps), draft.mapping, draft.rig, text)

    def undo(self) -> Taught:
        """Take the last lesson back.

        Raises:
            FileError: there is none, or the file was changed since.
            DeviceError: it cannot be written.
        """
        if not self._steps:
            raise FileError([Problem(0, 0, "nothing was taught yet", file="page")])
        path, before, after = self._steps[-1]
        _replace(path, after, before)
        self._steps.pop()
        text = _text(path, before)
        mapping = rig = None
        if path == self._mapping:
            mapping, _ = mapping_from_text(text, self._running, path.name, path.parent)
        else:
            rig, _ = rig_from_text(text, path.name)
        return Taught(True, (f"taken back from {path.name}",), "", len(self._steps), mapping, rig, text)

    def _read(self, path: Path | None, kind: str) -> tuple[Path, bytes, str]:
        if path is None:
            what = f"this show has no {kind} file that can be taught"
            raise FileError([Problem(0, 0, what, "start it with a file of your own", "page")])
        data = _bytes(path)
        return path, data, _text(path, data)


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise _wrong(path, f"this file cannot be read: {error.strerror}") from error


def _text(path: Path, data: bytes) -> str:
    report = Report(path.name)
    text = decode(data, report)
    report.finish()
    return text or ""


def _encode(before: bytes, after: str) -> bytes:
    return (BOM if before.startswith(BOM) else b"") + after.encode()


def _replace(path: Path, expected: bytes, wanted: bytes) -> None:
    if _bytes(path) != expected:
        raise _wrong(path, "the file was changed by somebody else", "nothing was written; try again")
    mode = path.stat().st_mode
    with whole_file(path) as file:
        file.write(wanted)
    with suppress(OSError):
        os.chmod(path, mode & 0o7777)


def _wrong(path: Path, what: str, right: str = "") -> FileError:
    return FileError([Problem(0, 0, what, right, path.name)])


def _owns(name: str, lamp: str) -> bool:
    return bool(name) and (lamp == name or lamp.startswith(f"{name}."))


def _place(owner: MappingNode) -> tuple[float, float]:
    """Where an entry hangs: its `at`, or the origin.

    Raises:
        ValueError: no numbers.
    """
    found = edit.child(owner, "at")
    if found is None:
        return 0.0, 0.0
    try:
        x, y = (float(node.value) for node in found[1].value)
    except (TypeError, ValueError, AttributeError):
        raise ValueError(edit.NO_PLACE) from None
    return x, y
