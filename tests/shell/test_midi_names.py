"""Port names as players see them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.midi_names import Listed, listed, merged, pick, plain_name

words = st.text("abcdefgh -_0123456789", min_size=1, max_size=12).map(str.strip).filter(bool)
numbers = st.integers(0, 255)


@given(words, words, numbers, numbers, numbers, numbers)
def test_a_port_keeps_its_name_under_another_number(
    client: str, port: str, a: int, b: int, c: int, d: int
) -> None:
    """ALSA gives a keyboard other numbers at each plugging in; its name stays the same."""
    before = plain_name("alsa", f"{client}:{port} {a}:{b}", 0)
    after = plain_name("alsa", f"{client}:{port} {c}:{d}", 3)
    assert before == after


@given(words, st.integers(0, 20), st.integers(0, 20))
def test_a_port_keeps_its_name_in_another_place(name: str, before: int, after: int) -> None:
    """Windows numbers ports by their place in the list; its name does not hold the place."""
    assert (
        plain_name("winmm", f"{name} {before}", before)
        == plain_name("winmm", f"{name} {after}", after)
        == name
    )


@pytest.mark.parametrize(
    ("system", "raw", "plain"),
    [
        ("alsa", "Midi Through:Midi Through Port-0 14:0", "Midi Through Port-0"),
        ("alsa", "harbour keys:harbour keys MIDI 1 24:0", "harbour keys MIDI 1"),
        ("alsa", "sequencer:out 128:1", "sequencer:out"),
        ("jack", "a2j:harbour keys [24] (capture): harbour keys MIDI 1", "harbour keys MIDI 1"),
        ("jack", "Midi-Bridge:harbour keys:(capture_0) harbour keys MIDI 1", "harbour keys MIDI 1"),
        ("jack", "system:midi_capture_1", "system:midi_capture_1"),
        ("jack", "synth-01:synth 2", "synth 2"),
        ("jack", "synth:out", "synth:out"),
        ("core", "harbour keys Port 1", "harbour keys Port 1"),
        ("winmm", "harbour keys 2", "harbour keys"),
        ("winmm", "harbour keys", "harbour keys"),
        ("core", "bell\x1b[2Jtower\n", "bell [2Jtower"),
        ("core", "", "unnamed"),
    ],
)
def test_what_a_player_would_not_say_is_left_out(system: str, raw: str, plain: str) -> None:
    """Numbers, doubled names, the wrapping of bridges and what cannot be printed are no part of a name."""
    assert plain_name(system, raw, 2) == plain


@given(st.sampled_from(["alsa", "jack", "core", "winmm"]), st.lists(st.text(max_size=20), max_size=8))
def test_ports_of_one_system_differ(system: str, raws: list[str]) -> None:
    """No name is given twice, whatever the system says, and each port of the list is there."""
    ports = listed(system, raws)
    assert len(ports) == len(raws)
    assert len({port.name for port in ports}) == len(ports)


def test_two_alike_are_told_apart_by_the_key() -> None:
    """Two keyboards of one make have two names, and ALSA's numbers tell which of them is still there."""
    one, two = listed("alsa", ["keys:keys 20:0", "keys:keys 24:0"])
    assert (one.name, two.name) == ("keys", "keys (2)")
    assert one.base == two.base == "keys"
    (left,) = listed("alsa", ["keys:keys 24:0"])
    assert left.key == two.key
    assert left.name == "keys"


def test_a_neighbour_that_goes_changes_no_key() -> None:
    """On Windows the place in the list is no part of the key, since a neighbour's going changes it."""
    _, pads = listed("winmm", ["keys 0", "pads 1"])
    (left,) = listed("winmm", ["pads 0"])
    assert left == pads


def test_a_port_that_two_systems_show_is_listed_once() -> None:
    """A keyboard that ALSA has and a bridge shows to JACK is one keyboard, and ALSA's is meant."""
    alsa = listed("alsa", ["keys:keys MIDI 1 24:0", "pads:pads MIDI 1 28:0"])
    jack = listed("jack", ["a2j:keys [24] (capture): keys MIDI 1", "synth:out"])
    assert [(port.name, port.system) for port in merged([*alsa, *jack])] == [
        ("keys MIDI 1", "alsa"),
        ("pads MIDI 1", "alsa"),
        ("synth:out", "jack"),
    ]


def ports(*names: str) -> tuple[Listed, ...]:
    """Ports of these names."""
    return tuple(Listed(name, "core", name, name) for name in names)


@pytest.mark.parametrize(
    ("wanted", "meant"),
    [
        ("PAD", ["pads", "pads2"]),
        ("Pads", ["pads"]),
        ("ads2", ["pads2"]),
        ("organ", []),
        ("", ["pads", "pads2", "Größe"]),
        ("GRÖSSE", ["Größe"]),
    ],
)
def test_a_part_of_a_name_means_all_that_have_it(wanted: str, meant: list[str]) -> None:
    """Case does not matter, and a whole name means that port alone."""
    assert [port.name for port in pick(wanted, ports("pads", "pads2", "Größe"))] == meant
