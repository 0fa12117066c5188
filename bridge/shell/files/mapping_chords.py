"""Knows: how the section `chords` becomes rules.

Must never know: keys, controls, or how a chord is recognised.
"""

from __future__ import annotations

from bridge.parts.chords import INVERSIONS
from bridge.parts.shapes import drawn
from bridge.shell.files.check import Item, check, is_empty, items
from bridge.shell.files.chord_model import KINDS, ChordsEntry, ShapeEntry
from bridge.shell.files.mapping_looks import picture_of
from bridge.shell.files.mapping_shared import Shared
from bridge.shell.files.nodes import Node, Scalar, Table, describe
from bridge.shell.files.note_sets import notes_of
from bridge.shell.files.report import listed, quote
from bridge.values.mapping import ChordRule, Feel
from bridge.values.rig import Grid, Rig

WINDOW_MS = 20.0


def read_chords(top: Table, rig: Rig, shared: Shared) -> tuple[tuple[ChordRule, ...], float]:
    """The section `chords`: its rules, and the window in seconds."""
    section = top.get("chords")
    if section is None or is_empty(section):
        return (), WINDOW_MS / 1000.0
    if not isinstance(section, Table):
        what = f"'chords' holds {describe(section)}"
        shared.report.error(section, what, "write 'shapes:' under it, and its entries below that")
        return (), WINDOW_MS / 1000.0
    head = check(ChordsEntry, section.without({"shapes"}), shared.report, "the section chords")
    window = head.value.window_ms if head is not None else WINDOW_MS
    rules = [_rule(node, rig, shared) for node in items(section, "shapes", shared.report)]
    return tuple(rule for rule in rules if rule is not None), window / 1000.0


def _rule(node: Node, rig: Rig, shared: Shared) -> ChordRule | None:
    if isinstance(node, Table) and isinstance(node.get("levels"), Table):
        # Levels have names of lamps for keys; they are read below, each with its place.
        levels = node["levels"]
        item = check(ShapeEntry, node.without({"levels"}), shared.report, "a shape")
    else:
        levels = None
        item = check(ShapeEntry, node, shared.report, "a shape")
    if item is None:
        return None
    entry = item.value
    grid = _grid(item, rig, shared)
    _check_inversion(item, shared)
    given = [kind for kind in KINDS if kind in item.node or (kind == "levels" and levels is not None)]
    if len(given) != 1 and item.good(*KINDS):
        what = f"a shape has both {' and '.join(given)}" if given else "a shape draws nothing"
        shared.report.error(item.node, what, f"give one of {', '.join(KINDS)}")
    picture: tuple[tuple[int, float], ...] = ()
    if entry.lamps is not None:
        picture = tuple((lamp, 1.0) for lamp in shared.names.resolve(entry.lamps, shared.report))
    elif levels is not None:
        picture = picture_of(levels, shared.names, shared.report, "a shape")
    elif entry.draw is not None:
        picture = _drawing(item, grid, shared)
    if (entry.move or entry.turn) and grid is None and entry.over is None and item.good("over"):
        what = "a shape moves and turns over a grid, and the rig has none"
        shared.report.error(item.node.place("move" if entry.move else "turn"), what, "take it out")
    if entry.over is not None and not (entry.move or entry.turn or "draw" in item.node):
        what = "over says where a shape is drawn, moves and turns, and this one does neither"
        shared.report.warn(entry.over, what, "take it out, or give draw, move or turn")
    return ChordRule(
        entry.chord,
        picture=picture,
        chase=shared.names.resolve(entry.chase or (), shared.report),
        step=_step(item, shared),
        in_beats=entry.step_beats is not None,
        cells=grid.cells if grid is not None else (),
        inversion=entry.inversion,
        exact=entry.exact,
        move=entry.move,
        turn=entry.turn,
        then=entry.then,
        curve=shared.curve if entry.curve is None else entry.curve,
        between=entry.between,
        feel=shared.feel_of(entry.feel) or Feel(),
        feel_name=entry.feel.raw if entry.feel is not None else shared.feel_name,
        channel=entry.channel,
        source=shared.source(entry.source),
        notes=frozenset(notes_of(entry.notes or (), shared.middle_c, shared.report)),
        takes_keys=entry.takes_keys,
        name=entry.name.raw if entry.name is not None else _called(item),
        line=item.node.line,
        texture=shared.texture(entry.texture) if entry.texture is not None else "",
    )


def _called(item: Item[ShapeEntry]) -> str:
    """What a shape without a name is called: the chord as written."""
    node = item.node.get("chord")
    return str(node) if isinstance(node, Scalar) else str(list(item.value.chord))


def _check_inversion(item: Item[ShapeEntry], shared: Shared) -> None:
    """Report an inversion that a chord of so few notes does not have."""
    entry = item.value
    notes = len({interval % 12 for interval in entry.chord})
    if (INVERSIONS[entry.inversion] or 0) >= notes and item.good("chord", "inversion"):
        what = f"a chord of {notes} notes has no {entry.inversion} inversion"
        right = f"give {', '.join(list(INVERSIONS)[: notes + 1])}"
        shared.report.error(item.node.place("inversion"), what, right)


def _grid(item: Item[ShapeEntry], rig: Rig, shared: Shared) -> Grid | None:
    """The grid a shape is drawn over: the one it names, else the first."""
    entry = item.value
    if entry.over is None:
        return rig.grids[0] if rig.grids else None
    found = next((grid for grid in rig.grids if grid.name == entry.over.raw), None)
    if found is None:
        shared.report.unknown(entry.over, "grid", entry.over.raw, [grid.name for grid in rig.grids])
    return found


def _drawing(item: Item[ShapeEntry], grid: Grid | None, shared: Shared) -> tuple[tuple[int, float], ...]:
    rows = item.value.draw or ()
    if grid is None:
        if item.value.over is None and item.good("over"):
            shared.report.error(item.node.place("draw"), "the rig has no grid to draw over", "give lamps")
        return ()
    tall, wide = len(grid.cells), len(grid.cells[0])
    size = f"grid {grid.name} has {tall} rows of {wide}"
    for row in rows[tall:]:
        shared.report.error(row, f"a row more than the grid has: {quote(row.raw)}", size)
    for row in rows:
        if len(row.raw) > wide:
            shared.report.error(row, f"{len(row.raw)} places in the row {quote(row.raw)}", size)
    if any(len(row.raw) > wide for row in rows) or len(rows) > tall:
        return ()
    picture = drawn([row.raw for row in rows], grid.cells)
    if not picture:
        shared.report.warn(item.node.place("draw"), "a drawing without a light", "draw with * or 1 to 9")
    return picture


def _step(item: Item[ShapeEntry], shared: Shared) -> float:
    """The step of a chase, in seconds, or in beats where it gives beats."""
    entry = item.value
    if entry.step_ms is not None and entry.step_beats is not None:
        shared.report.error(item.node.keys_at["step_beats"], "both step_ms and step_beats", "give one")
    steps = [key for key in ("step_ms", "step_beats") if key in item.node]
    if steps and "chase" not in item.node:
        shared.report.error(
            item.node.place(steps[0]), f"{listed(steps, 2)} without a chase", "give chase: lamps"
        )
    if entry.step_beats is not None:
        return entry.step_beats
    return 0.125 if entry.step_ms is None else entry.step_ms / 1000.0
