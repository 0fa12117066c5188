"""Knows: what chords draw, in words, and which shapes can never be drawn because another always answers.

Must never know: the text of a mapping file, or how a table is laid out.

A shape is judged among those that listen to the same keys: every inversion it allows is tried, alone and with
each other note above or below. What loses then loses always: more notes make only larger chords.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence

from bridge.parts.chords import Pattern, best
from bridge.shell.explain_words import LampWords, note_words, who
from bridge.values.mapping import ChordRule, Mapping

Row = tuple[str, ...]

_ROOT = 60


def chord_rows(mapping: Mapping, words: LampWords) -> Iterator[Row]:
    """Chord, who plays it and where, what it draws, slots, line."""
    for rule in mapping.chords:
        heard = who(rule.source, rule.channel)
        if rule.notes:
            heard += f", {note_words(rule.notes, mapping.middle_c)}"
        lamps = rule.chase or tuple(lamp for lamp, level in rule.picture if level > 0.0)
        yield (
            chord_words(rule),
            heard,
            drawn_words(rule, words),
            words.slots(lamps) if lamps else "",
            str(rule.line),
        )


def chord_words(rule: ChordRule) -> str:
    """A chord by its name, and what it insists on."""
    said = [rule.name or ", ".join(str(interval) for interval in rule.intervals)]
    if rule.inversion != "any":
        said.append("root lowest" if rule.inversion == "root" else f"{rule.inversion} inversion")
    if rule.exact:
        said.append("exact")
    if rule.takes_keys:
        said.append("takes its keys")
    return ", ".join(said)


def drawn_words(rule: ChordRule, words: LampWords) -> str:
    """What a shape draws."""
    if rule.texture:
        said = [f"texture {rule.texture}"]
    elif rule.chase:
        step = f"{rule.step:g} beats" if rule.in_beats else f"{rule.step * 1000:g} ms"
        said = [f"chase through {words.names(rule.chase)}, {step} a step"]
    else:
        lamps = tuple(lamp for lamp, level in rule.picture if level > 0.0)
        levels = {level for _, level in rule.picture if level > 0.0}
        said = [words.names(lamps)]
        if levels and levels != {1.0}:
            said.append(f"at {min(levels):g}" + (f" to {max(levels):g}" if len(levels) > 1 else ""))
    if rule.move:
        said.append(f"moves with the {rule.move}")
    if rule.turn:
        said.append("turns with the inversion")
    if rule.then != "release":
        said.append("stays until the same chord" if rule.then == "stay" else "stays until the next shape")
    return ", ".join(said)


def never_drawn(mapping: Mapping) -> Iterator[str]:
    """Shapes that can never be drawn, and the ones that answer in their place."""
    groups: dict[tuple[str, int | None, frozenset[int], bool], list[ChordRule]] = defaultdict(list)
    for rule in mapping.chords:
        groups[rule.source, rule.channel, rule.notes, bool(rule.texture)].append(rule)
    for rules in groups.values():
        patterns = [Pattern(rule.intervals, n, rule.inversion, rule.exact) for n, rule in enumerate(rules)]
        for n, rule in enumerate(rules):
            winners = _winners(patterns[n], patterns)
            if winners and n not in winners:
                by = rules[winners.most_common(1)[0][0]]
                why = f"{by.name} on line {by.line} has the same notes and comes first"
                yield f"line {rule.line}: {rule.name} can never be drawn: {why}; {_remedy(rule, by)}"


def _winners(pattern: Pattern, patterns: Sequence[Pattern]) -> Counter[int]:
    """Which patterns answer when this one's chord is played; empty where none other has its notes."""
    same = [other for other in patterns if _turned_alike(pattern, other)]
    if len(same) < 2:
        return Counter()
    found: Counter[int] = Counter()
    stack = list(pattern.intervals)
    for inversion in range(len(stack)):
        bass = _ROOT + stack[inversion]
        chord = [bass, *(bass + (tone - stack[inversion]) % 12 for tone in stack if tone != stack[inversion])]
        held = [chord]
        for extra in range(12):
            if (_ROOT + extra) % 12 not in {note % 12 for note in chord}:
                held += [[*chord, _ROOT + 24 + extra], [*chord, _ROOT - 24 + extra]]
        for notes in held:
            reading = best(notes, patterns)
            # Where a larger chord takes the notes, this says nothing about its equals.
            if reading is not None and patterns[reading.pattern] in same:
                found[reading.pattern] += 1
    return found


def _turned_alike(one: Pattern, other: Pattern) -> bool:
    """True if the two have the same pitch classes on some root."""
    return any((other.mask << turn | other.mask >> 12 - turn) & 0xFFF == one.mask for turn in range(12))


def _remedy(rule: ChordRule, by: ChordRule) -> str:
    if rule.intervals == by.intervals and rule.inversion == by.inversion:
        return "take one of them out"
    return "put it before that one, or ask for an inversion"
