"""Knows: how to count flashes of light, and how to keep them to three in any second by limiting rises.

Must never know: where a drive came from, lamp names, frames, outputs or a clock.

What is judged. The whole rig, and every part of it that fills a field of view: the lamps within
`distance_m` x tan(`view_deg` / 2) of a lamp; a lamp with none so near is a part by itself. The light of a
part is the mean drive of its lamps by weight, 1.0 with all at full. Before its first frame a rig is dark.

What counts (the general flash of WCAG 2.2, written for screens, borrowed; tests/reference/flash_safety.csv).
A rise is a gain of light of 0.10 or more from a valley below 0.80, stamped when it first reaches its peak;
ripples below 0.10 split nothing. A flash is a rise and a fall, so three rises in any [t, t + 1 s) are at
most three flashes. Saturated red is counted once more by itself: the red lamps of a part against all its
lamps, with a step of 1/16 (the older working definition: (R - G - B) x 320 changing by more than 20) and
from any valley; light of other colours does not hide it.

When it acts. Exactly when light goes up by a whole step while three rises of that part have peaked less
than one second ago. Then the lamps of the part that are on their way up, and no others, are lowered by one
share of their way, to just under a step above the valley. Falls, blackout and releases always pass; so does
the first strike from dark, and whatever keeps to three rises a second, to the byte. In notes: on n equal
lamps one note is 1/n of the light. Up to ten lamps, a note struck after the last one fell is a rise: of four
such notes a second on eight lamps one is played at 79 % of its drive, three untouched. From eleven lamps
on, single notes are no flash of the whole rig. Notes that overlap so that the light holds its level count
nowhere. A lamp alone in its field of view is lowered from its own fourth strike in a second on.

It lowers two inputs that a count of the finished sequence would allow, since it cannot see ahead: a fourth
rise whose fall would have come late enough, and a slow fourth rise whose peak would.

A lamp that was held and is still asked for climbs smoothly when its part is free again. What is being held
is a memory too; it stays empty on guarded frames, so a replay of them passes a fresh guard unchanged.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from bridge.values.numbers import Floats, half_up_array

STEP: Final = 0.10
"""Change of light that counts, of the most a part can give (WCAG 2.2: 10 percent or more)."""
DARK: Final = 0.80
"""A rise counts from a valley below this (WCAG 2.2)."""
RED_STEP: Final = 20.0 / 320.0
"""Change of saturated red that counts (WCAG 2.0 and 2.1, after Harding and Binnie 2002)."""
SATURATED: Final = 0.8
"""Share of red in the light from which it is saturated red (WCAG 2.2)."""
WINDOW_S: Final = 1.0
"""Any window of this length, half open, holds at most three rises."""
CLIMB_S: Final = 1.0 / 3.0
"""Seconds that a held lamp takes from 0 to full once its part is free. Our choice."""
EXACT: Final = 1024
"""Rigs up to this many lamps are judged round every lamp; larger or denser ones round a grid of centres."""

# Light is kept in whole ticks, so that the same light by other lamps is the same number whatever the order
# of the sum. The offset keeps the edges between ticks away from the fractions that lamps make.
_TICKS: Final = 1e10
_OFFSET: Final = 0.381966
# A step counts from a hair below and is undercut by a margin: a checker that sums otherwise finds no more.
_HAIR: Final = 2e-9
_MARGIN: Final = 1e-6

Bools = npt.NDArray[np.bool_]
Indices = npt.NDArray[np.intp]


def is_saturated_red(red: float, green: float, blue: float) -> bool:
    """True where linear R / (R + G + B) is 0.8 or more (WCAG 2.2, red flash); each 0..1, black is not red."""
    return red > 0.0 and red >= SATURATED * (red + green + blue) * (1.0 - 1e-12)


def fields_of_view(at: Floats, radius: float) -> list[Indices]:
    """The sets of lamps that fill a field of view, each once, each ascending.

    Args:
        at: metres of each lamp, shape (N, 2).
        radius: metres, above 0.

    Round every lamp for up to `EXACT` lamps that do not crowd (at most eight to a set on average, or 4096 in
    all sets together); else round the points of a grid one radius apart: each lamp is then within 0.71
    radius of a centre and in three sets on average, so the cost stays in proportion to the lamps.
    """
    count = len(at)
    if count <= EXACT:
        gap = at[:, None, :] - at[None, :, :]
        near = gap[..., 0] ** 2 + gap[..., 1] ** 2 <= radius * radius + 1e-9
        if np.count_nonzero(near) <= max(4096, 8 * count):
            return _once(np.flatnonzero(row) for row in near)
    cell = np.floor(at / radius + 0.5)
    lamps: list[Indices] = []
    centres: list[Floats] = []
    for dx in (-1.0, 0.0, 1.0):
        for dy in (-1.0, 0.0, 1.0):
            centre = cell + np.array([dx, dy])
            away = at / radius - centre
            inside = np.flatnonzero(away[:, 0] ** 2 + away[:, 1] ** 2 <= 1.0 + 1e-9)
            lamps.append(inside)
            centres.append(centre[inside])
    lamp, place = np.concatenate(lamps), np.concatenate(centres)
    order = np.lexsort((lamp, place[:, 1], place[:, 0]))
    lamp, place = lamp[order], place[order]
    edges = np.flatnonzero((place[1:] != place[:-1]).any(axis=1)) + 1
    return _once(np.split(lamp, edges))


def _once(sets: Iterable[Indices]) -> list[Indices]:
    return list({members.tobytes(): members for members in sets if len(members)}.values())


class _Part(NamedTuple):
    """A set of lamps that is counted: `share` of its light each gives at full, and what counts there."""

    lamps: Indices
    share: Floats
    step: float
    dark: float
    whole: bool


def _parts(fields: list[Indices], weights: Floats, red: Bools) -> Iterable[_Part]:
    everything = np.arange(len(weights), dtype=np.intp)
    sets = [everything, *(field for field in fields if len(field) < len(weights))]
    for number, lamps in enumerate(sets):
        total = weights[lamps].sum()
        if total <= 0.0:
            continue
        yield _Part(lamps, weights[lamps] / total, STEP, DARK, number == 0)
        reds = lamps[red[lamps]]
        share = weights[reds] / total
        if share.sum() >= RED_STEP:
            yield _Part(reds, share, RED_STEP, math.inf, number == 0)


class FlashGuard:
    """Lets at most three rises of light pass in any second, in the whole rig and in each field of view.

    Args:
        at: metres of each lamp as the audience sees it, shape (N, 2).
        weights: how much of the light each lamp is at full, in any unit, 0 or more, shape (N,); 1 for all, or
            watts. Do not lower a red lamp for the eye's weaker sense of red: red is counted with these too.
        red: True for lamps whose light is saturated red, linear R / (R + G + B) >= 0.8, shape (N,).
        steps: slot steps of each lamp, 255 or 65535, shape (N,).
        mode: `limit`, or `warn` to let everything pass and only tell.
        view_deg: the field of view in degrees, above 0 and below 180.
        distance_m: metres from the nearest of the audience to the rig, above 0.
        shared: sets of lamps that lie on one slot, which takes the lowest of their values.
    """

    def __init__(
        self,
        at: Floats,
        weights: Floats,
        red: npt.ArrayLike,
        steps: Floats,
        mode: str = "limit",
        view_deg: float = 10.0,
        distance_m: float = 5.0,
        shared: Sequence[Sequence[int]] = (),
    ) -> None:
        self._limits = mode == "limit"
        self._steps = np.asarray(steps, dtype=np.float64)
        self._shared = [np.array(lamps, dtype=np.intp) for lamps in shared]
        count = len(self._steps)
        places = np.asarray(at, dtype=np.float64).reshape(count, 2)
        fields = fields_of_view(places, distance_m * math.tan(math.radians(view_deg) / 2.0)) if count else []
        heavy = np.asarray(weights, dtype=np.float64)
        parts = list(_parts(fields, heavy, np.asarray(red, dtype=np.bool_)))
        size = len(parts)
        self._parts = size
        lengths = np.array([len(part.lamps) for part in parts], dtype=np.intp)
        self._lamp = np.concatenate([part.lamps for part in parts] or [np.zeros(0, dtype=np.intp)])
        self._share = np.concatenate([part.share for part in parts] or [np.zeros(0)])
        self._share = self._share * _TICKS / self._steps[self._lamp]
        self._starts = np.cumsum(lengths) - lengths
        self._part_of = np.repeat(np.arange(size), lengths)
        self._step: Floats = (np.array([part.step for part in parts]) - _HAIR) * _TICKS
        self._dark: Floats = (np.array([part.dark for part in parts]) - _HAIR / 4.0) * _TICKS
        self._whole: Bools = np.array([part.whole for part in parts], dtype=np.bool_)
        # Each part is on its way up (1) or down (-1) from its last turn; `extreme` is how far it came.
        self._way: Floats = np.full(size, -1.0)
        self._extreme: Floats = np.zeros(size)
        self._counts: Bools = np.zeros(size, dtype=np.bool_)
        # Times at which the last three rises that count reached their peaks.
        self._latest: Floats = np.full(size, -math.inf)
        self._second: Floats = np.full(size, -math.inf)
        self._third: Floats = np.full(size, -math.inf)
        self._t = 0.0
        self._out: Floats = np.zeros(count)
        self._ceiling: Floats = np.full(count, np.inf)
        self._holds = False
        self._now = 0.0
        self._times = 0

    @property
    def settled(self) -> bool:
        """True while nothing is held back: the same drive again is no rise."""
        return self._now == 0.0

    @property
    def held(self) -> tuple[float, int]:
        """The largest share 0..1 of a lamp's drive held back now, and how often holding has begun.

        In `warn` mode: what would have been held back, in the frame of the rise.
        """
        return self._now, self._times

    def apply(self, drive: Floats, t: float) -> Floats:
        """The drive that may go out at `t` seconds; `drive` itself where nothing is held back.

        Args:
            drive: 0..1 of each lamp, shape (N,).
            t: seconds since the show began, never less than before.
        """
        asked = half_up_array(drive * self._steps)
        for lamps in self._shared:
            asked[lamps] = asked[lamps].min()
        wanted = asked
        if self._holds:
            self._ceiling += self._steps * ((t - self._t) / CLIMB_S)
            wanted = np.minimum(asked, np.floor(self._ceiling))
        self._t = t
        passed, would = wanted, 0.0
        if self._parts and not (wanted == self._out).all():
            passed, would = self._count(wanted, t)
        if self._holds or passed is not wanted:
            return self._hold(drive, asked, wanted, passed)
        self._tell(would)
        return drive

    def _light(self, values: Floats) -> Floats:
        """The light of each part in ticks for whole slot values: sums in a fixed order, no matrix library."""
        given = values.take(self._lamp)
        given *= self._share
        light: Floats = np.add.reduceat(given, self._starts)
        light += _OFFSET
        return np.floor(light, out=light)

    def _count(self, wanted: Floats, t: float) -> tuple[Floats, float]:
        """The values that pass, remembered (`wanted` itself where all do); the share 0..1 that should not."""
        passed, would = wanted, 0.0
        light = self._light(passed)
        onward = (light - self._extreme) * self._way
        turned = onward <= -self._step
        if turned.any():
            over = turned & (self._way < 0.0) & (self._extreme < self._dark)
            over &= self._third > t - WINDOW_S + _HAIR / 4.0
            if over.any():
                lowered = self._lower(wanted, light, over)
                would = _most(lowered, wanted)
                if self._limits:
                    passed = lowered
                    light = self._light(passed)
                    onward = (light - self._extreme) * self._way
                    turned = onward <= -self._step
            self._turn(light, turned, t)
        # A rise is stamped when it first reaches its peak: a higher peak of the same rise moves its stamp.
        further = onward > 0.0
        np.copyto(self._extreme, light, where=further)
        np.copyto(self._latest, t, where=further & self._counts)
        self._out = passed
        return passed, would

    def _turn(self, light: Floats, turned: Bools, t: float) -> None:
        rises = turned & (self._way < 0.0) & (self._extreme < self._dark)
        np.copyto(self._third, self._second, where=rises)
        np.copyto(self._second, self._latest, where=rises)
        np.copyto(self._latest, t, where=rises)
        np.copyto(self._counts, rises, where=turned)
        np.copyto(self._extreme, light, where=turned)
        np.negative(self._way, out=self._way, where=turned)

    def _lower(self, wanted: Floats, light: Floats, over: Bools) -> Floats:
        """`wanted` with the way up of the lamps of each part in `over` cut to what stays under a step."""
        passed = wanted
        # Neighbourhoods first: what they give up may be enough for the whole rig.
        for stage in (~self._whole, self._whole):
            now = over & stage & (light - self._extreme >= self._step)
            if not now.any():
                continue
            base = self._light(np.minimum(passed, self._out))
            room = self._extreme + self._step - _MARGIN * _TICKS - base
            share = np.ones(len(now))
            np.divide(room, light - base, out=share, where=now)
            np.clip(share, 0.0, 1.0, out=share)
            lamp_share = np.ones(len(passed))
            entries = now[self._part_of]
            np.minimum.at(lamp_share, self._lamp[entries], share[self._part_of[entries]])
            way = passed - self._out
            passed = np.where(way > 0.0, self._out + np.floor(way * lamp_share), passed)
            for lamps in self._shared:
                passed[lamps] = passed[lamps].min()
            light = self._light(passed)
        return passed

    def _hold(self, drive: Floats, asked: Floats, wanted: Floats, passed: Floats) -> Floats:
        held = passed < asked
        np.copyto(self._ceiling, passed, where=passed < wanted)
        np.copyto(self._ceiling, np.inf, where=~held)
        share = _most(passed, asked)
        self._tell(share)
        self._holds = share > 0.0
        if not self._holds:
            return drive
        out: Floats = np.where(held, passed / self._steps, drive)
        return out

    def _tell(self, now: float) -> None:
        if now > 0.0 and self._now == 0.0:
            self._times += 1
        self._now = now


def _most(lowered: Floats, asked: Floats) -> float:
    """The largest share 0..1 by which one of the values is lowered."""
    less = lowered < asked
    return float((1.0 - lowered[less] / asked[less]).max()) if less.any() else 0.0
