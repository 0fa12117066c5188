"""Knows: what light a lamp needs to be driven with for a level to look right, by the registry RESPONSES.

Must never know: which lamp asks, floors and ceilings, slots.

Sources: `cie` CIE 1976 L* (CIE 15:2004): level is lightness, drive is luminance; `dali` the logarithmic
dimming curve of IEC 62386-102, level 0..1 over arc power levels 1..254; `square` common practice.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from bridge.values.numbers import Floats

CELLS = 4096
"""Cells of a response table; a power of two keeps `linear` exact to the bit."""

Response = Callable[[Floats], Floats]


def _cie(level: Floats) -> Floats:
    lightness = 100.0 * level
    cubic = (lightness + 16.0) / 116.0
    out: Floats = np.where(lightness <= 8.0, lightness * 27.0 / 24389.0, cubic * cubic * cubic)
    return out


def _dali(level: Floats) -> Floats:
    # The limit just above level 0 is 0.1 %; level 0 itself is off, which the patch sees to.
    out: Floats = np.power(10.0, 3.0 * level - 3.0)
    return out


RESPONSES: dict[str, Response] = {
    "linear": lambda level: level,
    "square": lambda level: level * level,
    "cie": _cie,
    "dali": _dali,
}


def response_table(response: str | Sequence[tuple[float, float]]) -> Floats:
    """CELLS + 1 drives 0..1 at levels 0, 1/CELLS … 1, to be read with straight lines between.

    Args:
        response: a name of RESPONSES, or points (level, drive) joined by straight lines.

    Raises:
        KeyError: no response has that name.
    """
    levels: Floats = np.arange(CELLS + 1, dtype=np.float64) / CELLS
    if isinstance(response, str):
        return RESPONSES[response](levels)
    xs, ys = zip(*response, strict=True)
    out: Floats = np.interp(levels, xs, ys)
    return out
