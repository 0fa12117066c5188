"""Knows: which keys and pads drive which lamps and slots, what none of them reaches, and what several play.

Must never know: the text of a mapping file, or how a table is laid out.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator

from bridge.parts.percussion import PERCUSSION_CHANNEL
from bridge.shell.explain_words import LampWords, listed, note_words, span, who
from bridge.values.mapping import KeyRule, Mapping
from bridge.values.rig import Lamps, Rig

Row = tuple[str, ...]


def is_pad(rule: KeyRule) -> bool:
    """True for rules that drums and pads play as a rule: on the drum channel, or struck without a hold."""
    return rule.channel == PERCUSSION_CHANNEL or rule.mode == "shot"


def key_rows(mapping: Mapping, words: LampWords) -> Iterator[Row]:
    """Keys, who sends them, lamps, slots, how, line: a row for a stretch of keys whose slots run evenly."""
    for rule in mapping.keys:
        heard, how = who(rule.source, rule.channel), _how(rule)
        pad = is_pad(rule)
        for notes, lamps, each in _stretches(rule, words):
            said = words.one_each(lamps) if each else words.names(lamps)
            slots = words.slots_each(lamps) if each else words.slots(lamps)
            yield note_words(notes, mapping.middle_c, pad), heard, said, slots, how, str(rule.line)
    for play in mapping.texture_keys:
        covered = mapping.textures[play.texture].lamps
        yield (
            note_words(play.notes, mapping.middle_c),
            who(play.source, play.channel),
            f"texture {play.texture}: {words.names(covered)}",
            words.slots(covered),
            f"{play.mode}, {span(play.between)}",
            str(play.line),
        )


def _stretches(rule: KeyRule, words: LampWords) -> Iterator[tuple[list[int], Lamps, bool]]:
    """Keys that belong in one row: (notes, lamps, whether each note has one of the lamps)."""
    pairs = [(note, lamps) for note, lamps in zip(rule.notes, rule.lamps, strict=True) if lamps]
    at = 0
    while at < len(pairs):
        end, lamps = at + 1, pairs[at][1]
        while end < len(pairs) and pairs[end][1] == lamps:
            end += 1
        if end > at + 1 or len(lamps) > 1:
            yield [note for note, _ in pairs[at:end]], lamps, False
            at = end
            continue
        step: int | None = None
        while end < len(pairs) and len(pairs[end][1]) == 1:
            now = words.follow(pairs[end - 1][1][0], pairs[end][1][0])
            if now is None or (step is not None and now != step):
                break
            step, end = now, end + 1
        if end == at + 2 and step not in (1, -1):
            # Two lamps far apart are no run: the second may begin one.
            end = at + 1
        yield [note for note, _ in pairs[at:end]], tuple(one[0] for _, one in pairs[at:end]), True
        at = end


def _how(rule: KeyRule) -> str:
    """What a rule does with a strike, as far as it is not the usual."""
    said = [rule.mode]
    if rule.feel_name:
        said.append(rule.feel_name)
    said.append(span(rule.between))
    if rule.velocities != (1, 127):
        said.append(f"velocity {rule.velocities[0]}..{rule.velocities[1]}")
    for on, text in (
        (rule.merge == "latest", "latest"),
        (not rule.pedal, "no pedal"),
        (rule.solo, "solo"),
        (rule.repeat, f"repeat {rule.repeat:g} beats"),
        (rule.aftertouch, "aftertouch"),
        (rule.one_of, f"one of {rule.one_of}"),
        (rule.choke, f"choke {rule.choke}"),
    ):
        if on:
            said.append(text)
    return ", ".join(said)


def overlaps(one: tuple[str, int | None], other: tuple[str, int | None]) -> bool:
    """True if some key is heard by both (input, channel)."""
    return (not one[0] or not other[0] or one[0] == other[0]) and (
        one[1] is None or other[1] is None or one[1] == other[1]
    )


def unreached(rig: Rig, mapping: Mapping, words: LampWords) -> Iterator[str]:
    """Lamps that no key, pad, chord, texture or sound lights, and whether anything else does."""
    played = {lamp for rule in mapping.keys for lamps in rule.lamps for lamp in lamps}
    for shape in mapping.chords:
        # A shape that moves or turns may come over any place of its grid.
        wanders = (
            (lamp for row in shape.cells for lamp in row if lamp >= 0) if shape.move or shape.turn else ()
        )
        played |= {lamp for lamp, level in shape.picture if level > 0.0} | set(shape.chase) | set(wanders)
    played |= {lamp for texture in mapping.textures.values() for lamp in texture.lamps}
    played |= {lamp for heard in mapping.sound for lamp in heard.lamps}
    silent = tuple(lamp.index for lamp in rig.lamps if lamp.index not in played)
    if not silent:
        music = ", a texture or the music" if mapping.sound else " or a texture"
        yield f"every lamp has a key, a pad, a chord{music}"
        return
    set_up = {lamp for rule in mapping.sets if rule.what == "level" for lamp in rule.lamps}
    set_up |= {lamp for picture in mapping.looks.values() for lamp, level in picture if level > 0.0}
    faded = tuple(lamp for lamp in silent if lamp in set_up)
    dark = tuple(lamp for lamp in silent if lamp not in set_up)
    if faded:
        yield f"only looks and levels light {words.names(faded)}: slots {words.slots(faded)}"
    if dark:
        yield f"nothing lights {words.names(dark)}: slots {words.slots(dark)}"


def shared_keys(mapping: Mapping) -> Iterator[str]:
    """Keys that more than one rule hears, and what comes of it."""
    together: dict[tuple[int, ...], list[int]] = defaultdict(list)
    for note in range(128):
        rules = [n for n, rule in enumerate(mapping.keys) if note in rule.notes]
        for n in rules:
            heard = tuple(m for m in rules if m >= n and _same_strike(mapping.keys[n], mapping.keys[m]))
            if len(heard) > 1 and not any(
                set(heard) < set(known) and note in together[known] for known in together
            ):
                together[heard].append(note)
    for numbers, notes in together.items():
        lines = listed([str(mapping.keys[n].line) for n in numbers])
        yield f"{note_words(notes, mapping.middle_c)}: the rules on lines {lines} all answer"
    for does in mapping.does:
        mine = (does.trigger.source, does.trigger.channel)
        both = {
            note: rule.line
            for rule in mapping.keys
            for note in rule.notes
            if does.trigger.kind == "note"
            and note in does.trigger.numbers
            and overlaps(mine, (rule.source, rule.channel))
        }
        if both:
            lines = listed([str(line) for line in sorted(set(both.values()))])
            which = note_words(both, mapping.middle_c)
            yield f"{which}: does {does.does} (line {does.line}) and plays lamps (line {lines})"


def _same_strike(one: KeyRule, other: KeyRule) -> bool:
    """True if some strike of one key is heard by both."""
    return (
        overlaps((one.source, one.channel), (other.source, other.channel))
        and one.velocities[0] <= other.velocities[1]
        and other.velocities[0] <= one.velocities[1]
    )


def shared_lamps(mapping: Mapping, words: LampWords) -> Iterator[str]:
    """Lamps that the keys of several rules play, and which of them wins."""
    rules_of: dict[int, list[int]] = defaultdict(list)
    for n, rule in enumerate(mapping.keys):
        for lamp in sorted({lamp for lamps in rule.lamps for lamp in lamps}):
            rules_of[lamp].append(n)
    lamps_of: dict[tuple[int, ...], list[int]] = defaultdict(list)
    for lamp, numbers in sorted(rules_of.items()):
        if len(numbers) > 1:
            lamps_of[tuple(numbers)].append(lamp)
    plain: tuple[set[int], set[int]] = (set(), set())
    for rivals, lamps in lamps_of.items():
        rules = [mapping.keys[n] for n in rivals]
        if all(rule.merge == "highest" and not rule.solo for rule in rules):
            # Nothing is fought over where the highest shows: one line says so for all of these.
            plain[0].update(lamps)
            plain[1].update(rule.line for rule in rules)
            continue
        lines = listed([str(rule.line) for rule in rules])
        yield f"{words.names(tuple(lamps))}: lines {lines}; {_winner(rules)}"
    if plain[0]:
        lines = listed([str(line) for line in sorted(plain[1])], 12)
        yield f"{words.names(tuple(sorted(plain[0])))}: the highest level of the rules on lines {lines} shows"


def _winner(rules: Iterable[KeyRule]) -> str:
    merges = {rule.merge for rule in rules}
    alone = " (a solo rule puts the others out)" if any(rule.solo for rule in rules) else ""
    if merges == {"highest"}:
        return f"the highest level shows{alone}"
    if merges == {"latest"}:
        return f"the rule struck last shows{alone}"
    latest = listed([str(rule.line) for rule in rules if rule.merge == "latest"])
    return f"the highest level shows, but a strike of line {latest} replaces what was struck before it{alone}"
