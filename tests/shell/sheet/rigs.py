# ruff: noqa: E501 - an example of the language stays on its lines
"""Knows: rigs whose sheets are hard to set: small, large, crowded, hostile.

Must never know: how a sheet is made.
"""

from __future__ import annotations

from pathlib import Path

BOATHOUSE = (Path(__file__).parents[3] / "examples" / "boathouse" / "rig.yaml").read_text(encoding="utf-8")

LARGE = """\
rig: Harbour front
supplies: {north: {volts: 24, amps: 20}, south: {volts: 24, amps: 8}}
lamp_types:
  bulb: {watts: 1.5}
  head: {watts: 4, bits: 16, parts: {red: {at: [0, 0.2]}, green: {}, blue: {at: [0, -0.2]}}}
grids: [{name: wall, columns: 20, rows: 12, spacing: [0.5, 0.5], type: bulb, supply: north, slot: 1}]
lamps:
  - {name: mast, type: head, supply: south, slot: 1, universe: 2, at: [12, 3]}
  - {name: bow, type: head, supply: south, slot: 500, universe: 2, at: [13, 3]}
decoders: {one: {slots: 96}, two: {slots: 96, start: 97}, three: {slots: 96, start: 193}}
cables:
  - {name: trunk, from: north, carries: [one, two], length_m: 20, mm2: 2.5}
  - {name: mast run, from: south, carries: [mast, bow], length_m: 8, mm2: 0.75}
dmx: [{devices: 3, length_m: 30}, {devices: 1, universe: 2, terminated: true}]
guards: {flash: off}
outputs: [{kind: serial, port: x}]
"""

HOSTILE = """\
rig: "<script>document.title='owned'</script>\\"'& a very long name that somebody pasted from somewhere and that goes on"
supplies: {"<img src=x onerror=alert(1)>": {volts: 12, amps: 1}}
lamp_types: {"</style><script>x": {watts: 30, colour: '#0a0b0c'}}
lamps:
  - {name: "<svg onload=alert(2)>", type: "</style><script>x", supply: "<img src=x onerror=alert(1)>", slot: 1}
  - {name: "NAME", slot: 2, at: [0.01, 0]}
  - {name: "日本語のとても長いランプの名前です", slot: 512, colour: '#123456', at: [900, 0]}
decoders: {"]]><x>": {slots: 3}}
cables: [{name: "<b>'\\"&", carries: "<svg onload=alert(2)>", length_m: 100, mm2: 0.5}]
""".replace("NAME", "W" * 90)

SMALL = "lamps: [{name: a, slot: 1}]\n"
EMPTY = "rig: Nothing yet\nlamps:\n"

RIGS = {"boathouse": BOATHOUSE, "large": LARGE, "hostile": HOSTILE, "small": SMALL, "empty": EMPTY}
