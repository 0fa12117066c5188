"""Knows: whether a file says the same as before, but for the one thing that was taught.

Must never know: the text of the file.
"""

from __future__ import annotations

from collections.abc import Callable
from collections.abc import Mapping as ReadOnly
from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np

from bridge.shell.page.lesson_text import Lesson
from bridge.values.mapping import Mapping, Trigger
from bridge.values.rig import Lamp, Rig

NEAR = 1e-6


def same_mapping(old: Mapping, new: Mapping) -> bool:
    """True if both say the same, wherever it stands in their files."""
    return bool(_unplaced(old) == _unplaced(new))


def same_but_one_rule(old: Mapping, new: Mapping, lesson: Lesson, rig: Rig) -> bool:
    """True if `new` is `old` with one rule more, at the end, and the rule is what the lesson says."""
    before: Mapping = _unplaced(old)
    after: Mapping = _unplaced(new)
    if lesson.then == "light":
        if not after.keys:
            return False
        rule = after.keys[-1]
        lit = {rig.lamps[lamp].name for lamps in rule.lamps for lamp in lamps}
        meant = rule.notes == (lesson.number,) and lit == set(lesson.lamps) and rule.source == lesson.source
        return meant and after == replace(before, keys=(*before.keys, rule))
    if lesson.then in ("level", "master"):
        if not after.sets:
            return False
        setter = after.sets[-1]
        return (
            setter.what == lesson.then
            and _set_off_by(setter.trigger, lesson)
            and {rig.lamps[lamp].name for lamp in setter.lamps}
            == set(lesson.lamps if lesson.then == "level" else ())
            and after == replace(before, sets=(*before.sets, setter))
        )
    if not after.does:
        return False
    doer = after.does[-1]
    return (
        doer.does == lesson.then
        and doer.look == (lesson.look if lesson.then == "look" else "")
        and _set_off_by(doer.trigger, lesson)
        and after == replace(before, does=(*before.does, doer))
    )


def same_but_moved(old: Rig, new: Rig, moved: Callable[[str], bool], by: tuple[float, float]) -> bool:
    """True if just the lamps that `moved` picks hang elsewhere, all by the same way."""
    if len(old.lamps) != len(new.lamps):
        return False
    for was, now in zip(old.lamps, new.lamps, strict=True):
        way = by if moved(was.name) else (0.0, 0.0)
        right, up = now.at[0] - was.at[0] - way[0], now.at[1] - was.at[1] - way[1]
        if abs(right) > NEAR or abs(up) > NEAR or replace(_bare(now), at=was.at) != _bare(was):
            return False
    return _rest(old) == _rest(new) and old.groups == new.groups


def same_but_one_lamp(old: Rig, new: Rig, name: str) -> bool:
    """True if the lamp, or the head, `name` is new and nothing else is."""
    fresh = [lamp for lamp in new.lamps if lamp.name == name or lamp.name.startswith(f"{name}.")]
    kept = [replace(_bare(lamp), index=0) for lamp in new.lamps if lamp not in fresh]
    return (
        bool(fresh)
        and kept == [replace(_bare(lamp), index=0) for lamp in old.lamps]
        and _rest(old) == _rest(new)
        and set(old.groups) <= set(new.groups)
    )


def _set_off_by(trigger: Trigger, lesson: Lesson) -> bool:
    numbers = (lesson.number,) if lesson.kind in ("note", "control") else ()
    return (trigger.kind, trigger.numbers, trigger.source, trigger.channel) == (
        lesson.kind,
        numbers,
        lesson.source,
        lesson.channel,
    )


def _unplaced(value: Any) -> Any:
    """A value without the lines it and its parts were read from."""
    if is_dataclass(value) and not isinstance(value, type):
        parts = {part.name: _unplaced(getattr(value, part.name)) for part in fields(value) if part.init}
        if type(value).__eq__ is object.__eq__:
            return tuple(parts.values())
        return replace(value, **({**parts, "line": 0} if "line" in parts else parts))
    if isinstance(value, np.ndarray):
        return value.shape, value.tobytes()
    if isinstance(value, tuple):
        return tuple(_unplaced(part) for part in value)
    if isinstance(value, ReadOnly):
        return {name: _unplaced(part) for name, part in value.items()}
    return value


def _bare(lamp: Lamp) -> Lamp:
    return replace(lamp, line=0)


def _rest(rig: Rig) -> Rig:
    bare: Rig = _unplaced(replace(rig, lamps=(), groups={}, grids=()))
    return bare
