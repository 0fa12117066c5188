"""Knows: how an output is written on the command line, how it is shown, and which two are one and the same.

Must never know: how any output works.
"""

from __future__ import annotations

import difflib
import ipaddress
from collections.abc import Iterable

from bridge.values.errors import UsageError
from bridge.values.rig import OutputSpec

UNIVERSE_RANGE = {"sacn": (1, 63999), "artnet": (0, 32767)}
"""Numbers a universe may go out under: ANSI E1.31 clause 6.2.7; Art-Net 4, Port-Address (15 bit)."""

FORMS = "sacn:HOST/1, sacn:/1 (multicast), artnet:HOST/0, break:PORT, packet:PORT or memory"

_WORDS = ("sacn", "artnet", "break", "packet", "memory")


_NO_HOST = {
    "sacn": "names no host; write sacn:HOST/1, or sacn:/1 for multicast",
    "artnet": "names no host; write artnet:HOST/0, the node's own address",
}
_NO_PORT = "names no port; write {0}:PORT, such as {0}:/dev/ttyUSB0, {0}:COM3 or {0}:auto"


def outputs_from_texts(texts: Iterable[str], universes: tuple[int, ...] = (1,)) -> list[OutputSpec]:
    """All outputs of a command line, each as `output_from_text`.

    Raises:
        UsageError: one that cannot be read, or two that go to the same place.
    """
    found: dict[object, tuple[str, OutputSpec]] = {}
    for text in texts:
        spec = output_from_text(text, universes)
        place = line_of(spec)
        if place in found:
            before, _ = found[place]
            again = "is given twice" if text == before else f"goes where {before!r} goes"
            raise UsageError(f"output {text!r} {again}: {spec.name}; leave one of them out")
        found[place] = (text, spec)
    return [spec for _, spec in found.values()]


def line_of(spec: OutputSpec) -> object:
    """What an output has to itself: a decoder cannot have two masters. Equal where two outputs go to one
    place.

    Two that send whole rigs may overlap nonetheless; that takes the rig's universes to see.
    """
    if spec.kind == "serial":
        return (spec.port,)
    sent = (spec.sends, spec.carried_as) if spec.whole else spec.carried_as
    return (spec.kind, spec.host, spec.whole, sent)


def output_from_text(text: str, universes: tuple[int, ...] = (1,)) -> OutputSpec:
    """An output as written after `--out`.

    `/N` is the number the universe goes out under. It also picks which universe of the rig goes out: number
    N where the rig has it, else the rig's lowest. So `sacn:HOST/3` carries universe 3 of a rig that has one,
    and the only universe of a small rig under the number 3; a rig of several needs one `--out` for each.
    Without `/N`, sACN begins at 1 and Art-Net at 0. Serial ports carry the rig's lowest universe.

    Args:
        text: `sacn:HOST/1`, `sacn:/1` (multicast), `artnet:HOST/0`, `break:PORT`, `packet:PORT` or `memory`;
            an IPv6 address stands in brackets; PORT may be `auto` or a USB serial number.
        universes: universe numbers of the rig, in any order.

    Raises:
        UsageError: with what would be right.
    """
    lowest = min(universes, default=1)
    kind, colon, rest = text.strip().partition(":")
    if kind in UNIVERSE_RANGE and colon:
        return _network(text, kind, rest, universes, lowest)
    if kind in ("break", "packet") and colon:
        if not rest.strip():
            raise UsageError(f"output {text!r} {_NO_PORT.format(kind)}")
        return _named(OutputSpec("serial", sends=lowest, port=rest.strip(), framing=kind))
    if kind == "memory" and not rest:
        return _named(OutputSpec("memory", sends=lowest))
    raise UsageError(_unknown(text, kind))


