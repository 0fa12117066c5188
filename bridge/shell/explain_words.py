"""Knows: how notes, lamps and slots are said briefly: ranges where they run, groups where they are whole.

Must never know: rules, files, or who reads it.

Notes are named as the mapping names them; their numbers stand beside the names, since keyboards differ.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from bridge.parts.notes import is_white, note_name
from bridge.parts.percussion import percussion_name
from bridge.values.rig import Lamp, Lamps, Rig

SHOWN = 6
"""Pieces of a list that are shown; the rest is counted."""


def runs(numbers: Iterable[int]) -> list[tuple[int, int]]:
    """Numbers as ranges (first, last), ascending, each number once."""
    out: list[tuple[int, int]] = []
    for number in sorted(set(numbers)):
        if out and number == out[-1][1] + 1:
            out[-1] = (out[-1][0], number)
        else:
            out.append((number, number))
    return out


def ranges(numbers: Iterable[int]) -> str:
    """Numbers joined where they run: `1..4, 7, 9..12`."""
    found = runs(numbers)
    return listed([f"{low}" if low == high else f"{low}..{high}" for low, high in found])


def listed(pieces: Sequence[str], most: int = SHOWN) -> str:
    """Pieces with commas, the rest counted."""
    shown = ", ".join(pieces[:most])
    return shown if len(pieces) <= most else f"{shown} and {len(pieces) - most} more"


def note_words(notes: Iterable[int], middle_c: str, drums: bool = False) -> str:
    """Notes by name and number: `C4 (60)`, `C3..B4 (48..71)`, `white C2..B2 (36..47)`.

    Args:
        middle_c: what note 60 is called, C4 or C3.
        drums: they are pads, so that a name of General MIDI helps: `F#2 (42, Closed Hi-Hat)`.
    """
    found = sorted(set(notes))
    if not found:
        return "no key"
    low, high = found[0], found[-1]
    if not drums and len(found) > 2 and found != list(range(low, high + 1)):
        for white, word in ((True, "white"), (False, "black")):
            if found == [note for note in range(low, high + 1) if is_white(note) == white]:
                return f"{word} {note_name(low, middle_c)}..{note_name(high, middle_c)} ({low}..{high})"
    pieces = []
    for first, last in runs(found):
        if last > first + (3 if drums else 0):
            pieces.append(f"{note_name(first, middle_c)}..{note_name(last, middle_c)} ({first}..{last})")
            continue
        for note in range(first, last + 1):
            drum = percussion_name(note) if drums else None
            pieces.append(f"{note_name(note, middle_c)} ({note}{', ' + drum if drum else ''})")
    return listed(pieces, 4)


class LampWords:
    """Names of one rig's lamps."""

    def __init__(self, rig: Rig) -> None:
        self._lamps = rig.lamps
        self._many = len(rig.universes) > 1
        self._groups: dict[frozenset[int], str] = {}
        for name, lamps in rig.groups.items():
            members = frozenset(lamps)
            if len(members) > 1 and (members not in self._groups or self._groups[members] == "all"):
                self._groups[members] = name
        self._large = sorted(self._groups.items(), key=lambda pair: -len(pair[0]))

    def names(self, lamps: Lamps, most: int = SHOWN) -> str:
        """Lamps by the fewest names: groups where they are whole, else one by one; the rest counted."""
        if not lamps:
            return "no lamp"
        left, names = set(lamps), {}
        for members, group in self._large:
            if members <= left:
                left -= members
                names[group] = min(lamps.index(member) for member in members)
        for lamp in left:
            names[self._lamps[lamp].name] = lamps.index(lamp)
        ordered = sorted(names, key=lambda name: names[name])
        count = f" ({len(lamps)} lamps)" if len(lamps) > len(ordered) else ""
        return listed(ordered, most) + count

    def one_each(self, lamps: Lamps) -> str:
        """Lamps that each have a key, in the order of the keys."""
        group = self._groups.get(frozenset(lamps)) if len(lamps) > 2 else None
        if group is not None:
            return f"{group}, one each ({len(lamps)} lamps)"
        names = [self._lamps[lamp].name for lamp in lamps]
        return listed(names, 3) if len(names) <= 3 else f"{names[0]}, {names[1]} … {names[-1]}, one each"

    def slots(self, lamps: Lamps) -> str:
        """Slots in use by lamps, joined where they run, by universe where there are several."""
        by_universe: dict[int, list[int]] = {}
        for lamp in (self._lamps[index] for index in lamps):
            by_universe.setdefault(lamp.universe, []).extend(_slots(lamp))
        texts = []
        for universe, slots in sorted(by_universe.items()):
            texts.append((f"universe {universe}: " if self._many else "") + ranges(slots))
        return "; ".join(texts)

    def follow(self, first: int, second: int) -> int | None:
        """Slots from one lamp to the next; None where they are on different universes."""
        one, other = self._lamps[first], self._lamps[second]
        return other.slot - one.slot if one.universe == other.universe else None

    def slots_each(self, lamps: Lamps) -> str:
        """Slots in the order of the keys, for lamps whose slots run evenly."""
        first, last = self._lamps[lamps[0]], self._lamps[lamps[-1]]
        where = f"universe {first.universe}: " if self._many else ""
        if len(lamps) == 1:
            return where + "+".join(str(slot) for slot in _slots(first))
        step = self.follow(lamps[0], lamps[1]) or 0
        if abs(step) == 1:
            return f"{where}{first.slot}..{last.slot}"
        if len(lamps) == 2:
            return f"{where}{first.slot}, {last.slot}"
        return f"{where}{first.slot}, {first.slot + step} … {last.slot}"


def _slots(lamp: Lamp) -> range:
    return range(lamp.slot, lamp.slot + lamp.bits // 8)


def who(source: str, channel: int | None) -> str:
    """Whom a rule listens to."""
    said = source or "any input"
    return said if channel is None else f"{said}, channel {channel}"


def span(between: tuple[float, float], unit: str = "") -> str:
    """What the two ends of a touch or a knob give."""
    low, high = between
    return f"{low:g}{unit} to {high:g}{unit}"
