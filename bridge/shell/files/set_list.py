"""Knows: how a set list file becomes a SetList, all its mistakes found at once; which files are missing.

Must never know: what is in the files it names, or how a song is played.
"""

from __future__ import annotations

import os
from pathlib import Path

from bridge.shell.files.check import Item, check, items
from bridge.shell.files.nodes import Node, Table
from bridge.shell.files.report import Placed, Report, quote
from bridge.shell.files.set_list_model import SetFile, SongEntry
from bridge.shell.files.source import read_file
from bridge.shell.files.tree import parse
from bridge.values.errors import Problem
from bridge.values.set_list import FILES, SetList, SetSong

NEIGHBOURS = 2000
"""Names of a folder that are looked at for what was probably meant."""


def read_set_list(path: str | os.PathLike[str], skip_missing: bool = False) -> tuple[SetList, list[Problem]]:
    """Read a set list file.

    Args:
        skip_missing: a song whose file is not there is a warning and is marked, rather than a mistake.

    Returns:
        The set list, and warnings about what is odd in it.

    Raises:
        FileError: with everything that is wrong, in the order of the file.
    """
    report = Report(os.fspath(path))
    text = read_file(path, report)
    return _set_list(text, Path(path).parent, skip_missing, report)


def set_list_from_text(
    text: str, folder: str | os.PathLike[str], name: str = "set list", skip_missing: bool = False
) -> tuple[SetList, list[Problem]]:
    """Read a set list from the text of its file, which messages call `name`; else as `read_set_list`."""
    return _set_list(text, Path(folder), skip_missing, Report(name))


def _set_list(
    text: str | None, folder: Path, skip_missing: bool, report: Report
) -> tuple[SetList, list[Problem]]:
    top = parse(text, report) if text is not None else None
    found = _build(top, folder, skip_missing, report) if top is not None else SetList()
    return found, report.finish()


def _build(top: Table, folder: Path, skip_missing: bool, report: Report) -> SetList:
    head = check(SetFile, top.without({"songs"}), report, "a set list")
    finder = _Files(folder, skip_missing, report)
    songs = [song for node in items(top, "songs", report) if (song := _song(node, finder, report))]
    if not songs and not report.failed:
        report.warn(top, "the set list has no songs", "add some under 'songs:', each begun with '- name: …'")
    return SetList(head.value.set if head else "", tuple(songs), report.file)


def _song(node: Node, files: _Files, report: Report) -> SetSong | None:
    item = check(SongEntry, node, report, "a song")
    if item is None:
        return None
    entry = item.value
    if entry.midi and entry.take:
        report.error(
            item.node.keys_at["take"],
            f"the song {quote(entry.name)} has both a midi file and a take to play its lamps",
            "keep one of them: a take holds the notes that were played",
        )
    if "offset_ms" in item.node and item.good("offset_ms", "song", "take") and not (entry.song or entry.take):
        report.warn(
            item.node.keys_at["offset_ms"],
            f"the song {quote(entry.name)} has an offset_ms and no sound to be in time with",
            "give 'song:', or take it out",
        )
    found = {key: files.find(item, key) for key in FILES}
    return SetSong(
        name=entry.name,
        offset=entry.offset_ms / 1000.0,
        look=entry.look,
        missing=tuple(key for key, (_, there) in found.items() if not there),
        places={"name": _place(item.node), **{key: _place(value) for key, value in item.node.items()}},
        **{key: path for key, (path, _) in found.items()},
    )


def _place(placed: Placed) -> tuple[int, int]:
    return placed.line, placed.column


class _Files:
    """Finds the files that songs name; the same one is looked for once."""

    def __init__(self, folder: Path, skip_missing: bool, report: Report) -> None:
        self._folder, self._skip, self._report = folder, skip_missing, report
        self._flaws: dict[str, tuple[str, str] | None] = {}

    def find(self, item: Item[SongEntry], key: str) -> tuple[str, bool]:
        """The path of the file under `key`, empty for none, and False where it is not there."""
        written: str = getattr(item.value, key)
        if not written:
            return "", True
        path = str(self._folder / written)
        if path not in self._flaws:
            self._flaws[path] = self._flaw(Path(path), written)
        flaw = self._flaws[path]
        if flaw is None:
            return path, True
        what, right = flaw
        place = item.node[key]
        if self._skip:
            what = f"the song {quote(item.value.name)} is left out: {key}: {what}"
            self._report.warn(place, what, right)
        else:
            self._report.error(place, f"{key}: {what}", right)
        return path, False

    def _flaw(self, path: Path, written: str) -> tuple[str, str] | None:
        """What is wrong with a path and what would be right; None for a file that is there."""
        try:
            if path.is_file():
                with path.open("rb"):
                    return None
            if path.is_dir():
                return f"{quote(written)} is a folder", "give the name of the file in it"
            if path.exists():
                return f"{quote(written)} is not a plain file", "give the name of a file"
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or error
            return f"{quote(written)} cannot be read: {reason}", "check its name and who may read it"
        return f"there is no file {quote(written)}", self._meant(path, written)

    def _meant(self, path: Path, written: str) -> str:
        if "\\" in written and os.sep == "/":
            return "write folders with '/', which every system understands"
        try:
            names = sorted(os.listdir(path.parent))[:NEIGHBOURS]
        except (OSError, ValueError):
            return f"there is no folder {quote(str(Path(written).parent))} either"
        near = self._report.meant(path.name, names)
        where = "a path is taken from the folder of the set list"
        return f"{near} {where}".strip()
