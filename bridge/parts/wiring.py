"""Knows: from what lit when lamps were lit one by one, which faults of wiring explain it best.

Must never know: how lamps are lit or seen, how a fault is said, files.

Each explanation is a set of lamps with other slots. Of all that the observations suggest, the one that makes
most of them come true is taken, then the next, until none does. A shift needs two lamps that bear it out, an
order three; what is seen of a single lamp says no more than where that one hangs.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from bridge.values.rig import Grid, Lamps, Rig
from bridge.values.wiring import Diagnosis, Fault, Order, Seen, Slot

Places = dict[int, Slot | None]
"""Lamp -> where it hangs; None where it lights nowhere."""

Orders = Callable[[Grid, Sequence[int]], Iterable[Order]]
"""The other orders in which the slots of a grid may run, given the one that is thought of."""


@dataclass(frozen=True, slots=True)
class _Block:
    """Lamps that go wrong together."""

    what: str
    name: str
    lamps: Lamps


@dataclass(frozen=True, slots=True)
class _Idea:
    """An explanation: faults, and where it has the lamps hang. `least`: observations it must set right."""

    faults: tuple[Fault, ...]
    places: Places
    least: int = 1
    excused: tuple[int, ...] = ()


@dataclass(slots=True)
class _Bench:
    """What is thought of the wires so far, held against what was seen."""

    rig: Rig
    seen: Seen
    file: dict[int, Slot] = field(init=False)
    hangs: Places = field(init=False)
    steps: dict[Slot, int] = field(init=False)
    """The lamp that was meant where a slot was driven."""
    lit_by: dict[int, list[int]] = field(init=False)
    excused: set[int] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.file = {lamp.index: (lamp.universe, lamp.slot) for lamp in self.rig.lamps}
        self.hangs = dict(self.file)
        self.steps = {self.file[meant]: meant for meant in self.seen}
        self.lit_by = defaultdict(list)
        for meant, lit in self.seen.items():
            for lamp in lit:
                self.lit_by[lamp].append(meant)

    def index(self) -> dict[Slot, set[int]]:
        """The lamps on each slot, as thought now."""
        found: dict[Slot, set[int]] = defaultdict(set)
        for lamp, slot in self.hangs.items():
            if slot is not None:
                found[slot].add(lamp)
        return found

    def wrong(self, meant: int, there: set[int]) -> bool:
        """True if other lamps lit than are thought to be there."""
        return meant not in self.excused and set(self.seen[meant]) != there

    def gain(self, idea: _Idea, now: dict[Slot, set[int]]) -> int:
        """How many observations more come true with an idea."""
        after: dict[Slot, set[int]] = {}
        for lamp, slot in idea.places.items():
            old = self.hangs[lamp]
            for place in (old, slot):
                if place is not None and place not in after:
                    after[place] = set(now.get(place, ()))
            if old is not None:
                after[old].discard(lamp)
        for lamp, slot in idea.places.items():
            if slot is not None:
                after[slot].add(lamp)
        gained = 0
        for slot, there in after.items():
            meant = self.steps.get(slot)
            if meant is not None:
                gained += self.wrong(meant, now.get(slot, set())) - self.wrong(meant, there)
        return gained + sum(self.wrong(meant, now.get(self.file[meant], set())) for meant in idea.excused)


def diagnose(rig: Rig, seen: Seen, orders: Orders = lambda _grid, _now: ()) -> Diagnosis:
    """What is wrong with the wires of a rig.

    Args:
        rig: as the file has it.
        seen: what lit for each lamp that was meant; lamps that were not tried are left out.
        orders: other orders to think of for a grid.
    """
    bench = _Bench(rig, seen)
    faults: list[Fault] = []
    while True:
        now = bench.index()
        errors = [meant for meant in seen if bench.wrong(meant, now.get(bench.file[meant], set()))]
        best: tuple[int, int, _Idea] | None = None
        for idea in _ideas(bench, now, errors, orders) if errors else ():
            gain = bench.gain(idea, now)
            if gain >= idea.least and (best is None or (gain, -len(idea.faults)) > best[:2]):
                best = gain, -len(idea.faults), idea
        if best is None:
            break
        bench.hangs.update(best[2].places)
        bench.excused.update(best[2].excused)
        faults += best[2].faults
    if set(bench.steps) == set(bench.file.values()):
        # Every slot was tried: what gave way to another lamp and lit nowhere is dark too.
        told = {lamp for fault in faults if fault.kind in ("dead", "dark") for lamp in fault.lamps}
        for lamp, slot in bench.hangs.items():
            if slot is None and lamp not in told and lamp not in bench.lit_by:
                faults.append(Fault("dead", (lamp,), (bench.file[lamp],)))
    faults += [Fault("odd", (meant, *seen[meant]), (bench.file[meant],)) for meant in errors]
    return _conclusion(bench, faults)


def _ideas(
    bench: _Bench, now: dict[Slot, set[int]], errors: Sequence[int], orders: Orders
) -> Iterator[_Idea]:
    """Everything that the observations suggest; of ideas as good, the first is taken."""
    touched = {lamp for meant in errors for lamp in (meant, *bench.seen[meant])}
    blocks = [block for block in _blocks(bench.rig) if not touched.isdisjoint(block.lamps)]
    for what in ("decoder", "universe", "grid", "entry"):
        shifts = [
            idea for block in blocks if block.what == what and (idea := _shift(bench, block, bench.hangs))
        ]
        yield from shifts
        if len(shifts) > 1:
            # Two boxes with one another's addresses: neither shift alone makes anything come true.
            places = {lamp: slot for idea in shifts for lamp, slot in idea.places.items()}
            yield _Idea(tuple(fault for idea in shifts for fault in idea.faults), places, 2 * len(shifts))
    for grid in bench.rig.grids:
        yield from _grid_ideas(bench, grid, orders)
    yield from _circles(bench, errors)
    yield from _dark_ideas(bench, blocks, errors, now)
    for meant in errors:
        there = now.get(bench.file[meant], set())
        for lamp in set(bench.seen[meant]) - there:
            yield from _single(bench, meant, lamp, there - set(bench.seen[meant]))


def _blocks(rig: Rig) -> Iterator[_Block]:
    for box in rig.decoders:
        yield _Block("decoder", box.name, tuple(lamp.index for lamp in rig.lamps if box.carries(lamp)))
    for universe in rig.universes:
        lamps = tuple(lamp.index for lamp in rig.lamps if lamp.universe == universe)
        yield _Block("universe", str(universe), lamps)
    for grid in rig.grids:
        yield _Block("grid", grid.name, tuple(cell for row in grid.cells for cell in row if cell >= 0))
    entries: dict[tuple[int, str], list[int]] = defaultdict(list)
    for lamp in rig.lamps:
        head, dot, _ = lamp.name.rpartition(".")
        if dot:
            entries[lamp.line, head].append(lamp.index)
    for (_, head), members in entries.items():
        yield _Block("entry", head, tuple(members))


def _shift(bench: _Bench, block: _Block, hangs: Places) -> _Idea | None:
    """All of a block some slots farther on, or in another universe, as most of its lamps that lit say."""
    votes: Counter[tuple[int, int, int]] = Counter()
    for lamp in block.lamps:
        slot = hangs[lamp]
        if slot is None:
            continue
        for meant in bench.lit_by.get(lamp, ()):
            universe, at = bench.file[meant]
            votes[slot[0], universe, at - slot[1]] += 1
    (best, count) = max(votes.items(), key=lambda vote: (vote[1], -abs(vote[0][2])), default=((0, 0, 0), 0))
    if count < 2 or (best[0] == best[1] and best[2] == 0):
        return None
    places: Places = {}
    for lamp in block.lamps:
        slot = hangs[lamp]
        if slot is not None and slot[0] == best[0]:
            places[lamp] = (best[1], slot[1] + best[2])
    slots = tuple(slot for slot in places.values() if slot is not None)
    return _Idea((Fault("shifted", tuple(places), slots, block.name, block.what, best[2]),), places, 2)


def _grid_ideas(bench: _Bench, grid: Grid, orders: Orders) -> Iterator[_Idea]:
    """The slots of a grid in other orders, as they are and shifted together."""
    lamps = [cell for row in grid.cells for cell in row if cell >= 0]
    where = {lamp: slot for lamp in lamps if (slot := bench.hangs[lamp]) is not None}
    if len(where) < len(lamps) or len(lamps) < 3:
        return
    slots = sorted(where.values())
    for order in orders(grid, sorted(lamps, key=lambda lamp: (where[lamp], lamp))):
        hangs: Places = dict(zip(order.lamps, slots, strict=True))
        kind = "reversed" if order.order in ("row", "column") else "order"
        moved = tuple(lamp for lamp in order.lamps if hangs[lamp] != where[lamp])
        fault = Fault(kind, moved, (), grid.name, "grid", order=order.order, corner=order.corner)
        yield _Idea((fault,), hangs, 3)
        if kind == "order" and (more := _shift(bench, _Block("grid", grid.name, tuple(lamps)), hangs)):
            yield _Idea((fault, *more.faults), more.places, 4)


def _circles(bench: _Bench, errors: Sequence[int]) -> Iterator[_Idea]:
    """Lamps that hang on one another's slots: two swapped, or more in a circle."""
    done: set[int] = set()
    for first in errors:
        path: list[tuple[int, int]] = []
        meant: int | None = first
        while meant is not None and meant not in done and len(bench.seen[meant]) == 1:
            done.add(meant)
            (lamp,) = bench.seen[meant]
            path.append((meant, lamp))
            slot = bench.hangs[lamp]
            meant = bench.steps.get(slot) if slot is not None else None
        if meant == first and len(path) > 1:
            places: Places = {lamp: bench.file[at] for at, lamp in path}
            kind = "swapped" if len(path) == 2 else "crossed"
            lamps = tuple(places)
            yield _Idea((Fault(kind, lamps, tuple(bench.file[at] for at, _ in path)),), places, len(path))


