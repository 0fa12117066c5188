"""Knows: how a mapping file becomes a Mapping for one rig, all its mistakes found at once.

Must never know: devices, or how any one section is read.
"""

from __future__ import annotations

import os

from bridge.shell.files.check import check
from bridge.shell.files.lamp_names import names_of
from bridge.shell.files.mapping_chords import read_chords
from bridge.shell.files.mapping_controls import read_controls
from bridge.shell.files.mapping_keys import read_keys
from bridge.shell.files.mapping_looks import read_looks
from bridge.shell.files.mapping_model import MappingFile
from bridge.shell.files.mapping_shared import Shared, read_feels, read_inputs, warn_unheard
from bridge.shell.files.mapping_textures import read_texture_keys, read_textures, warn_unseen
from bridge.shell.files.nodes import Table
from bridge.shell.files.report import Report
from bridge.shell.files.source import read_file
from bridge.shell.files.tree import parse
from bridge.values.errors import Problem
from bridge.values.mapping import Feel, Mapping
from bridge.values.rig import Rig

SECTIONS = frozenset(("inputs", "feels", "keys", "looks", "controls", "chords", "textures"))


def read_mapping(path: str | os.PathLike[str], rig: Rig) -> tuple[Mapping, list[Problem]]:
    """Read a mapping file for a rig.

    Returns:
        The mapping, and warnings about what is odd in it.

    Raises:
        FileError: with everything that is wrong, in the order of the file.
    """
    report = Report(os.fspath(path))
    text = read_file(path, report)
    return _mapping(text, rig, report)


def mapping_from_text(text: str, rig: Rig, name: str = "mapping") -> tuple[Mapping, list[Problem]]:
    """Read a mapping from the text of its file, which messages call `name`; else as `read_mapping`."""
    return _mapping(text, rig, Report(name))


def _mapping(text: str | None, rig: Rig, report: Report) -> tuple[Mapping, list[Problem]]:
    top = parse(text, report) if text is not None else None
    mapping = _build(top, rig, report) if top is not None else Mapping()
    return mapping, report.finish()


def _build(top: Table, rig: Rig, report: Report) -> Mapping:
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
    textures = read_textures(top, rig, shared)
    keys = read_keys(top, rig.lamps, shared)
    texture_keys = read_texture_keys(top, textures, shared)
    sets, does = read_controls(top, looks, shared)
    chords, window = read_chords(top, rig, shared)
    warn_unheard(top, shared)
    warn_unseen(top, textures, shared)
    if not (keys or sets or does or chords or textures):
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
        textures={name: texture for name, texture in textures.items() if texture is not None},
        texture_keys=texture_keys,
    )
