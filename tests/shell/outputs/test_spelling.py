"""How outputs are written on the command line, and how they are shown."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.outputs import OUTPUTS, lights_nothing, output_from_text, outputs_from_texts, spec_name
from bridge.shell.outputs.spelling import not_one_node
from bridge.values.errors import UsageError
from bridge.values.rig import OutputSpec

RIGHT = [
    ("sacn:192.168.1.50/1", OutputSpec("sacn", "sacn 192.168.1.50 universe 1", 1, 1, "192.168.1.50")),
    ("sacn:192.168.1.50", OutputSpec("sacn", "sacn 192.168.1.50 universe 1", 1, 1, "192.168.1.50")),
    ("sacn:/7", OutputSpec("sacn", "sacn multicast universe 7", 1, 7)),
    ("sacn:node.local/63999", OutputSpec("sacn", "sacn node.local universe 63999", 1, 63999, "node.local")),
    ("sacn:[FE80::1%en0]/2", OutputSpec("sacn", "sacn fe80::1%en0 universe 2", 1, 2, "fe80::1%en0")),
    ("artnet:10.0.0.9/0", OutputSpec("artnet", "artnet 10.0.0.9 universe 0", 1, 0, "10.0.0.9")),
    ("artnet:10.0.0.9", OutputSpec("artnet", "artnet 10.0.0.9 universe 0", 1, 0, "10.0.0.9")),
    ("artnet:[::1]/32767", OutputSpec("artnet", "artnet ::1 universe 32767", 1, 32767, "::1")),
    ("break:/dev/ttyUSB0", OutputSpec("serial", "serial /dev/ttyUSB0 break", port="/dev/ttyUSB0")),
    ("break:auto", OutputSpec("serial", "serial auto break", port="auto")),
    ("packet:COM3", OutputSpec("serial", "serial COM3 packet", port="COM3", framing="packet")),
    (" memory ", OutputSpec("memory", "memory")),
]


@pytest.mark.parametrize(("text", "spec"), RIGHT)
def test_every_form_of_the_docs_is_read(text: str, spec: OutputSpec) -> None:
    """A text means one output, named as it is shown, of a kind there is."""
    assert output_from_text(text) == spec
    assert spec.kind in OUTPUTS


@pytest.mark.parametrize(
    ("text", "right"),
    [
        ("", "unknown output ''; write sacn:HOST/1, sacn:/1"),
        ("sacn", "output 'sacn' names no host; write sacn:HOST/1, or sacn:/1 for multicast"),
        (" artnet ", "names no host; write artnet:HOST/0, the node's own address"),
        ("break", "names no port; write break:PORT, such as break:/dev/ttyUSB0, break:COM3 or break:auto"),
        ("packet", "names no port; write packet:PORT"),
        ("sacn:", "names no host; write sacn:HOST/1, or sacn:/1 for multicast"),
        ("sacn:/", "no universe ''; write 1 to 63999"),
        ("sacn:1.2.3.4/0", "no universe '0'; write 1 to 63999"),
        ("sacn:1.2.3.4/64000", "no universe '64000'; write 1 to 63999"),
        ("sacn:1.2.3.4/1e3", "no universe '1e3'"),
        ("sacn:1.2.3.4/²", "no universe '²'"),
        ("sacn:1.2.3.4/-1", "no universe '-1'"),
        ("sacn:1.2.3.4/99999999999999999999", "no universe '9999"),
        ("sacn:fe80::1/1", r"write an IPv6 address in brackets, like sacn:\[::1\]/1"),
        ("sacn:1.2.3.4:5568/1", "leave out a port number"),
        ("sacn:[zz]/1", r"'zz' is no IPv6 address; write sacn:\[ADDRESS\]/N"),
        ("sacn:a b/1", "'a b' is no host name"),
        ("sacn:a/b/1", "'a/b' is no host name"),
        ("artnet:", "names no host; write artnet:HOST/0"),
        ("artnet:/0", "names no host; write artnet:HOST/0"),
        ("artnet:1.2.3.4/32768", "no universe '32768'; write 0 to 32767"),
        ("artnet:255.255.255.255/0", "broadcast address.*write artnet:HOST/0, the node's own address"),
        ("artnet:2.255.255.255/3", "broadcast address.*write artnet:HOST/3"),
        ("artnet:239.255.0.1/0", "multicast address"),
        ("artnet:0.0.0.0/0", "nobody's address"),
        ("break:", "names no port; write break:PORT"),
        ("packet: ", "names no port; write packet:PORT"),
        ("serial:COM3", "write break:PORT or packet:PORT"),
        ("memory:5", "did you mean 'memory'"),
        ("SACN:host/1", "did you mean 'sacn'"),
        ("artnett:host/1", "did you mean 'artnet'"),
        ("zzz:host", "unknown output 'zzz:host'; write sacn:HOST/1"),
    ],
)
def test_what_cannot_be_used_is_told_with_what_would_be_right(text: str, right: str) -> None:
    """Every refusal says what to write instead."""
    with pytest.raises(UsageError, match=right):
        output_from_text(text)


@given(
    st.one_of(
        st.text(max_size=40),
        st.builds(
            "{}{}{}".format, st.sampled_from(["sacn", "artnet", "break", "packet"]), st.just(":"), st.text()
        ),
    )
)
def test_any_text_is_an_output_or_a_usage_error(text: str) -> None:
    """No text raises anything else (law 6)."""
    try:
        spec = output_from_text(text)
    except UsageError:
        return
    assert spec.kind in OUTPUTS
    assert spec.name == spec_name(spec)


@pytest.mark.parametrize(
    ("text", "universes", "sends", "carried_as"),
    [
        ("sacn:h/3", (1, 2, 3), 3, 3),
        ("sacn:h/3", (1,), 1, 3),
        ("sacn:h/3", (5, 4), 4, 3),
        ("sacn:h", (4, 5), 4, 1),
        ("artnet:h/0", (1, 2), 1, 0),
        ("artnet:h/2", (1, 2), 2, 2),
        ("break:p", (2, 3), 2, 1),
        ("memory", (), 1, 1),
    ],
)
def test_the_number_picks_the_rigs_universe_where_there_is_one(
    text: str, universes: tuple[int, ...], sends: int, carried_as: int
) -> None:
    """/N goes out under N, and carries universe N of a rig that has it, else the rig's lowest."""
    spec = output_from_text(text, universes)
    assert (spec.sends, spec.carried_as) == (sends, carried_as)


