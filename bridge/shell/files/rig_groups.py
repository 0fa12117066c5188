"""Knows: which lamps the groups of a rig file stand for, groups of groups included.

Must never know: slots, outputs, mappings.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from bridge.shell.files.check import entries, take
from bridge.shell.files.lamp_names import ALL, LampNames
from bridge.shell.files.nodes import Scalar, Table
from bridge.shell.files.report import Report, quote
from bridge.shell.files.rig_leaves import Member, Members
from bridge.values.rig import Lamp, Lamps


def read_groups(top: Table, lamps: Sequence[Lamp], names: LampNames, report: Report) -> None:
    """Add the section `groups` to the names of a rig."""
    read: dict[str, tuple[Member, ...]] = {}
    for name, node in entries(top, "groups", report):
        members = take(Members(), node, name.raw, report)
        if _name_is_free(name, lamps, names, report) and members is not None:
            read[name.raw] = members
        elif name.raw not in names.groups and name.raw not in names.lamps:
            names.groups[name.raw] = ()
    _Circles(read, lamps, names, report).resolve()


def _name_is_free(name: Scalar, lamps: Sequence[Lamp], names: LampNames, report: Report) -> bool:
    right = "give the group another name"
    if name.raw == ALL:
        report.error(name, f"the group '{ALL}' is always there: every lamp", right)
    elif name.raw in names.lamps:
        line = lamps[names.lamps[name.raw]].line
        report.error(name, f"group {quote(name.raw)} has the name of the lamp on line {line}", right)
    elif name.raw in names.below:
        line = lamps[names.below[name.raw][0]].line
        report.error(name, f"group {quote(name.raw)} has the name of the lamps of line {line}", right)
    else:
        return True
    return False


@dataclass(slots=True)
class _Circles:
    """Groups on their way to lamps. Without recursion: a file may have a chain of thousands."""

    read: dict[str, tuple[Member, ...]]
    lamps: Sequence[Lamp]
    names: LampNames
    report: Report
    path: list[tuple[str, Iterator[Member]]] = field(default_factory=list)
    on_path: set[str] = field(default_factory=set)

    def resolve(self) -> None:
        for name in self.read:
            self._enter(name)
            while self.path:
                self._step()
        for name in self.read:
            self.names.groups[name] = self.names.groups.pop(name)

    def _enter(self, name: str) -> None:
        if name not in self.names.groups:
            self.path.append((name, iter(self.read[name])))
            self.on_path.add(name)

    def _step(self) -> None:
        """Look at the next mention of the group at the end of the path."""
        name, rest = self.path[-1]
        member = next(rest, None)
        if member is None:
            self.path.pop()
            self.on_path.discard(name)
            self.names.groups[name] = self._lamps_of(name)
        elif member.name in self.on_path:
            circle = [step for step, _ in self.path]
            circle = [*circle[circle.index(member.name) :], member.name]
            shown = " > ".join(circle if len(circle) <= 12 else [*circle[:6], "…", *circle[-5:]])
            self.report.error(member.place, f"groups in a circle: {shown}", "take one of them out")
        elif member.name in self.read:
            self._enter(member.name)

    def _lamps_of(self, name: str) -> Lamps:
        out: dict[int, None] = {}
        seen: set[tuple[str, str]] = set()
        for member in self.read[name]:
            if (member.name, member.colour) in seen:
                continue
            seen.add((member.name, member.colour))
            if member.colour:
                found: Lamps | None = self._coloured(member)
            elif member.name in self.read and member.name not in self.names.groups:
                found = ()  # in a circle, reported
            else:
                found = self.names.find(member.name)
            if found is None:
                self.names.unknown(member.place, self.report)
            out.update(dict.fromkeys(found or ()))
        return tuple(out)

    def _coloured(self, member: Member) -> Lamps:
        found = tuple(lamp.index for lamp in self.lamps if lamp.colour == member.colour)
        if not found and not self.names.broken:
            known = sorted({lamp.colour for lamp in self.lamps})
            near = self.report.near(member.colour, known)
            self.report.error(member.place, f"no lamp is {member.colour}", near)
        return found
