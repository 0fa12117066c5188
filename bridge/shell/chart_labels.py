"""Knows: what is written on each key and pad of a mapping's chart, and how a text is made to fit.

Must never know: pixels' colours, or how a key is drawn.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from bridge.parts.colours import Rgb, rgb
from bridge.shell.draw_light import font
from bridge.shell.explain_keys import is_pad
from bridge.shell.explain_words import LampWords, who
from bridge.values.mapping import DoRule, KeyRule, Mapping
from bridge.values.rig import Lamps, Rig


@dataclass(frozen=True, slots=True)
class Label:
    """What is written on one key.

    Args:
        text: the lamps it lights, or what it does.
        more: how many they are, or the slot of the only one. slots: all of them.
        colour: of its lamps, where all have the same.
    """

    text: str
    more: str = ""
    slots: str = ""
    colour: Rgb | None = None


@dataclass(frozen=True, slots=True)
class Manual:
    """The keys or the pads of one input and channel.

    Args:
        labels: by note; those without one are idle.
    """

    title: str
    pads: bool
    labels: dict[int, Label]


Place = tuple[str, int | None]


def manuals(rig: Rig, mapping: Mapping) -> list[Manual]:
    """A manual for each input and channel that rules name, in the order of the file."""
    words = LampWords(rig)
    rules: dict[Place, list[KeyRule]] = defaultdict(list)
    does: dict[Place, list[DoRule]] = defaultdict(list)
    for rule in mapping.keys:
        rules[rule.source, rule.channel].append(rule)
    for press in mapping.does:
        if press.trigger.kind == "note":
            does[press.trigger.source, press.trigger.channel].append(press)
    out = []
    for place in dict.fromkeys([*rules, *does]):
        labels = _labels(rig, words, rules[place], does[place])
        notes = sum(len(rule.notes) for rule in rules[place])
        pads = 2 * sum(len(rule.notes) for rule in rules[place] if is_pad(rule)) >= notes
        if labels:
            out.append(Manual(who(*place), pads, labels))
    return out


def _labels(rig: Rig, words: LampWords, rules: Iterable[KeyRule], does: Iterable[DoRule]) -> dict[int, Label]:
    lamps: dict[int, list[Lamps]] = defaultdict(list)
    said: dict[int, list[str]] = defaultdict(list)
    for rule in rules:
        for note, lit in zip(rule.notes, rule.lamps, strict=True):
            if lit and lit not in lamps[note]:
                lamps[note].append(lit)
                said[note].append(words.names(lit, 2).split(" (")[0])
    for press in does:
        for note in press.trigger.numbers:
            said[note].append(_press_words(press))
    labels = {}
    for note, texts in said.items():
        lit = tuple(dict.fromkeys(lamp for some in lamps[note] for lamp in some))
        colours = {rig.lamps[lamp].colour for lamp in lit}
        colour = rgb(colours.pop()) if len(colours) == 1 else None
        slots = f"slot{'s' if len(lit) > 1 else ''} {words.slots(lit)}" if lit else ""
        more = f"{len(lit)} lamps" if len(lit) > 1 else slots
        labels[note] = Label(" + ".join(dict.fromkeys(texts)), more, slots, colour)
    return labels


def _press_words(rule: DoRule) -> str:
    if rule.does == "release_all":
        return "let go"
    if rule.does == "look":
        return f"look {rule.look or 'none'}"
    return f"{rule.does} {rule.texture}".strip()


def fitted(text: str, length: float, sizes: Sequence[int]) -> tuple[int, str]:
    """The largest of the sizes in which a text fits in so many pixels; cut short where it fits in none."""
    for size in sizes:
        if font(size).getlength(text) <= length:
            return size, text
    return sizes[-1], _cut(text, length, sizes[-1])


def _cut(text: str, length: float, size: int) -> str:
    writing = font(size)
    while text and writing.getlength(text + "…") > length:
        text = text[:-1]
    return text.rstrip(" ,+") + "…"


def wrapped(text: str, length: float, size: int, most: int) -> list[str]:
    """A text in lines of so many pixels, broken between words; at most `most`, the last cut short."""
    writing = font(size)
    lines: list[str] = []
    for word in text.split():
        if lines and writing.getlength(f"{lines[-1]} {word}") <= length:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    if len(lines) > most:
        lines = [*lines[: most - 1], " ".join(lines[most - 1 :])]
    return [line if writing.getlength(line) <= length else _cut(line, length, size) for line in lines]
