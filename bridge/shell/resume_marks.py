"""Knows: what is written of a show for after a bad end: where it was, what stood; how that is told.

Must never know: when it is written, where it is kept, what a mark lights.
"""

from __future__ import annotations

import math
import time
from dataclasses import dataclass, replace
from typing import Any

from bridge.values.events import Mark

VERSION = 1
"""Of what is written; another version's is left alone."""

MOST_MARKS, LONGEST = 10_000, 1000
"""Of what is read back: marks, and letters of a name."""

MOVING = {"look": (0,), "latch": (2,), "texture": (1, 2), "chord": (1,), "tempo": (0,)}
"""Kind of mark -> which of its numbers change with time alone."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a show was, beside its lights.

    Args:
        song: number in the set list from 0, -1 for none; name: what it is called.
        mapping: which of several mappings was in force, -1 where there is one.
    """

    song: int = -1
    name: str = ""
    mapping: int = -1


@dataclass(frozen=True, slots=True)
class Found:
    """What a show that ended badly left: seconds since 1970, where it was, what stood."""

    made: float
    place: Place
    marks: tuple[Mark, ...]


def written(found: Found) -> dict[str, Any]:
    """As JSON can say it."""
    place = found.place
    marks = [[m.what, m.name, m.port, m.channel, m.note, list(m.numbers)] for m in found.marks]
    where = {"song": place.song, "name": place.name, "mapping": place.mapping}
    return {"version": VERSION, "made": found.made, **where, "marks": marks}


def steady(mark: Mark) -> Mark:
    """The mark without what time alone changes."""
    moving = MOVING.get(mark.what)
    if not moving:
        return mark
    return replace(mark, numbers=tuple(n for place, n in enumerate(mark.numbers) if place not in moving))


def parsed(data: dict[str, Any]) -> Found | None:
    """What a mark says; None for another version's, and for anything that is not a mark of ours."""
    if data.get("version") != VERSION:
        return None
    try:
        made = _number(data["made"])
        place = Place(_whole(data["song"]), _text(data["name"]), _whole(data["mapping"]))
        items = data["marks"]
        if not isinstance(items, list) or len(items) > MOST_MARKS:
            return None
        return Found(made, place, tuple(_parsed_mark(item) for item in items))
    except (KeyError, TypeError, ValueError, OverflowError):
        return None


def _parsed_mark(item: Any) -> Mark:
    what, name, port, channel, note, numbers = item
    if not (0 <= _whole(channel) <= 16 and -1 <= _whole(note) <= 127 and len(numbers) <= 16):
        raise ValueError("no such key")
    found = tuple(_number(number) for number in numbers)
    return Mark(_text(what), _text(name), _text(port), channel, note, found)


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ValueError("no number")
    return float(value)


def _whole(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise ValueError("no whole number")
    return value


def _text(value: Any) -> str:
    if not isinstance(value, str) or len(value) > LONGEST:
        raise ValueError("no text")
    return value


def described(found: Found) -> str:
    """What stood, in the words of the player; empty where nothing did."""
    counts: dict[str, int] = {}
    parts = [f"song {found.place.song + 1}, {found.place.name}"] if found.place.song > 0 else []
    textures = []
    for mark in found.marks:
        counts[mark.what] = counts.get(mark.what, 0) + 1
        if mark.what == "set master" and not mark.name:
            parts.append(f"master {100 * mark.level(0):.0f} %")
        elif mark.what == "look" and mark.name:
            parts.append(f"look {mark.name}")
        elif mark.what == "texture":
            textures.append(mark.name)
    parts += [f"{counts['latch']} latched"] if "latch" in counts else []
    parts += [f"texture {name}" for name in textures]
    parts += [_count(counts["chord"], "chord shape")] if "chord" in counts else []
    others = sum(n for what, n in counts.items() if what.startswith("set "))
    others -= sum(mark.what == "set master" and not mark.name for mark in found.marks)
    parts += [_count(others, "setting")] if others else []
    if "dark" in counts:
        parts.append("blacked out, so the lamps stay dark until you play")
    return ", ".join(parts)


def _count(number: int, what: str) -> str:
    return f"{number} {what}" + ("s" if number > 1 else "")


def time_of_day(made: float, now: float) -> str:
    """The time of day, with the date where that is another."""
    try:
        then, today = time.localtime(made), time.localtime(now)
    except (OverflowError, OSError, ValueError):
        return "an unknown time"
    same = then[:3] == today[:3]
    return time.strftime("%H:%M" if same else "%Y-%m-%d %H:%M", then)
