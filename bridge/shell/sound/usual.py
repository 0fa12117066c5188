"""Knows: what plays a rig to a song where there is no mapping: strikes, bars beside them, a wave below.

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

RISE = "[[0, 0], [72, 0.03], [127, 1]]"
"""Of the tune's loudness: squeezed music is never soft, so the lower half of the way is hardly used."""


def usual_mapping(rig: Rig) -> tuple[Mapping, str]:
    """A mapping for a rig and a song, and its text, for a take to keep or a player to begin with.

    The bass drum strikes in the middle of the stage, the tune rises beside it, the edges answer, a wave in
    time with the beat goes under all of it.
    """
    text = usual_text(rig)
    return mapping_from_text(text, rig, "the usual mapping")[0], text


def usual_text(rig: Rig) -> str:
    """The text of that mapping."""
    lamps = tuple(range(len(rig.lamps)))
    few = len(lamps) < FEW
    inner, between, outer = _left_to_right(lamps) if few else _out_from_middle(rig, lamps)
    heart, middle, edge = _names(rig, inner), _names(rig, between), _names(rig, outer)
    row = _names(rig, _top_row(rig, lamps))
    bar = ", as: bar" if len({round(rig.lamps[lamp].at[1], 3) for lamp in between}) > 1 else ""
    return f"""mapping: the song
sound:
  # Levels fall slowly, so that they breathe; what is struck is quick by itself.
  attack_ms: 30
  release_ms: 800
  rules:
    # The bass glows in the middle of the stage, and its drum strikes there.
    - {{band: bass, lamps: {heart}, curve: square, between: [0, 0.35]}}
    - {{onset: bass, lamps: {heart}, between: [0.75, 1], decay_ms: 400, least: 0.3}}
    # The tune rises beside it.
    - {{band: middle, lamps: {middle}{bar}, curve: {RISE}}}
    # The edges answer: what is struck in the middle and high bands.
    - {{band: treble, lamps: {edge}, curve: square, between: [0, 0.3]}}
    - {{onset: middle, lamps: {edge}, between: [0.35, 0.9], decay_ms: 350, least: 0.5}}
    - {{onset: treble, chase: {row}, between: [0.3, 0.9], decay_ms: 250, least: 0.25}}
textures:
  # Under it all a slow wave, two bars long, in time with the song and only while it sounds.
  sea: {{kind: wave, beats: 8, scale: {_wide(rig):g}, strength: 0, run: true}}
controls:
  - {{band: middle, sets: strength, texture: sea, between: [0, 0.45]}}
"""


def _names(rig: Rig, lamps: Lamps) -> str:
    """A list in flow style; JSON's quotes are YAML's."""
    return json.dumps([rig.lamps[lamp].name for lamp in lamps], ensure_ascii=False)


def _wide(rig: Rig) -> float:
    """Metres of one wave: once and a half over the stage."""
    across = [lamp.at[0] for lamp in rig.lamps]
    return round(max(1.0, 1.5 * (max(across) - min(across))), 2)


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
