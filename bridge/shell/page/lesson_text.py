"""Knows: what is written for a lesson: the section of the file, and the keys of its entry.

Must never know: where in a file it goes, or files at all.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from bridge.values.rig import Rig


@dataclass(frozen=True, slots=True)
class Lesson:
    """What was pressed, and what it shall do.

    Args:
        kind: note, control, bend or pressure. number: of the note or controller.
        then: light, level, master, blackout, release_all or look.
        lamps: names of lamps. look: a look's name, empty for none.
        source: a name under `inputs`, empty for any. channel: 1..16, None for any.
        mode, feel, between: of a key that lights lamps; `between` also of a level.
    """

    kind: str
    number: int
    then: str
    lamps: tuple[str, ...] = ()
    look: str = ""
    source: str = ""
    channel: int | None = None
    mode: str = "hold"
    feel: str = ""
    between: tuple[float, float] = (0.0, 1.0)


@dataclass(frozen=True, slots=True)
class NewLamp:
    """A lamp to be patched: its slot 1..512, metres to the right and up, names of the rig file or empty."""

    name: str
    slot: int
    at: tuple[float, float]
    universe: int = 1
    kind: str = ""
    supply: str = ""
    colour: str = ""


def rule_entry(lesson: Lesson, note: str, rig: Rig) -> tuple[str, dict[str, Any]]:
    """The section and the entry for a lesson.

    Args:
        note: the note's name as the file spells it.

    Raises:
        ValueError: the lesson makes no rule; says why.
    """
    lights = lesson.then in ("light", "level")
    if lights and not lesson.lamps:
        raise ValueError("choose a lamp first")
    heard: dict[str, Any] = {"source": lesson.source, "channel": lesson.channel}
    if lesson.then == "light":
        if lesson.kind != "note":
            raise ValueError("a knob sets a level; only a key or pad lights lamps for as long as it is held")
        fields = {
            "notes": note,
            **_heard(heard),
            "lamps": names_for(lesson.lamps, rig),
            "mode": lesson.mode if lesson.mode != "hold" else None,
            "feel": lesson.feel or None,
            "between": _between(lesson),
        }
        return "keys", _given(fields)
    pressed: dict[str, Any] = {lesson.kind: True}
    if lesson.kind in ("note", "control"):
        pressed = {"notes": note} if lesson.kind == "note" else {"control": lesson.number}
    if lesson.then in ("level", "master"):
        if lesson.kind == "note":
            raise ValueError("a key lights lamps; only a knob, wheel or pedal sets a level")
        fields = {**pressed, **_heard(heard), "sets": lesson.then}
        if lesson.then == "level":
            fields |= {"lamps": names_for(lesson.lamps, rig), "between": _between(lesson)}
        return "controls", _given(fields)
    fields = {**pressed, **_heard(heard), "does": lesson.then}
    if lesson.then == "look":
        fields["look"] = lesson.look or "none"
    return "controls", _given(fields)


def lamp_entry(lamp: NewLamp) -> dict[str, Any]:
    """The entry of a new lamp."""
    fields = {
        "name": lamp.name,
        "type": lamp.kind or None,
        "supply": lamp.supply or None,
        "at": [round(lamp.at[0], 2), round(lamp.at[1], 2)],
        "universe": lamp.universe if lamp.universe != 1 else None,
        "slot": lamp.slot,
        "colour": lamp.colour or None,
    }
    if not lamp.name.isprintable():
        raise ValueError("the name has characters that cannot be seen")
    return _given(fields)


def names_for(lamps: Iterable[str], rig: Rig) -> str | list[str]:
    """The lamps as a player would write them: the group that has just these, or one by one.

    Raises:
        ValueError: one is not there.
    """
    index = {lamp.name: lamp.index for lamp in rig.lamps}
    wanted = dict.fromkeys(lamps)
    if missing := [name for name in wanted if name not in index]:
        raise ValueError(f"there is no lamp {missing[0]!r}")
    if len(wanted) == 1:
        return next(iter(wanted))
    lamps_of = {index[name] for name in wanted}
    groups = [name for name, members in rig.groups.items() if set(members) == lamps_of]
    return min(groups, key=len) if groups else list(wanted)


def _heard(fields: dict[str, Any]) -> dict[str, Any]:
    return {"from": fields["source"] or None, "channel": fields["channel"]}


def _between(lesson: Lesson) -> list[float] | None:
    low, high = sorted(lesson.between)
    return [low, high] if (low, high) != (0.0, 1.0) else None


def _given(fields: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in fields.items() if value is not None}
