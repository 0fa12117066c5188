"""Knows: what turns and presses set and do, in words, with the lamps and slots they reach.

Must never know: the text of a mapping file, or how a table is laid out.
"""

from __future__ import annotations

from collections.abc import Iterator

from bridge.shell.explain_moving import band_words
from bridge.shell.explain_words import LampWords, listed, note_words, span, who
from bridge.values.mapping import DoRule, Mapping, SetRule, Trigger
from bridge.values.texture import TEXTURE_SETTINGS

Row = tuple[str, ...]

_SECONDS = ("attack", "decay", "release", "fade")


def trigger_words(trigger: Trigger, mapping: Mapping) -> str:
    """What is turned or pressed."""
    numbers = listed([str(number) for number in trigger.numbers])
    if trigger.kind == "note":
        return note_words(trigger.numbers, mapping.middle_c)
    if trigger.kind == "program":
        # Instruments count programs from 1, the wire from 0.
        return f"program {listed([str(number + 1) for number in trigger.numbers])}"
    if trigger.kind == "control14":
        return f"control {numbers} with {listed([str(number + 32) for number in trigger.numbers])} (14 bits)"
    if trigger.kind == "bend":
        return "pitch wheel"
    if trigger.kind == "pressure":
        return "pressure"
    if trigger.kind in ("band", "onset"):
        bands = listed([band_words(number, mapping) for number in trigger.numbers])
        return f"{'level' if trigger.kind == 'band' else 'strokes'} of {bands}"
    return f"{trigger.kind} {numbers}".strip()


def control_rows(mapping: Mapping, words: LampWords) -> Iterator[Row]:
    """What is turned or pressed, who sends it, what it sets or does, lamps with their slots, line."""
    for rule in mapping.sets:
        yield (
            trigger_words(rule.trigger, mapping),
            who(rule.trigger.source, rule.trigger.channel),
            sets_words(rule),
            f"{words.names(rule.lamps)}: {words.slots(rule.lamps)}" if rule.lamps else "",
            str(rule.line),
        )
    for does in mapping.does:
        look = tuple(lamp for lamp, level in mapping.looks.get(does.look, ()) if level > 0.0)
        yield (
            trigger_words(does.trigger, mapping),
            who(does.trigger.source, does.trigger.channel),
            does_words(does),
            f"{words.names(look)}: {words.slots(look)}" if look else "",
            str(does.line),
        )


def sets_words(rule: SetRule) -> str:
    """What a knob sets, and between what."""
    if rule.what == "master":
        said = "master" if rule.lamps else "master of all"
    elif rule.what in ("level", "tempo", "fade"):
        said = {"level": "level", "tempo": "tempo", "fade": "fade of looks"}[rule.what]
    elif rule.what == "look":
        said = f"look {rule.name}"
    elif rule.what in TEXTURE_SETTINGS:
        said = f"{rule.what} of {f'texture {rule.name}' if rule.name else 'every texture'}"
    else:
        said = f"{rule.what} of {rule.name or 'every feel'}"
    scale, unit = (1000.0, " ms") if rule.what in _SECONDS else (1.0, "")
    ends = span((rule.between[0] * scale, rule.between[1] * scale), unit)
    return f"{said}, {ends}" + (", by takeover" if rule.takeover else "")


def does_words(rule: DoRule) -> str:
    """What a press does."""
    if rule.does == "blackout":
        return "blackout, press and press again" if rule.toggle else "blackout while held"
    if rule.does == "release_all":
        return "lets go of everything"
    if rule.does == "look":
        fade = "" if rule.fade is None else f" in {rule.fade * 1000:g} ms"
        return (f"look {rule.look}" if rule.look else "no look") + fade
    if rule.does == "texture":
        return f"texture {rule.texture}" if rule.texture else "no texture"
    return rule.does
