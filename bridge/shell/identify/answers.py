"""Knows: what somebody at the rig can say while a lamp is lit, and how keys and lines say it.

Must never know: lamps, terminals, or what an answer leads to.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

YES: Final = "yes"
NEXT: Final = "next"
BACK: Final = "back"
NONE: Final = "none"
NAMES: Final = "names"
QUIT: Final = "quit"
ASK: Final = "ask"
END: Final = "end"
"""The one that should light lights; on; back; nothing lights; these light; enough; a name will be typed;
nobody answers any more."""


@dataclass(frozen=True, slots=True)
class Answer:
    """One thing said; `text` is what was typed, for NAMES."""

    word: str
    text: str = ""


KEYS: Final = {
    "\r": YES,
    "\n": YES,
    "y": YES,
    "n": NEXT,
    " ": NEXT,
    "\x1b[C": NEXT,
    "\x1bOC": NEXT,
    "\xe0M": NEXT,
    "b": BACK,
    "\x1b[D": BACK,
    "\x1bOD": BACK,
    "\xe0K": BACK,
    "0": NONE,
    "w": ASK,
    "/": ASK,
    "q": QUIT,
    "\x04": QUIT,
}
"""Key as the terminal sends it -> what it says. The arrows are those of ECMA-48 in both cursor modes, and
of the Windows console (from memory)."""

WORDS: Final = {
    "": YES,
    "y": YES,
    "yes": YES,
    "n": NEXT,
    "next": NEXT,
    "b": BACK,
    "back": BACK,
    "0": NONE,
    "-": NONE,
    "none": NONE,
    "nothing": NONE,
    "q": QUIT,
    "quit": QUIT,
}
"""Line -> what it says; any other line names what lights. A lamp with such a name is written `=n`."""

KEY_HELP: Final = (
    "Enter: it lights, on   w: another one lights   0: nothing lights   n or →: on   b or ←: back   q: done"
)
LINE_HELP: Final = (
    "Answer each with Enter (it lights), the name of the one that lights instead (several with commas), "
    "0 (nothing lights), n (on), b (back) or q (done)."
)


def of_line(line: str) -> Answer:
    """What a typed line says."""
    text = line.strip()
    if text.lower() in WORDS:
        return Answer(WORDS[text.lower()])
    return Answer(NAMES, text.removeprefix("="))


def split_keys(typed: str) -> tuple[list[str], str]:
    """Keys in what a terminal sent, and what may be the beginning of one more."""
    keys: list[str] = []
    at = 0
    while at < len(typed):
        if typed[at] == "\x1b" and typed[at + 1 : at + 2] in ("[", "O", ""):
            if len(typed) - at < 3:
                return keys, typed[at:]
            keys.append(typed[at : at + 3])
            at += 3
        elif typed[at] == "\xe0":
            if len(typed) - at < 2:
                return keys, typed[at:]
            keys.append(typed[at : at + 2])
            at += 2
        else:
            keys.append(typed[at])
            at += 1
    return keys, ""


class Typing:
    """Keys into answers; while a name is typed it echoes, and takes the last letter back."""

    def __init__(self) -> None:
        self._text: str | None = None
        self._rest = ""
        self.echo = ""
        """What the terminal should show now; whoever shows it empties it."""

    @property
    def asking(self) -> bool:
        """True while a name is being typed."""
        return self._text is not None

    def feed(self, typed: str) -> list[Answer]:
        """The answers in what a terminal sent."""
        keys, self._rest = split_keys(self._rest + typed)
        out = []
        for key in keys:
            answer = self._letter(key) if self._text is not None else self._key(key)
            if answer is not None:
                out.append(answer)
        return out

    def _key(self, key: str) -> Answer | None:
        word = KEYS.get(key) or KEYS.get(key.lower())
        if word == ASK:
            self._text = ""
            self.echo += "  which one lights? its name, several with commas (Enter: nothing lights) "
            return None
        return Answer(word) if word else None

    def _letter(self, key: str) -> Answer | None:
        text = self._text or ""
        if key in ("\r", "\n"):
            self._text = None
            self.echo += "\n"
            return Answer(NAMES, text.strip().removeprefix("=")) if text.strip() else Answer(NONE)
        if key in ("\x7f", "\b"):
            if text:
                self._text = text[:-1]
                self.echo += "\b \b"
        elif len(key) == 1 and key.isprintable():
            self._text = text + key
            self.echo += key
        return None
