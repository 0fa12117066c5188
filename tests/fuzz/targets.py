"""Knows: every harness by name, with the seeds it begins from and the words that mean something to it.

Must never know: how inputs are made or judged.

A harness takes any bytes and returns; whatever it raises is an escape: law 6 promises a value or the one
named error, and the harness has taken care of that one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bridge.shell.files import KINDS, schema_of
from tests.fuzz import files_target, media_target, page_target, takes_target, wire_target

CORPUS = Path(__file__).parent / "corpus"


@dataclass(frozen=True, slots=True)
class Target:
    """A harness.

    Args:
        run: takes an input. seeds: inputs that reach far. longest: bytes of an input.
        text: inputs are lines of words, so that words and lines are worth moving.
    """

    run: Callable[[bytes], None]
    seeds: Callable[[], list[bytes]]
    longest: int = 4096
    text: bool = False


TARGETS: dict[str, Target] = {
    "files": Target(files_target.files, files_target.files_seeds, 12_000, True),
    "sets": Target(files_target.sets, files_target.sets_seeds, 2048, True),
    "takes": Target(takes_target.takes, takes_target.takes_seeds),
    "rows": Target(takes_target.rows, takes_target.rows_seeds, 1024),
    "song": Target(wire_target.song, wire_target.song_seeds),
    "midi": Target(wire_target.midi, wire_target.midi_seeds, 256),
    "datagrams": Target(wire_target.datagrams, wire_target.datagram_seeds, 1200),
    "pictures": Target(media_target.pictures, media_target.picture_seeds, 3000),
    "sounds": Target(media_target.sounds, media_target.sound_seeds, 6000),
    "page": Target(page_target.page, page_target.page_seeds, 2048, True),
    "door": Target(page_target.door, page_target.door_seeds, 512, True),
}


def seeds_of(name: str) -> list[bytes]:
    """The seeds of a target, and what of its corpus was kept."""
    kept = sorted((CORPUS / name).glob("*")) if (CORPUS / name).is_dir() else []
    return [*TARGETS[name].seeds(), *(path.read_bytes() for path in kept)]


def words() -> list[str]:
    """Keys and words of both file languages and odd values, for harnesses that take text."""
    found: set[str] = set()

    def walk(node: Any) -> None:
        if isinstance(node, list):
            for value in node:
                walk(value)
        elif isinstance(node, dict):
            found.update(node.get("properties", ()))
            found.update(str(value) for value in [*node.get("enum", ()), node.get("const", "")])
            for value in node.values():
                walk(value)

    for kind in KINDS:
        walk(schema_of(kind))
    odd = (
        "0 -1 1 1e308 -1e308 1e-300 1e999 .inf .nan 999999999999 4294967296 0.0001 127 128 512 513 63999"
        " '' ~ [] {} [[]] on"
    )
    names = (
        "all roof roof.1 '*.red' '*' west door left C3..B4 C-1..G9 white black &a *a - ? : | > ! !!str %% ---"
    )
    return sorted(found - {""}) + odd.split() + names.split()
