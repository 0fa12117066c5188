"""Knows: the kinds of output there are, by the word used in rig files, and the door to all of them.

Must never know: how any of them works.

To add one: its bytes in `wire/`, a class with `open`, `send` and `close` here (see `base.Output`), one entry.
"""

from __future__ import annotations

from collections.abc import Callable

from bridge.shell.outputs.artnet_udp import ArtnetOutput
from bridge.shell.outputs.base import Output, OutputWorker, close_all
from bridge.shell.outputs.memory import MemoryOutput
from bridge.shell.outputs.sacn_udp import SacnOutput
from bridge.shell.outputs.serial_port import SerialOutput
from bridge.shell.outputs.spelling import lights_nothing, output_from_text, spec_name
from bridge.values.rig import OutputSpec

OUTPUTS: dict[str, Callable[[OutputSpec, int], Output]] = {
    "sacn": SacnOutput,
    "artnet": ArtnetOutput,
    "serial": SerialOutput,
    "memory": MemoryOutput,
}
"""Kind -> factory of (spec, top slot in use on the universe it sends; 512 where that is not known)."""

__all__ = [
    "OUTPUTS",
    "MemoryOutput",
    "Output",
    "OutputWorker",
    "close_all",
    "lights_nothing",
    "output_from_text",
    "spec_name",
]