def _network(text: str, kind: str, rest: str, universes: tuple[int, ...], lowest: int) -> OutputSpec:
    first, last = UNIVERSE_RANGE[kind]
    host, slash, number = rest.strip().rpartition("/") if "/" in rest else (rest.strip(), "", "")
    carried_as = first
    if slash:
        # isascii: '²' is a digit to isdigit() and an error to int().
        if not (number.isascii() and number.isdigit() and len(number) <= 5 and first <= int(number) <= last):
            raise UsageError(
                f"output {text!r} has no universe {number!r}; write {first} to {last} after the slash"
            )
        carried_as = int(number)
    host = _host(text, kind, host)
    if not host and (kind == "artnet" or not slash):
        raise UsageError(f"output {text!r} {_NO_HOST[kind]}")
    if kind == "artnet" and (reason := not_one_node(host)):
        raise UsageError(f"output {text!r}: {reason}; write artnet:HOST/{carried_as}, the node's own address")
    sends = carried_as if carried_as in universes else lowest
    return _named(OutputSpec(kind, sends=sends, carried_as=carried_as, host=host))


def _host(text: str, kind: str, host: str) -> str:
    if host.startswith("[") and host.endswith("]"):
        try:
            return str(ipaddress.IPv6Address(host[1:-1]))
        except ValueError:
            raise UsageError(
                f"output {text!r}: {host[1:-1]!r} is no IPv6 address; write {kind}:[ADDRESS]/N"
            ) from None
    if ":" in host:
        raise UsageError(
            f"output {text!r}: a colon in the host; write an IPv6 address in brackets, like {kind}:[::1]/1, "
            f"and leave out a port number: the standard fixes it"
        )
    if any(letter.isspace() or letter in "/[]@" for letter in host):
        raise UsageError(f"output {text!r}: {host!r} is no host name; write one of {FORMS}")
    return host


def not_one_node(host: str) -> str:
    """Why an address is not that of one node, or empty where it may well be.

    The system knows the netmasks and refuses other broadcast addresses when a packet is sent to them.
    """
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        return ""
    if address.is_multicast:
        return f"{host} is a multicast address, and ArtDmx goes to one node"
    if isinstance(address, ipaddress.IPv4Address) and int(address) & 0xFFFFFF == 0xFFFFFF:
        return f"{host} is a broadcast address, which makes every device on the network read every packet"
    if address.is_unspecified:
        return f"{host} is nobody's address"
    return ""


def spec_name(spec: OutputSpec) -> str:
    """How an output is shown: its own name, else like `sacn 127.0.0.1 universe 1` or `serial COM3 break`.

    One that sends a whole rig is `sacn 10.0.0.5 all universes`, with `from 11` where the lowest goes out as
    11.
    """
    if spec.name:
        return spec.name
    if spec.whole:
        begins = "" if spec.sends else f" from {spec.carried_as}"
        return f"{spec.kind} {spec.host or 'multicast'} all universes{begins}"
    if spec.kind in UNIVERSE_RANGE:
        return f"{spec.kind} {spec.host or 'multicast'} universe {spec.carried_as}"
    if spec.kind == "serial":
        return f"serial {spec.port} {spec.framing}"
    return spec.kind


def lights_nothing(spec: OutputSpec) -> str:
    """A warning for an output that ends inside this machine, empty for one that may reach a lamp."""
    if spec.kind not in UNIVERSE_RANGE:
        return ""
    try:
        inside = ipaddress.ip_address(spec.host).is_loopback
    except ValueError:
        inside = spec.host.lower().rstrip(".") == "localhost"
    if not inside:
        return ""
    return f"{spec.host} is this machine itself: {spec_name(spec)} lights nothing outside it"


def _named(spec: OutputSpec) -> OutputSpec:
    return OutputSpec(
        spec.kind,
        spec_name(spec),
        spec.sends,
        spec.carried_as,
        spec.host,
        port=spec.port,
        framing=spec.framing,
    )


def _unknown(text: str, kind: str) -> str:
    near = difflib.get_close_matches(kind.lower(), _WORDS, 1)
    if kind in _NO_HOST and text.strip() == kind:
        return f"output {text!r} {_NO_HOST[kind]}"
    if kind in ("break", "packet") and text.strip() == kind:
        return f"output {text!r} {_NO_PORT.format(kind)}"
    if kind == "serial":
        return f"output {text!r}: say how the port is driven; write break:PORT or packet:PORT"
    if near:
        return f"output {text!r}: did you mean {near[0]!r}? write {FORMS}"
    return f"unknown output {text!r}; write {FORMS}"
