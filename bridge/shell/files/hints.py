"""Knows: keys that players write where the language has other words for it, and words of later versions.

Must never know: how a file is read, or what any word does.
"""

from __future__ import annotations

from typing import Final

_FEEL: Final = "times stand in a feel: define one under feels: and say feel: and its name"
_CONTROLS: Final = "what notes and controllers set or do stands under controls:"
_GRID: Final = "say over: and the name of a grid"
_RIG: Final = "lamps, grids and groups stand in the rig file"

FILE_HINTS: Final = {
    "pads": "pads send notes: write their rules under keys:",
    "drums": "drums send notes: write their rules under keys:",
    "knobs": "write them under controls:",
    "faders": "write them under controls:",
    "shapes": "write it under chords:",
    "window_ms": "write it under chords:",
    "name": "say mapping: and the name",
    "groups": _RIG,
    "lamps": _RIG,
    "grids": _RIG,
    "channel": "say it in each rule",
    "transpose": "say it in each rule",
    "pedal": "say it in each rule",
}
"""At the top of a mapping."""

KEY_HINTS: Final = {
    "attack_ms": _FEEL,
    "decay_ms": _FEEL,
    "sustain": _FEEL,
    "release_ms": _FEEL,
    "fade_ms": _FEEL,
    "level": "say between: [low, high], the levels of the softest and the hardest strike",
    "levels": "say between: [low, high], the levels of the softest and the hardest strike",
    "toggle": "say mode: latch",
    "latch": "say mode: latch",
    "hold": "say mode: hold",
    "shot": "say mode: shot",
    "group": "lamps: takes groups too; of latches that share one_of: one is on at a time",
    "octave": "say transpose: 12 for an octave",
    "debounce_ms": "say ignore_repeat_ms",
    "does": _CONTROLS,
    "sets": _CONTROLS,
    "look": _CONTROLS,
    "control": _CONTROLS,
    "program": _CONTROLS,
    "chord": "chords and what they draw stand under chords: shapes:",
}
"""In a rule under `keys`."""

CONTROL_HINTS: Final = {
    "cc": "say control: and its number",
    "pitch": "say bend: true",
    "wheel": "say bend: true, or control: 1 for the modulation wheel",
    "aftertouch": "say pressure: true",
    "velocity": "a press counts at any velocity; leave it out",
    "level": "say sets: level, and lamps:",
    "master": "say sets: master",
    "blackout": "say does: blackout",
}
"""In an entry under `controls`."""

SHAPE_HINTS: Final = {
    "mode": "say then: stay for a shape that stays until the same chord again",
    "velocity": "a chord plays at the highest of its velocities; leave it out",
    "root": "a chord sounds on any root; notes: says which keys count",
    "spread": "a shape lights all its lamps; for one after the other say chase:",
    "grid": _GRID,
    "on": _GRID,
    "rows": "say draw: and rows of . * and 1 to 9",
    "picture": "say draw: and rows of . * and 1 to 9",
    "attack_ms": _FEEL,
    "decay_ms": _FEEL,
    "sustain": _FEEL,
    "release_ms": _FEEL,
    "window_ms": "write it beside shapes:",
}
"""In an entry under `chords: shapes:`."""

LATER_SECTIONS: Final[tuple[str, ...]] = ()
LATER_SETS: Final = ("sensitivity",)
LATER_DOES: Final = ("sound", "loop")
"""Words kept for what is to come, so that no file uses them otherwise; each goes when its day comes."""
