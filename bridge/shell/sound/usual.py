"""Knows: what plays a rig to a song where there is no mapping: bars from the middle out, flashes, a chase.

Must never know: files, devices, how music is heard.
"""

from __future__ import annotations

import json
from collections.abc import Sequence

from bridge.shell.files.mapping import mapping_from_text
from bridge.values.mapping import Mapping
from bridge.values.rig import Lamps, Rig

FEW = 6
"""With fewer lamps than this the bands share them from left to right."""

BANDS = ("bass", "middle", "treble")


def usual_mapping(rig: Rig) -> tuple[Mapping, str]:
    """A mapping for a rig and a song, and its text, for a take to keep or a player to begin with.

    Bass in the middle of the stage, treble at its edges, each a bar that rises; strokes on top.
    """
    text = usual_text(rig)
    return mapping_from_text(text, rig, "the usual mapping")[0], text


def usual_text(rig: Rig) -> str:
    """The text of that mapping."""
    lamps = tuple(range(len(rig.lamps)))
    shares = _out_from_middle(rig, lamps) if len(lamps) >= FEW else _left_to_right(lamps)
    lines = ["mapping: the song", "sound:", "  rules:"]
    for band, share in zip(BANDS, shares, strict=True):
        rows = {round(rig.lamps[lamp].at[1], 3) for lamp in share}
        shown = ", as: bar" if len(rows) > 1 else ""
        lines.append(f"    - {{band: {band}, lamps: {_names(rig, share)}{shown}, curve: square}}")
    row = _top_row(rig, lamps)
    for rule in (
        f"onset: bass, lamps: {_names(rig, shares[0])}, between: [0, 0.9], decay_ms: 300, least: 0.35",
        f"onset: middle, lamps: {_names(rig, shares[1])}, between: [0, 0.7], decay_ms: 400, least: 0.5",
        f"onset: treble, chase: {_names(rig, row)}, decay_ms: 350, least: 0.2",
    ):
        lines.append(f"    - {{{rule}}}")
    return "\n".join(lines) + "\n"


def _names(rig: Rig, lamps: Lamps) -> str:
    """A list in flow style; JSON's quotes are YAML's."""
    return json.dumps([rig.lamps[lamp].name for lamp in lamps], ensure_ascii=False)


def _left_to_right(lamps: Lamps) -> list[Lamps]:
    shares = [lamps[band * len(lamps) // 3 : (band + 1) * len(lamps) // 3] for band in range(3)]
    return [share or lamps[-1:] for share in shares]


def _top_row(rig: Rig, lamps: Lamps) -> Lamps:
    """The highest lamps from left to right; all of them where those are fewer than three."""
    top = max(rig.lamps[lamp].at[1] for lamp in lamps)
    upper = [lamp for lamp in lamps if rig.lamps[lamp].at[1] >= top - 0.05]
    return tuple(sorted(upper if len(upper) > 2 else lamps, key=lambda lamp: rig.lamps[lamp].at[0]))


def _out_from_middle(rig: Rig, lamps: Lamps) -> list[Lamps]:
    """Three shares by distance from the middle of the stage, places side by side kept together."""
    across = [rig.lamps[lamp].at[0] for lamp in lamps]
    middle = (min(across) + max(across)) / 2.0
    places = sorted({round(abs(x - middle), 2) for x in across})
    if len(places) < 3:
        # A stage that is narrow has its bands one over the other instead.
        return _thirds(lamps, [rig.lamps[lamp].at[1] for lamp in lamps])
    return _thirds(lamps, [round(abs(x - middle), 2) for x in across])


def _thirds(lamps: Lamps, by: Sequence[float]) -> list[Lamps]:
    places = sorted(set(by))
    shares: list[list[int]] = [[], [], []]
    for lamp, place in zip(lamps, by, strict=True):
        shares[min(2, places.index(place) * 3 // len(places))].append(lamp)
    return [tuple(share) or lamps for share in shares]
