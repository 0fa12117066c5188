"""Knows: the kinds of output there are, by the word used in rig files, and the door to all of them.

Must never know: how any of them works.

To add one: its bytes in `wire/`, a class with `open`, `send` and `close` here (see `base.Output`), one entry.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from bridge.shell.outputs.artnet_udp import ArtnetOutput
from bridge.shell.outputs.base import Output, OutputWorker, close_all
from bridge.shell.outputs.memory import MemoryOutput
from bridge.shell.outputs.sacn_source import SacnSource
from bridge.shell.outputs.sacn_udp import SacnOutput
from bridge.shell.outputs.serial_port import SerialOutput
from bridge.shell.outputs.spelling import lights_nothing, output_from_text, outputs_from_texts, spec_name
from bridge.shell.outputs.stand_by import standing_by
from bridge.values.frame import SLOTS
from bridge.values.rig import OutputSpec, Rig

OUTPUTS: dict[str, Callable[[OutputSpec, int], Output]] = {
    "sacn": SacnOutput,
    "artnet": ArtnetOutput,
    "serial": SerialOutput,
    "memory": MemoryOutput,
}
"""Kind -> factory of (spec, top slot in use on the universe it sends; 512 where that is not known)."""


def top_sent(spec: OutputSpec, rig: Rig) -> int:
    """The highest slot in use on any universe that an output sends; 512 where that is not known."""
    return max((rig.top_slot(universe) for universe in spec.numbers(rig.universes)), default=0) or SLOTS


def make_outputs(specs: Iterable[OutputSpec], rig: Rig) -> list[Output]:
    """The outputs of a show, in the order of their specs; its sACN outputs are one source."""
    specs = tuple(specs)
    tops = {universe: rig.top_slot(universe) for universe in rig.universes}
    source = SacnSource() if any(spec.kind == "sacn" for spec in specs) else None
    made: list[Output] = []
    for spec in specs:
        if spec.kind == "sacn":
            made.append(SacnOutput(spec, tops, source=source))
        elif spec.kind == "artnet":
            made.append(ArtnetOutput(spec, tops))
        else:
            made.append(OUTPUTS[spec.kind](spec, top_sent(spec, rig)))
    return made


__all__ = [
    "OUTPUTS",
    "MemoryOutput",
    "Output",
    "OutputWorker",
    "close_all",
    "lights_nothing",
    "make_outputs",
    "output_from_text",
    "outputs_from_texts",
    "spec_name",
    "standing_by",
    "top_sent",
]
