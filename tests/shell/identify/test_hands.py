"""Keys and lines as answers."""

from __future__ import annotations

import os

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.shell.identify.answers import Answer, Typing, of_line
from bridge.shell.identify.hands import LineHands
from tests.shell.jack import until


def words(*typed: str) -> list[str]:
    """What keys say, typed in pieces."""
    typing = Typing()
    return [answer.word for piece in typed for answer in typing.feed(piece)]


def test_every_key() -> None:
    """Enter, n, b, space, q, the arrows of both cursor modes and 0; capitals too; other keys say nothing."""
    assert words("\r\nynN bB0qQ\x04") == [
        "yes",
        "yes",
        "yes",
        "next",
        "next",
        "next",
        "back",
        "back",
        "none",
        "quit",
        "quit",
        "quit",
    ]
    assert words("\x1b[C\x1bOC\x1b[D\x1bOD") == ["next", "next", "back", "back"]
    assert words("xz\x1b[A\x1b[Z") == []


def test_arrows_in_pieces() -> None:
    """An arrow whose bytes come one by one is one key."""
    assert words("\x1b", "[", "C", "\x1b[", "D") == ["next", "back"]


def test_typing_a_name() -> None:
    """After w a name is typed, letters that are keys included, and echoed; backspace takes back."""
    typing = Typing()
    assert typing.feed("w") == []
    assert typing.asking
    assert "which one lights?" in typing.echo
    typing.echo = ""
    assert typing.feed("qnbx\x7f\r") == [Answer("names", "qnb")]
    assert typing.echo == "qnbx\b \b\n"
    assert typing.feed("n") == [Answer("next")]


def test_typing_nothing() -> None:
    """w and Enter say that nothing lights; backspace on nothing is nothing."""
    assert Typing().feed("w\x7f\r") == [Answer("none")]


@given(st.text(max_size=30), st.integers(0, 30))
def test_any_keys_in_any_pieces(typed: str, cut: int) -> None:
    """However the bytes come in pieces, the answers are the same."""
    whole, parts = Typing(), Typing()
    assert whole.feed(typed) == parts.feed(typed[:cut]) + parts.feed(typed[cut:])


@pytest.mark.parametrize(
    ("line", "answer"),
    [
        ("", Answer("yes")),
        ("  N ", Answer("next")),
        ("none", Answer("none")),
        ("-", Answer("none")),
        ("Quit", Answer("quit")),
        (" roof.1.1 ", Answer("names", "roof.1.1")),
        ("=n", Answer("names", "n")),
    ],
)
def test_every_line(line: str, answer: Answer) -> None:
    """Words of any case, Enter, names, and =n for a lamp called n."""
    assert of_line(line) == answer


def test_lines_come_one_at_a_time_and_end_once() -> None:
    """Each poll gives one line, whatever pieces they came in; the end is told once."""
    near, far = os.pipe()
    hands = LineHands(lambda: os.read(near, 5))
    os.write(far, "roof.1.1\n\nbük".encode())
    first = until(hands.poll, "the first line")
    second = until(hands.poll, "the second line")
    assert hands.poll() is None
    os.write(far, b"\nlast")
    os.close(far)
    rest = [until(hands.poll, "a line") for _ in range(3)]
    assert [first, second, *rest] == [
        Answer("names", "roof.1.1"),
        Answer("yes"),
        Answer("names", "bük"),
        Answer("names", "last"),
        Answer("end"),
    ]
    assert hands.poll() is None
    assert hands.ask("more?") == ""
    os.close(near)


def test_asking_takes_the_next_line() -> None:
    """A question is answered by the line that follows."""
    pieces = iter([b"q\n", b"yes\n", b""])
    hands = LineHands(lambda: next(pieces))
    assert until(hands.poll, "the line") == Answer("quit")
    assert hands.ask("write it?") == "yes"


def test_input_that_fails_is_an_end() -> None:
    """Standard input that cannot be read counts as nobody."""

    def broken() -> bytes:
        raise OSError(9, "bad file")

    assert until(LineHands(broken).poll, "the end") == Answer("end")
