"""Knows: what every section of a mapping needs: names of lamps, inputs, feels, and what holds unless given.

Must never know: keys or controls.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from bridge.shell.files.check import check, entries, take
from bridge.shell.files.lamp_names import LampNames
from bridge.shell.files.leaves import Text
from bridge.shell.files.mapping_model import FeelEntry
from bridge.shell.files.nodes import Scalar, Table
from bridge.shell.files.report import Report, quote
from bridge.values.mapping import Curve, Feel


@dataclass(slots=True)
class Shared:
    """What sections share.

    Args:
        inputs: name -> part of a port's name; None for one that could not be read and has been reported.
        feels: name -> feel; None likewise.
        feel: what rules have that name none, and `feel_name` its name; None for one that has been reported.
        heard: inputs that a rule has named so far.
        textures: names of textures. shown: those that a rule has named so far.
        bands: names of the bands that music is heard in, from the lowest up.
    """

    report: Report
    names: LampNames
    middle_c: str
    inputs: Mapping[str, str | None]
    feels: Mapping[str, Feel | None]
    curve: Curve = "linear"
    feel: Feel | None = None
    feel_name: str = ""
    merge: str = "highest"
    heard: set[str] = field(default_factory=set)
    textures: Collection[str] = ()
    shown: set[str] = field(default_factory=set)
    bands: Sequence[str] = ()

    def source(self, name: Scalar | None) -> str:
        """The input a rule names, empty for any; one that is not there is reported."""
        if name is None:
            return ""
        self.heard.add(name.raw)
        if name.raw not in self.inputs:
            self.report.unknown(name, "input", name.raw, self.inputs)
        return name.raw

    def texture(self, name: Scalar, spare: str = "") -> str:
        """The texture a rule names; one that is not there is reported. `spare` is a word for none."""
        self.shown.add(name.raw)
        if spare and name.raw == spare:
            return ""
        if name.raw not in self.textures:
            known = [*self.textures, spare] if spare else self.textures
            self.report.unknown(name, "texture", name.raw, known)
        return name.raw

    def band(self, name: Scalar | None) -> int:
        """The number of the band a rule names, 0 for the lowest; one that is not there is reported."""
        if name is None or name.raw not in self.bands:
            if name is not None:
                self.report.unknown(name, "band", name.raw, self.bands)
            return 0
        return list(self.bands).index(name.raw)

    def feel_of(self, name: Scalar | None) -> Feel | None:
        """The feel a rule names, or what holds unless given; None, reported, for one that is not there."""
        if name is None:
            return self.feel
        if name.raw not in self.feels:
            self.report.unknown(name, "feel", name.raw, self.feels)
        return self.feels.get(name.raw)


def read_inputs(top: Table, report: Report) -> dict[str, str | None]:
    """The section `inputs`."""
    what = Text("part of a port's name")
    return {name.raw: take(what, node, name.raw, report) for name, node in entries(top, "inputs", report)}


def read_feels(top: Table, report: Report) -> dict[str, Feel | None]:
    """The section `feels`, milliseconds turned to seconds."""
    feels: dict[str, Feel | None] = {}
    for name, node in entries(top, "feels", report):
        item = check(FeelEntry, node, report, "a feel")
        if item is None or item.bad:
            feels[name.raw] = None
            continue
        entry = item.value
        feels[name.raw] = Feel(
            entry.attack_ms / 1000.0, entry.decay_ms / 1000.0, entry.sustain, entry.release_ms / 1000.0
        )
    return feels


def warn_unheard(top: Table, shared: Shared) -> None:
    """Warn of inputs that no rule names."""
    for name, _ in entries(top, "inputs", shared.report):
        if name.raw not in shared.heard:
            what = f"no rule listens to input {quote(name.raw)}"
            shared.report.warn(name, what, f"name it in a rule, from: {name.raw}, or take it out")