def _dark_ideas(
    bench: _Bench, blocks: Sequence[_Block], errors: Sequence[int], now: dict[Slot, set[int]]
) -> Iterator[_Idea]:
    """Lamps that lit nowhere, by themselves and as whole blocks."""
    dead: dict[int, Slot] = {}
    for meant in errors:
        there = now.get(bench.file[meant], set())
        if not bench.seen[meant]:
            dead.update({lamp: bench.file[meant] for lamp in there if lamp not in bench.lit_by})
    for block in blocks:
        here = [lamp for lamp in block.lamps if lamp in dead]
        lit = [lamp for lamp in block.lamps if lamp in bench.lit_by]
        if len(here) > 1 and not lit:
            slots = tuple(dead[lamp] for lamp in here)
            fault = Fault("dark", tuple(here), slots, block.name, block.what)
            yield _Idea((fault,), dict.fromkeys(here), 2)
    for lamp, slot in dead.items():
        yield _Idea((Fault("dead", (lamp,), (slot,)),), {lamp: None})


def _single(bench: _Bench, meant: int, lamp: int, gone: set[int]) -> Iterator[_Idea]:
    """One lamp on another slot; or, since it lights on its own too, on two. `gone` did not light there."""
    slot = bench.file[meant]
    with_it = tuple(other for other in bench.seen[meant] if other != lamp)
    own = bench.hangs[lamp]
    if own is not None and bench.steps.get(own) in bench.lit_by.get(lamp, ()):
        yield _Idea((Fault("bridged", (lamp,), (own, slot)),), {}, excused=(meant,))
    kind = "doubled" if with_it else "moved"
    yield _Idea((Fault(kind, (lamp, *with_it), (slot,)),), {**dict.fromkeys(gone), lamp: slot})


