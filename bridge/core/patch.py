"""Knows: level -> drive (response, floor, ceiling) and drive -> slots of every universe.

Must never know: where a level came from, guards, wires.
"""

from __future__ import annotations

from collections import defaultdict

import numpy as np

from bridge.parts.responses import CELLS, response_table
from bridge.values.frame import SLOTS
from bridge.values.numbers import Floats, half_up_array
from bridge.values.rig import Rig


class Patch:
    """The tables of one rig, compiled once."""

    def __init__(self, rig: Rig) -> None:
        lamps = rig.lamps
        self.universes = rig.universes
        kinds = list(dict.fromkeys(lamp.response for lamp in lamps))
        self._tables = np.concatenate([response_table(kind) for kind in kinds]) if kinds else np.zeros(0)
        self._base = np.array([kinds.index(lamp.response) * (CELLS + 1) for lamp in lamps], dtype=np.intp)
        self._floor: Floats = np.array([lamp.floor for lamp in lamps])
        self._span: Floats = np.array([lamp.ceiling - lamp.floor for lamp in lamps])
        self._linear = kinds in ([], ["linear"])
        self._plain = bool(np.all(self._floor == 0.0) and np.all(self._span == 1.0))
        self._no_floor = bool(np.all(self._floor == 0.0))
        self.steps: Floats = np.array([65535.0 if lamp.bits == 16 else 255.0 for lamp in lamps])
        """Steps of each lamp's slots: 255, or 65535 where it takes two."""
        place = [self.universes.index(lamp.universe) * SLOTS + lamp.slot - 1 for lamp in lamps]
        self._coarse = np.array(place, dtype=np.intp)
        self._wide = np.array([i for i, lamp in enumerate(lamps) if lamp.bits == 16], dtype=np.intp)
        together: dict[int, list[int]] = defaultdict(list)
        for i, at in enumerate(place):
            together[at].append(i)
        self._shared = [np.array(group, dtype=np.intp) for group in together.values() if len(group) > 1]

    def drive(self, levels: Floats) -> Floats:
        """The drive 0..1 of every lamp for levels 0..1; lamps that share a slot get the highest."""
        if self._linear:
            out = levels.copy()
        else:
            scaled = levels * CELLS
            cell = np.minimum(scaled.astype(np.intp), CELLS - 1)
            at = self._base + cell
            low = self._tables[at]
            out = low + (scaled - cell) * (self._tables[at + 1] - low)
        if not self._plain:
            out *= self._span
            if not self._no_floor:
                out += self._floor
        if not (self._linear and self._no_floor):
            out[levels <= 0.0] = 0.0
        for group in self._shared:
            out[group] = out[group].max()
        return out

    def read(self, universes: tuple[int, ...], slots: bytes) -> Floats:
        """The drive 0..1 of every lamp in a picture of 512 bytes a universe; dark where it has none."""
        values = np.zeros(len(self.universes) * SLOTS)
        for row, universe in enumerate(universes):
            piece = np.frombuffer(slots[row * SLOTS : (row + 1) * SLOTS], dtype=np.uint8)
            if universe in self.universes:
                at = self.universes.index(universe) * SLOTS
                values[at : at + len(piece)] = piece
        out = values[self._coarse]
        if len(self._wide):
            out[self._wide] = out[self._wide] * 256 + values[self._coarse[self._wide] + 1]
        drive: Floats = out / self.steps
        return drive

    def slots(self, drive: Floats) -> np.typing.NDArray[np.uint8]:
        """Slot values, shape (universes, 512), rounded half up; the lowest where lamps share a slot."""
        if self._shared:
            drive = drive.copy()
            for group in self._shared:
                drive[group] = drive[group].min()
        values = half_up_array(drive * self.steps)
        out = np.zeros(len(self.universes) * SLOTS, dtype=np.uint8)
        if len(self._wide) == 0:
            out[self._coarse] = values.astype(np.uint8)
        else:
            whole = values.astype(np.int64)
            fine = whole[self._wide] & 255
            whole[self._wide] >>= 8
            out[self._coarse] = whole.astype(np.uint8)
            out[self._coarse[self._wide] + 1] = fine.astype(np.uint8)
        return out.reshape(len(self.universes), SLOTS)
