"""Knows: where answers come from: single keys of a terminal, or lines of whatever standard input is.

Must never know: what an answer means to a walk.
"""

from __future__ import annotations

import os
import queue
import select
import sys
import threading
from collections import deque
from collections.abc import Callable
from typing import Any, Protocol

from bridge.shell.identify.answers import END, KEY_HELP, LINE_HELP, Answer, Typing, of_line
from bridge.shell.tty import can_draw


class Hands(Protocol):
    """Somebody at the rig."""

    @property
    def help(self) -> str:
        """How to answer."""

    @property
    def keys(self) -> bool:
        """True where single keys answer, and a picture may be drawn between."""

    def poll(self) -> Answer | None:
        """The next thing said, if anything was; never waits. Asked once a frame, so each has its own."""

    def ask(self, question: str) -> str:
        """Ask, and wait for a line; empty where nobody answers."""

    def __enter__(self) -> Hands: ...

    def __exit__(self, *_: object) -> None: ...


def hands() -> Hands:
    """Keys where standard input and output are a terminal that can be drawn on, else lines."""
    if sys.stdin.isatty() and can_draw():
        return KeyHands()
    return LineHands()


class LineHands:
    """Lines of standard input, read by a thread of their own, since not every system can wait on a pipe.

    Args:
        read: gives the next piece of input, empty at its end.
    """

    help = LINE_HELP
    keys = False

    def __init__(self, read: Callable[[], bytes] | None = None) -> None:
        self._read = read or _reader()
        self._lines: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self._ended = False
        threading.Thread(target=self._listen, name="answers", daemon=True).start()

    def _listen(self) -> None:
        kept = b""
        while piece := self._piece():
            *lines, kept = (kept + piece).split(b"\n")
            for line in lines:
                self._lines.put(line.decode("utf-8", "replace"))
        if kept:
            self._lines.put(kept.decode("utf-8", "replace"))
        self._lines.put(None)

    def _piece(self) -> bytes:
        try:
            return self._read()
        except (OSError, ValueError):
            return b""

    def poll(self) -> Answer | None:
        """As `Hands.poll`; END once, when no more lines come."""
        if self._ended:
            return None
        try:
            line = self._lines.get_nowait()
        except queue.Empty:
            return None
        self._ended = line is None
        return Answer(END) if line is None else of_line(line)

    def ask(self, question: str) -> str:
        """As `Hands.ask`."""
        print(question, flush=True)
        line = None if self._ended else self._lines.get()
        self._ended = self._ended or line is None
        return (line or "").strip()

    def __enter__(self) -> LineHands:
        return self

    def __exit__(self, *_: object) -> None:
        pass


def _reader() -> Callable[[], bytes]:
    """Reads standard input past Python's own buffer: a thread that waits in there would hinder our exit."""
    try:
        number = sys.stdin.fileno()
    except (OSError, ValueError, AttributeError):
        return lambda: b""
    return lambda: os.read(number, 4096)


class KeyHands:
    """Single keys of this terminal; Ctrl-C still ends the program."""

    help = KEY_HELP
    keys = True

    def __init__(self) -> None:
        self._typing = Typing()
        self._said: deque[Answer] = deque()
        self._before: Any = None

    def __enter__(self) -> KeyHands:
        if os.name == "posix":
            import termios
            import tty

            self._before = termios.tcgetattr(sys.stdin.fileno())
            tty.setcbreak(sys.stdin.fileno())
        return self

    def __exit__(self, *_: object) -> None:
        if self._before is not None:
            import termios

            termios.tcsetattr(sys.stdin.fileno(), termios.TCSADRAIN, self._before)
            self._before = None

    def poll(self) -> Answer | None:
        """As `Hands.poll`; END when the terminal is gone."""
        try:
            typed = _waiting()
        except OSError:
            typed = None
        if typed is None:
            return Answer(END)
        self._said.extend(self._typing.feed(typed))
        if self._typing.echo:
            print(self._typing.echo, end="", flush=True)
            self._typing.echo = ""
        return self._said.popleft() if self._said else None

    def ask(self, question: str) -> str:
        """As `Hands.ask`."""
        try:
            return input(question + " ").strip()
        except EOFError:
            return ""


def _waiting() -> str | None:
    """What was typed and not read yet; None at the end of input."""
    if os.name != "posix":
        import msvcrt

        typed = ""
        while msvcrt.kbhit():  # type: ignore[attr-defined]
            letter: str = msvcrt.getwch()  # type: ignore[attr-defined]
            typed += "\xe0" if letter == "\x00" else letter
        return typed
    number = sys.stdin.fileno()
    if not select.select([number], [], [], 0.0)[0]:
        return ""
    piece = os.read(number, 256)
    return piece.decode("utf-8", "replace") if piece else None
