"""Knows: how a mapping file becomes a Mapping for one rig, all its mistakes found at once.

Must never know: devices, or how any one section is read.
"""

from __future__ import annotations

import os
from pathlib import Path

from bridge.shell.files.check import check
from bridge.shell.files.lamp_names import names_of
from bridge.shell.files.mapping_chords import read_chords
from bridge.shell.files.mapping_controls import read_controls
from bridge.shell.files.mapping_keys import read_keys
from bridge.shell.files.mapping_looks import read_looks
from bridge.shell.files.mapping_model import MappingFile
from bridge.shell.files.mapping_shared import Shared, read_feels, read_inputs, warn_unheard
from bridge.shell.files.mapping_sound import read_hearing, read_sound, read_timing
from bridge.shell.files.mapping_textures import Pictures, read_texture_keys, read_textures, warn_unseen
from bridge.shell.files.nodes import Table
from bridge.shell.files.report import Report
from bridge.shell.files.source import read_file
from bridge.shell.files.tree import parse
from bridge.values.errors import Problem
from bridge.values.mapping import Feel, Mapping
from bridge.values.rig import Rig

SECTIONS = frozenset(("inputs", "feels", "keys", "looks", "controls", "chords", "textures", "sound", "time"))


def read_mapping(path: str | os.PathLike[str], rig: Rig) -> tuple[Mapping, list[Problem]]:
    """Read a mapping file for a rig.

    Returns:
        The mapping, and warnings about what is odd in it.

    Raises:
        FileError: with everything that is wrong, in the order of the file.
    """
    report = Report(os.fspath(path))
    text = read_file(path, report)
    return _mapping(text, rig, report, Pictures(Path(path).parent))


def mapping_from_text(
    text: str, rig: Rig, name: str = "mapping", folder: str | os.PathLike[str] = ".", strict: bool = True
) -> tuple[Mapping, list[Problem]]:
    """Read a mapping from the text of its file; else as `read_mapping`.

    Args:
        name: what messages call it.
        folder: from where its pictures are named.
        strict: False makes a warning of a picture that cannot be used, and leaves its texture out: a take
            keeps the text of a mapping and not its pictures.
    """
    return _mapping(text, rig, Report(name), Pictures(Path(folder), strict))


def middle_c_of(text: str) -> str:
    """What the text of a mapping calls note 60; C4 where it does not say so, or cannot be read."""
    report = Report("mapping")
    top = parse(text, report)
    head = check(MappingFile, top.without(SECTIONS), report, "a mapping") if top is not None else None
    return head.value.middle_c if head else "C4"


def _mapping(text: str | None, rig: Rig, report: Report, pictures: Pictures) -> tuple[Mapping, list[Problem]]:
    top = parse(text, report) if text is not None else None
    mapping = _build(top, rig, report, pictures) if top is not None else Mapping()
    return mapping, report.finish()


def _build(top: Table, rig: Rig, report: Report, pictures: Pictures) -> Mapping:
    head = check(MappingFile, top.without(SECTIONS), report, "a mapping")
    file = head.value if head else MappingFile.model_validate({})
    feels = read_feels(top, report)
    shared = Shared(report, names_of(rig), file.middle_c, read_inputs(top, report), feels)
    shared.curve, shared.merge = file.curve, file.merge
    if file.feel is not None:
        shared.feel, shared.feel_name = shared.feel_of(file.feel), file.feel.raw
    elif head and head.good("feel"):
        shared.feel = Feel()
    looks = read_looks(top, shared.names, report)
    textures = read_textures(top, rig, shared, pictures)
    keys = read_keys(top, rig.lamps, shared)
    texture_keys = read_texture_keys(top, textures, shared)
    hearing = read_hearing(top, shared)
    sound = read_sound(top, rig, shared)
    timing = read_timing(top, shared)
    sets, does = read_controls(top, looks, shared)
    chords, window = read_chords(top, rig, shared)
    warn_unheard(top, shared)
    warn_unseen(top, textures, shared)
    if not (keys or sets or does or chords or textures or sound):
        report.warn(top, "nothing in this mapping plays a lamp", "add rules under 'keys:'")
    return Mapping(
        name=file.mapping,
        inputs={name: part for name, part in shared.inputs.items() if part is not None},
        feels={name: feel for name, feel in feels.items() if feel is not None},
        keys=keys,
        looks=looks,
        sets=sets,
        does=does,
        chords=chords,
        window=window,
        tempo=file.tempo,
        thru=file.thru,
        hearing=hearing,
        sound=sound,
        timing=timing,
        textures={name: texture for name, texture in textures.items() if texture is not None},
        texture_keys=texture_keys,
        middle_c=file.middle_c,
    )
