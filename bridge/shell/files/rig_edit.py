"""Knows: how a rig file is given other slots, or an output, with every comment and letter else kept.

Must never know: why the slots are others; disks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from bridge.shell.files.edit import EditError, Edits
from bridge.shell.files.nodes import Listing, Node, Scalar, Table
from bridge.shell.files.report import Report
from bridge.shell.files.rig import rig_from_text
from bridge.shell.files.tree import parse
from bridge.values.errors import FileError
from bridge.values.frame import SLOTS
from bridge.values.rig import Decoder, Lamp, Rig
from bridge.values.wiring import Slot


def with_slots(text: str, rig: Rig, hangs: Mapping[int, Slot], starts: Mapping[str, Slot]) -> str:
    """The text of a rig file in which every lamp has the slot where it hangs.

    Args:
        text: the file that `rig` was read from.
        hangs: universe and slot of every lamp by its index. starts: those of decoders that answer elsewhere.

    Raises:
        EditError: it cannot be said by other slots, or not in this file word by word; says why.
    """
    top = _tree(text)
    edits = Edits(text)
    for lamp in rig.lamps:
        universe, slot = hangs[lamp.index]
        if universe != lamp.universe:
            raise EditError(
                f"{lamp.name} answers in universe {universe}: give its entry that universe by hand"
            )
        if not 1 <= slot <= SLOTS - lamp.bits // 16:
            raise EditError(f"{lamp.name} would need slot {slot}; a universe has 1 to {SLOTS}")
    for section, change in (("lamps", _lamp), ("grids", _grid)):
        for entry in _entries(top, section):
            name = entry.get("name")
            below = f"{name.raw}." if isinstance(name, Scalar) else ""
            mine = [
                lamp
                for lamp in rig.lamps
                if isinstance(name, Scalar) and (lamp.name == name.raw or lamp.name.startswith(below))
            ]
            if any(hangs[lamp.index][1] != lamp.slot for lamp in mine):
                change(edits, entry, mine, {lamp.index: hangs[lamp.index][1] for lamp in mine}, below)
    _decoders(edits, top, starts)
    new = edits.done()
    _prove(new, rig, hangs, starts)
    return new


def with_output(text: str, line: str) -> str:
    """The text of a rig file with one more output, written `{kind: …}`.

    Raises:
        EditError: the file cannot be changed so.
    """
    top = _tree(text)
    edits = Edits(text)
    outputs = top.get("outputs")
    if isinstance(outputs, Listing) and outputs:
        if edits.letter(outputs) == "[":
            edits.insert(outputs[0], f"{line}, ")
        else:
            edits.insert(outputs, f"- {line}\n" + " " * (outputs.column - 1))
        new = edits.done()
    elif outputs is None:
        new = text.rstrip("\r\n") + f"\n\noutputs:\n  - {line}\n"
    else:
        raise EditError(f"line {outputs.line}: outputs is there, but holds none")
    if len(_read(new).outputs) != len(_read(text).outputs) + 1:
        raise EditError("the file would not say what it should")
    return new


def _tree(text: str) -> Table:
    top = parse(text, Report("rig"))
    if top is None:
        raise EditError("the file is no longer what was read")
    return top


def _entries(top: Table, section: str) -> list[Table]:
    listed: Node | None = top.get(section)
    return [node for node in listed if isinstance(node, Table)] if isinstance(listed, Listing) else []


def _lamp(edits: Edits, entry: Table, lamps: Sequence[Lamp], slots: Mapping[int, int], below: str) -> None:
    many, one = entry.get("slots"), entry.get("slot")
    if isinstance(many, Table):
        for lamp in lamps:
            word = many[lamp.name.removeprefix(below)]
            if isinstance(word, Scalar) and slots[lamp.index] != lamp.slot:
                edits.replace(word, str(slots[lamp.index]))
        return
    shifts = {slots[lamp.index] - lamp.slot for lamp in lamps}
    if isinstance(one, Scalar) and len(shifts) == 1:
        edits.replace(one, str(_whole(one) + shifts.pop()))
        return
    each = ", ".join(f"{_key(lamp.name.removeprefix(below))}: {slots[lamp.index]}" for lamp in lamps)
    edits.replace_pair(entry, "slot", f"slots: {{{each}}}")


def _grid(edits: Edits, entry: Table, lamps: Sequence[Lamp], slots: Mapping[int, int], below: str) -> None:
    # Lamps of a rig stand in the order in which a grid's slots run, the lights of a head together.
    shifts: dict[str, int] = {}
    for lamp in lamps:
        cell = ".".join(lamp.name.removeprefix(below).split(".")[:2])
        by = slots[lamp.index] - lamp.slot
        if shifts.setdefault(cell, by) != by:
            raise EditError(
                f"the lights of {below}{cell} are crossed among themselves, which a grid cannot say: "
                "write that head under lamps:, with slots of its own"
            )
    many, one = entry.get("slots"), entry.get("slot")
    if isinstance(many, Listing):
        for word, by in zip(many, shifts.values(), strict=True):
            if isinstance(word, Scalar) and by:
                edits.replace(word, str(_whole(word) + by))
    elif isinstance(one, Scalar) and len(set(shifts.values())) == 1:
        edits.replace(one, str(_whole(one) + next(iter(shifts.values()))))
    elif isinstance(one, Scalar):
        step = (max(lamp.slot + lamp.bits // 8 for lamp in lamps) - _whole(one)) // len(shifts)
        firsts = [str(_whole(one) + number * step + by) for number, by in enumerate(shifts.values())]
        edits.replace_pair(entry, "slot", f"slots: [{', '.join(firsts)}]")


def _decoders(edits: Edits, top: Table, starts: Mapping[str, Slot]) -> None:
    section = top.get("decoders")
    for name, (_universe, start) in starts.items():
        box = section.get(name) if isinstance(section, Table) else None
        if not isinstance(box, Table):
            raise EditError(f"decoder {name} is not in the file as it was read")
        word = box.get("start")
        if isinstance(word, Scalar):
            edits.replace(word, str(start))
        else:
            edits.insert_pair(box, f"start: {start}")


def _whole(word: Scalar) -> int:
    if not isinstance(word.value, int):
        raise EditError(f"line {word.line}: {word.raw} is no slot")
    return word.value


def _key(part: str) -> str:
    """A part's name as a key between braces."""
    return part if part.isidentifier() else "'" + part.replace("'", "''") + "'"


def _read(text: str) -> Rig:
    try:
        return rig_from_text(text)[0]
    except FileError as error:
        raise EditError(f"the file would then be wrong: {error.problems[0]}") from None


def _prove(text: str, rig: Rig, hangs: Mapping[int, Slot], starts: Mapping[str, Slot]) -> None:
    """Fail unless the new text says just what it should."""
    made = _read(text)
    wanted = [replace(lamp, slot=hangs[lamp.index][1], line=0) for lamp in rig.lamps]
    boxes = [_moved(box, starts) for box in rig.decoders]
    if [replace(lamp, line=0) for lamp in made.lamps] != wanted or list(made.decoders) != boxes:
        raise EditError("the file cannot be changed word by word")


def _moved(box: Decoder, starts: Mapping[str, Slot]) -> Decoder:
    return replace(box, start=starts[box.name][1]) if box.name in starts else box
