"""Knows: what textures show, what starts each of them, and what the music does to the lamps, in words.

Must never know: the text of a mapping file, how a texture is drawn, or how music is heard.
"""

from __future__ import annotations

from collections.abc import Iterator

from bridge.shell.explain_words import LampWords, listed, note_words, span
from bridge.values.mapping import Mapping
from bridge.values.sound import SoundRule
from bridge.values.texture import Texture

Row = tuple[str, ...]


def texture_rows(mapping: Mapping, words: LampWords) -> Iterator[Row]:
    """Name, what it shows, what plays it, lamps, slots, line."""
    for texture in mapping.textures.values():
        yield (
            texture.name,
            shown_words(texture),
            listed(list(_starters(texture, mapping)), 4) or "nothing",
            words.names(texture.lamps),
            words.slots(texture.lamps),
            str(texture.line),
        )


def shown_words(texture: Texture) -> str:
    """What a texture shows, how fast, and how it lies on what is under it."""
    if texture.steps:
        said = [f"steps {listed([step.texture or 'dark' for step in texture.steps])}"]
    elif texture.film is not None:
        said = [f"film of {texture.film.length:g} s" if len(texture.film.starts) > 1 else "picture"]
    else:
        said = ["picture in motion" if texture.still is not None else texture.kind]
    if texture.beats:
        said.append(f"a cycle in {texture.beats:g} beats" if texture.beats != 1.0 else "a cycle a beat")
    elif texture.hz and texture.film is None:
        said.append(f"{texture.hz:g} cycles a second")
    if texture.backwards:
        said.append("backwards")
    said.append(span(texture.between))
    if texture.mix != "highest":
        said.append(texture.mix)
    if texture.mask:
        said.append("where keys light" if texture.mask == "keys" else "keys show through it")
    return ", ".join(said)


def _starters(texture: Texture, mapping: Mapping) -> Iterator[str]:
    name = texture.name
    if texture.run:
        yield "by itself"
    for key in mapping.texture_keys:
        if key.texture == name:
            yield note_words(key.notes, mapping.middle_c)
    for chord in mapping.chords:
        if chord.texture == name:
            yield f"the chord on line {chord.line}"
    for press in mapping.does:
        if press.texture == name:
            yield f"the press on line {press.line}"
    for rule in mapping.sound:
        if rule.texture == name:
            yield f"strokes of {band_words(rule.band, mapping)}"
    for other in mapping.textures.values():
        if any(step.texture == name for step in other.steps):
            yield f"a step of {other.name}"


def band_words(band: int, mapping: Mapping) -> str:
    """A band of the music by its name."""
    bands = mapping.hearing.bands
    return bands[band] if band < len(bands) else f"band {band + 1}"


def sound_rows(mapping: Mapping, words: LampWords) -> Iterator[Row]:
    """What is heard, what it does, slots, how, line."""
    for rule in mapping.sound:
        heard = f"{'strokes' if rule.strokes else 'level'} of {band_words(rule.band, mapping)}"
        if rule.least:
            heard += f" from {rule.least:g} up"
        how = span(rule.between) + ("" if rule.curve == "linear" else f", {_curve(rule)}")
        slots = words.slots(rule.lamps) if rule.lamps else ""
        yield heard, _done(rule, mapping, words), slots, how, str(rule.line)


def _done(rule: SoundRule, mapping: Mapping, words: LampWords) -> str:
    if rule.notes:
        return f"plays {note_words(rule.notes, mapping.middle_c)} on channel {rule.channel}"
    if rule.texture:
        return f"starts texture {rule.texture}"
    if rule.chase:
        return f"walks on through {words.names(rule.lamps)}"
    return words.names(rule.lamps) + (", as a bar" if rule.bar else "")


def _curve(rule: SoundRule) -> str:
    return rule.curve if isinstance(rule.curve, str) else "a curve of its own"