def _conclusion(bench: _Bench, faults: list[Fault]) -> Diagnosis:
    """Where every lamp hangs; a lamp that nobody saw loses its slot to one that was seen there."""
    taken: dict[Slot, set[Slot]] = defaultdict(set)
    for lamp, slot in bench.hangs.items():
        if slot is not None and lamp in bench.lit_by:
            taken[slot].add(bench.file[lamp])
    hangs: dict[int, Slot] = {}
    lost: list[int] = []
    for lamp, slot in bench.hangs.items():
        at = bench.file[lamp] if slot is None else slot
        # Lamps that the file has on one slot go on sharing it.
        if lamp not in bench.lit_by and taken.get(at, set()) - {bench.file[lamp]}:
            lost.append(lamp)
        else:
            hangs[lamp] = at
    free = sorted(set(bench.file.values()) - set(hangs.values()))
    guessed: Lamps = ()
    if len(lost) == len(free) == 1:
        guessed, lost = tuple(lost), []
        hangs[guessed[0]] = free[0]
    starts = {
        fault.where: (slot[0], box.start + fault.by)
        for fault in faults
        for box in bench.rig.decoders
        if fault.kind == "shifted" and fault.what == "decoder" and box.name == fault.where
        for slot in fault.slots[:1]
    }
    return Diagnosis(tuple(faults), hangs, starts, tuple(lost), guessed)