@pytest.mark.parametrize(
    ("texts", "told"),
    [
        (
            ["sacn:h/1", "sacn:h/1"],
            "output 'sacn:h/1' is given twice: sacn h universe 1; leave one of them out",
        ),
        (
            ["sacn:h", "artnet:h", "sacn:h/1"],
            "output 'sacn:h/1' goes where 'sacn:h' goes: sacn h universe 1; leave",
        ),
        (
            ["break:COM3", "packet:COM3"],
            "output 'packet:COM3' goes where 'break:COM3' goes: serial COM3 packet",
        ),
        (["memory", "memory"], "output 'memory' is given twice: memory"),
        (["sacn:/1", "sacn:/1 "], "goes where 'sacn:/1' goes"),
    ],
)
def test_two_outputs_to_one_place_are_refused(texts: list[str], told: str) -> None:
    """A decoder cannot have two masters: what goes out twice is told with both spellings."""
    with pytest.raises(UsageError, match=re.escape(told)):
        outputs_from_texts(texts)


def test_outputs_of_a_command_line_stay_in_order() -> None:
    """Several outputs are those of each text, in the order given."""
    texts = ["sacn:h/2", "sacn:h/1", "sacn:/1", "artnet:h/1", "break:auto"]
    assert outputs_from_texts(texts, (1, 2)) == [output_from_text(text, (1, 2)) for text in texts]


@pytest.mark.parametrize(
    ("spec", "name"),
    [
        (OutputSpec("sacn", host="10.0.0.5", whole=True), "sacn 10.0.0.5 all universes"),
        (OutputSpec("sacn", sends=0, carried_as=11, whole=True), "sacn multicast all universes from 11"),
        (OutputSpec("artnet", carried_as=0, host="n", whole=True), "artnet n all universes"),
    ],
)
def test_a_whole_rig_is_shown_as_one(spec: OutputSpec, name: str) -> None:
    """What sends all universes says so, and from which number where they are moved."""
    assert spec_name(spec) == name


def test_an_own_name_is_shown() -> None:
    """A name the player gave stands before the one we would make."""
    assert spec_name(OutputSpec("sacn", "left dimmer", host="10.0.0.1")) == "left dimmer"


@pytest.mark.parametrize(
    "text", ["sacn:127.0.0.1/1", "artnet:127.0.0.9/0", "sacn:[::1]/1", "sacn:localhost/1"]
)
def test_an_output_into_this_machine_is_warned_of(text: str) -> None:
    """127.0.0.1 lights nothing outside this machine."""
    assert "lights nothing outside" in lights_nothing(output_from_text(text))


@pytest.mark.parametrize(
    "text", ["sacn:10.0.0.1/1", "sacn:/1", "artnet:node/0", "break:/dev/ttyUSB0", "memory"]
)
def test_an_output_that_may_reach_a_lamp_is_not_warned_of(text: str) -> None:
    """Multicast, other hosts and serial ports are left alone."""
    assert lights_nothing(output_from_text(text)) == ""


@pytest.mark.parametrize("host", ["10.0.1.255", "192.168.0.7", "node", "fe80::2"])
def test_an_address_that_may_be_a_node_is_taken(host: str) -> None:
    """10.0.1.255 is a node's in a network of 65534; only the system knows the netmask."""
    assert not_one_node(host) == ""
