"""How the outputs of a show are made from a rig."""

from __future__ import annotations

from bridge.shell.files import rig_from_text
from bridge.shell.outputs import make_outputs, top_sent
from bridge.shell.outputs.artnet_udp import ArtnetOutput
from bridge.shell.outputs.cid import sender_cid
from bridge.shell.outputs.memory import MemoryOutput
from bridge.shell.outputs.sacn_udp import SacnOutput
from bridge.shell.outputs.serial_port import SerialOutput
from bridge.values.rig import OutputSpec, Rig

RIG = """\
lamps: [{name: a, slot: 40, universe: 3}, {name: b, slot: 100, universe: 5}]
outputs:
  - {kind: sacn, host: 127.0.0.1, sends: all, early: true}
  - {kind: sacn, host: 127.0.0.2, sends: 3, as: 9, early: true, discover: false}
  - {kind: artnet, host: 127.0.0.1, sends: all}
  - {kind: serial, port: COM3, sends: 5}
  - {kind: memory, sends: 3}
"""


def rig() -> Rig:
    """Two universes, each kind of output."""
    return rig_from_text(RIG)[0]


def test_each_spec_has_its_output_in_order() -> None:
    """What is made is of the kind asked for, in the order of the file, and no more sources than one."""
    made = make_outputs(rig().outputs, rig())
    assert [type(one) for one in made] == [
        SacnOutput, SacnOutput, ArtnetOutput, SerialOutput, MemoryOutput,
    ]  # fmt: skip
    one, other = made[0], made[1]
    assert isinstance(one, SacnOutput)
    assert isinstance(other, SacnOutput)
    assert one._source is other._source
    assert one._source.cid == sender_cid()


def test_outputs_know_the_slots_in_use() -> None:
    """Each universe's own highest slot decides how much an early output sends; serial lines have theirs."""
    made = make_outputs(rig().outputs, rig())
    whole, single = made[0], made[1]
    assert isinstance(whole, SacnOutput)
    assert isinstance(single, SacnOutput)
    assert [len(packet) for packet in whole._picture.goodbye(0)] == [126 + 40, 126 + 100]
    assert [len(packet) for packet in single._picture.goodbye(0)] == [126 + 40]
    assert isinstance(made[3], SerialOutput)
    assert made[3].slots == 100


def test_the_busiest_universe_sets_the_pace() -> None:
    """The highest slot of all that an output sends; all 512 where nothing is known of the universe."""
    specs = rig().outputs
    assert [top_sent(spec, rig()) for spec in specs] == [100, 40, 100, 100, 40]
    assert top_sent(OutputSpec("sacn", sends=77), rig()) == 512
    assert top_sent(OutputSpec("sacn", whole=True), Rig()) == 512
