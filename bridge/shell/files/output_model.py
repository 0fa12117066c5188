"""Knows: the words of an entry under `outputs`, one model for each kind.

Must never know: sockets, serial ports, or what a frame is.

To add a kind: a model here, a row in OUTPUT_MODELS, and one in OutputEntry for the schema.
"""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass
from typing import Annotated

from pydantic import ConfigDict, Discriminator, Field, Tag

from bridge.shell.files.check import Entry
from bridge.shell.files.leaves import Flag, Flaw, Leaf, LeafError, Number, Schema, Text, Whole, Word
from bridge.shell.files.nodes import Node, Scalar, Table, describe
from bridge.shell.outputs.spelling import UNIVERSE_RANGE, not_one_node
from bridge.values.frame import SLOTS
from bridge.wire.dmx_serial import BREAK_US

UNIVERSE = Whole(1, 63_999)

ALL = 0
"""What `sends: all` is read as: no universe has this number."""


@dataclass(frozen=True)
class Host(Leaf):
    """An address or a host's name; `one` wants the address of a single device."""

    one: bool = False

    def read(self, node: Node) -> str:
        """The address or name as written."""
        host = Text("an address, like 192.168.1.20").read(node)
        if any(letter.isspace() or letter in "/@[]" for letter in host):
            raise LeafError(Flaw(node, f"is {describe(node)}", "give an address, like 192.168.1.20"))
        if self.one and (reason := not_one_node(host)):
            raise LeafError(Flaw(node, reason, "give the node's own address", whole=True))
        return host

    def schema(self) -> Schema:
        """A text."""
        return Text().schema()


@dataclass(frozen=True)
class Sent(Leaf):
    """The number of a universe, or `all`."""

    def read(self, node: Node) -> int:
        """The number; ALL for `all`."""
        if isinstance(node, Scalar) and node.raw == "all":
            return ALL
        try:
            return UNIVERSE.read(node)
        except LeafError as error:
            (flaw,) = error.flaws
            raise LeafError(Flaw(node, flaw.what, f"{flaw.right}, or all")) from None

    def schema(self) -> Schema:
        """A number or the word."""
        return {"anyOf": [UNIVERSE.schema(), {"const": "all"}]}


@dataclass(frozen=True)
class Address(Leaf):
    """An IP address of this machine."""

    def read(self, node: Node) -> str:
        """The address as written."""
        text = Text("an address of this machine").read(node)
        try:
            ipaddress.ip_address(text)
        except ValueError:
            right = "give an address of this machine, like 192.168.1.2"
            raise LeafError(Flaw(node, f"is {describe(node)}", right)) from None
        return text

    def schema(self) -> Schema:
        """A text."""
        return Text().schema()


class Output(Entry):
    """What every output can say."""

    model_config = ConfigDict(json_schema_extra={"not": {"required": ["sends", "universe"]}})

    sends: Annotated[int | None, UNIVERSE] = Field(
        None, description="the universe of the rig that goes out; 1 unless given"
    )
    universe: Annotated[int | None, UNIVERSE] = Field(None, description="the same as sends")
    refresh_hz: Annotated[float | None, Number(1.0, 1_000.0)] = Field(
        None, description="its own rate, lower than the rig's"
    )


class Padded(Output):
    """Outputs that send as many slots as are in use."""

    pad_to: Annotated[int, Whole(24, SLOTS)] = Field(
        0, description="least number of slots sent, 24 to 512; up to the highest in use unless given"
    )
    early: Annotated[bool, Flag()] = Field(
        False,
        description="true: a key that goes down is sent at once and not with the next picture; only the "
        "slots in use then go out, for the fewer there are the sooner the next packet may follow",
    )
    least_gap_ms: Annotated[float | None, Number(0.0, 1_000.0, over=True)] = Field(
        None,
        description="with early: milliseconds from one packet to the next that the receiver needs, where it "
        "takes fewer than a DMX line carries (ANSI E1.11)",
    )


class Network(Padded):
    """Outputs that go out over a network."""

    sends: Annotated[int | None, Sent()] = Field(
        None, description="the universe of the rig that goes out, 1 unless given; all: every one it has"
    )
    interface: Annotated[str, Address()] = Field(
        "", description="address of the network interface to send from; the system's choice unless given"
    )


class Sacn(Network):
    """sACN: ANSI E1.31."""

    kind: Annotated[str, Word("kind", ("sacn",))] = Field(description="sacn")
    host: Annotated[str, Host()] = Field("", description="the receiver's address; multicast unless given")
    carried_as: Annotated[int | None, Whole(*UNIVERSE_RANGE["sacn"])] = Field(
        None,
        alias="as",
        description="the universe number it goes out under; that of sends unless given. With sends: all, the "
        "number of the lowest; the others follow at the same distances",
    )
    priority: Annotated[int, Whole(0, 200)] = Field(
        100, description="0 to 200; 100 unless given. Of two senders the higher is seen"
    )
    sync: Annotated[int, UNIVERSE] = Field(
        0,
        description="universe number on which a packet follows each picture that has receivers show all "
        "universes at one moment; none unless given",
    )
    discover: Annotated[bool, Flag()] = Field(
        True, description="false: its universes stay off the list sent every ten seconds, with multicast"
    )


class Artnet(Network):
    """Art-Net 4."""

    kind: Annotated[str, Word("kind", ("artnet",))] = Field(description="artnet")
    host: Annotated[str, Host(one=True)] = Field(description="the node's own address")
    carried_as: Annotated[int | None, Whole(*UNIVERSE_RANGE["artnet"])] = Field(
        None,
        alias="as",
        description="the universe number it goes out under, from 0; sends less one unless given. With sends: "
        "all, the number of the lowest; the others follow at the same distances",
    )


class Serial(Padded):
    """DMX512 on a serial port."""

    kind: Annotated[str, Word("kind", ("serial",))] = Field(description="serial")
    port: Annotated[str, Text("a port, like /dev/ttyUSB0, COM3, auto or a USB serial number")] = Field(
        description="the port, like /dev/ttyUSB0 or COM3; auto for the only one; or a USB serial number"
    )
    framing: Annotated[str, Word("framing", ("break", "packet"))] = Field(
        "break",
        description="break: we make the DMX break; packet: the interface does, and takes framed messages",
    )
    break_us: Annotated[int | None, Whole(92, 20_000)] = Field(
        None, description=f"length of the break in microseconds, 92 or more; {BREAK_US} unless given"
    )


class Memory(Output):
    """Pictures kept in memory, for trying out and for tests."""

    kind: Annotated[str, Word("kind", ("memory",))] = Field(description="memory")


OUTPUT_MODELS: dict[str, type[Output]] = {
    "sacn": Sacn,
    "artnet": Artnet,
    "serial": Serial,
    "memory": Memory,
}


def kind_of(node: object) -> str | None:
    """The kind an entry says it is."""
    kind = node.get("kind") if isinstance(node, Table) else None
    return kind.raw if isinstance(kind, Scalar) else None


OutputEntry = Annotated[
    Annotated[Sacn, Tag("sacn")]
    | Annotated[Artnet, Tag("artnet")]
    | Annotated[Serial, Tag("serial")]
    | Annotated[Memory, Tag("memory")],
    Discriminator(kind_of),
]
