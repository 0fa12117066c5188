"""Knows: what a name means: a lamp, all lamps below it, a group, or what `*` matches.

Must never know: slots, notes, or which rule asks.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from bridge.shell.files.nodes import Scalar
from bridge.shell.files.report import Report, listed, quote
from bridge.values.rig import Lamps, Rig

ALL = "all"
"""The group that is always there: every lamp, in the order of the rig."""


class LampNames:
    """Names of one rig.

    Args:
        lamps: names of the lamps by index.
        groups: other names and the lamps they stand for.
        broken: names of lamps and grids that could not be read and have been reported; they and what may be
            below them are known, and stand for nothing.
    """

    def __init__(
        self, lamps: Iterable[str], groups: Mapping[str, Lamps] | None = None, broken: Iterable[str] = ()
    ) -> None:
        self.lamps = {name: index for index, name in enumerate(lamps)}
        self.below = _below(self.lamps)
        self.groups: dict[str, Lamps] = {ALL: tuple(self.lamps.values()), **self.below, **(groups or {})}
        self.broken = set(broken)
        self._asked: dict[str, Lamps | None] = {}

    def find(self, name: str) -> Lamps | None:
        """The lamps a name stands for, in the order of the rig or of the group; None for an unknown name."""
        if name in self.lamps:
            return (self.lamps[name],)
        if name in self.groups:
            return self.groups[name]
        if name not in self._asked:
            self._asked[name] = self._matching(name)
        return self._asked[name]

    def resolve(self, names: Iterable[Scalar], report: Report) -> Lamps:
        """The lamps that names stand for: in the order of the names, each lamp where it is mentioned first.

        Names that stand for nothing are reported.
        """
        out: dict[int, None] = {}
        seen: set[str] = set()
        for name in names:
            if name.raw in seen:
                continue
            seen.add(name.raw)
            found = self.find(name.raw)
            if found is None:
                self.unknown(name, report)
            else:
                out.update(dict.fromkeys(found))
        return tuple(out)

    def unknown(self, name: Scalar, report: Report) -> None:
        """Report a name that stands for nothing."""
        stars = "*" in name.raw
        what = (
            f"{quote(name.raw)} matches no lamp" if stars else f"no lamp or group is called {quote(name.raw)}"
        )
        if not self.lamps or report.full:
            report.error(name, what, "the rig has no lamps")
            return
        meant = "" if stars else report.meant(name.raw, [*self.groups, *self.lamps])
        report.error(name, what, f"{meant} known: {self._sample()}".strip())

    def _sample(self) -> str:
        """Groups and lamps at the top of the names, a few of each."""
        tops = [name for name in (*self.groups, *self.lamps) if "." not in name] or list(self.lamps)
        return listed(tops, 12)

    def _matching(self, name: str) -> Lamps | None:
        parts = name.split(".")
        if "*" in parts:
            found = tuple(index for lamp, index in self.lamps.items() if _matches(lamp.split("."), parts))
            if found:
                return found
            return () if self.broken else None
        near = any(_under(name, other) or _under(other, name) for other in self.broken)
        return () if near else None


def names_of(rig: Rig) -> LampNames:
    """The names a mapping can use."""
    return LampNames((lamp.name for lamp in rig.lamps), rig.groups)


def _below(lamps: Mapping[str, int]) -> dict[str, Lamps]:
    """Every beginning of a lamp's name, up to a dot, and the lamps below it."""
    found: dict[str, list[int]] = {}
    for name, index in lamps.items():
        parts = name.split(".")
        for count in range(1, len(parts)):
            found.setdefault(".".join(parts[:count]), []).append(index)
    return {name: tuple(indices) for name, indices in found.items()}


def _matches(parts: list[str], pattern: list[str]) -> bool:
    """True if a lamp's name begins as the pattern says."""
    return len(parts) >= len(pattern) and all(
        wanted in ("*", part) for wanted, part in zip(pattern, parts, strict=False)
    )


def _under(name: str, top: str) -> bool:
    return name == top or name.startswith(top + ".")
