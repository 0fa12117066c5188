"""Knows: the chart of a mapping: keyboards with the lamps' names on their keys, and pads.

Must never know: files, events, or how the lamps hang.

One keyboard or one set of pads for each input and channel; pads are the notes that are struck without a hold.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PIL import Image, ImageDraw

from bridge.parts.notes import is_white, note_name
from bridge.parts.percussion import percussion_name
from bridge.shell.chart_labels import Label, Manual, fitted, manuals, wrapped
from bridge.shell.draw_light import FAINT, GROUND, INK, RULE, font
from bridge.shell.whole_file import whole_file
from bridge.values.mapping import Mapping
from bridge.values.rig import Rig

Colour = tuple[int, int, int]

MARGIN, GAP = 40, 30
WHITE_WIDE, WHITE_TALL = 46, 248
BLACK_WIDE, BLACK_TALL = 30, 146
PAD_WIDE, PAD_TALL, PAD_GAP = 150, 116, 10
OCTAVES = 4
"""Octaves in one row; the next four stand below."""

PADS_ACROSS = 8
WIDTH = 2 * MARGIN + OCTAVES * 7 * WHITE_WIDE

IVORY, IVORY_IDLE = (226, 222, 208), (58, 70, 104)
EBONY, EBONY_IDLE = (30, 34, 46), (22, 31, 58)
WRITING, WRITING_FAINT = (24, 30, 48), (96, 98, 104)
PAD = (34, 46, 80)
STEEL = (120, 146, 188)


def keyboard_chart(rig: Rig, mapping: Mapping, path: str | Path) -> None:
    """Write a PNG of every key and pad with the names of the lamps it lights, and what else it does.

    Raises:
        DeviceError: the file cannot be written.
    """
    picture = keyboard_picture(rig, mapping)
    with whole_file(path) as file:
        picture.save(file, "PNG")


def keyboard_picture(rig: Rig, mapping: Mapping) -> Image.Image:
    """The chart."""
    parts = [_drawn(manual, mapping.middle_c) for manual in manuals(rig, mapping)]
    head = 92
    tall = head + sum(part.height + GAP for part in parts) + MARGIN
    image = Image.new("RGB", (WIDTH, max(tall, 240)), GROUND)
    pen = ImageDraw.Draw(image)
    pen.text((MARGIN, 26), mapping.name or "Keys and pads", font=font(26), fill=INK)
    rest = f"middle C is {mapping.middle_c}, note 60; a dot has the colour of the lamp"
    pen.text((MARGIN, 62), f"{rig.name}: {rest}" if rig.name else rest, font=font(14), fill=FAINT)
    if not parts:
        pen.text((MARGIN, 130), "No key and no pad plays a lamp.", font=font(18), fill=INK)
    top = head
    for part in parts:
        image.paste(part, (0, top))
        top += part.height + GAP
    return image


def _drawn(manual: Manual, middle_c: str) -> Image.Image:
    """One input: its title and its keys or pads."""
    body = _pads(manual.labels, middle_c) if manual.pads else _keys(manual.labels, middle_c)
    image = Image.new("RGB", (WIDTH, body.height + 34), GROUND)
    pen = ImageDraw.Draw(image)
    pen.text((MARGIN, 4), manual.title, font=font(17), fill=INK)
    pen.line((MARGIN, 30, WIDTH - MARGIN, 30), fill=RULE, width=2)
    image.paste(body, (0, 34))
    return image


def _keys(labels: dict[int, Label], middle_c: str) -> Image.Image:
    """Keyboards of four octaves each, those without a used key left out."""
    first, last = min(labels) // 12, max(labels) // 12
    starts = [12 * octave for octave in range(first, last + 1, OCTAVES)]
    starts = [start for start in starts if any(start <= note < start + 12 * OCTAVES for note in labels)]
    row = WHITE_TALL + 40
    image = Image.new("RGB", (WIDTH, len(starts) * row), GROUND)
    for place, start in enumerate(starts):
        # A short mapping gets a short keyboard.
        end = min(start + 12 * OCTAVES, 12 * (last + 1), 128)
        _octaves(image, place * row + 8, range(start, end), labels, middle_c)
    return image


def _octaves(image: Image.Image, top: int, notes: range, labels: dict[int, Label], middle_c: str) -> None:
    """One keyboard: white keys first, black ones over them."""
    pen = ImageDraw.Draw(image)
    whites = [note for note in notes if is_white(note)]
    left = {note: MARGIN + place * WHITE_WIDE for place, note in enumerate(whites)}
    for note in whites:
        _key(image, pen, note, left[note], top, labels.get(note), middle_c)
    for note in notes:
        if not is_white(note):
            x = left[note - 1] + WHITE_WIDE - BLACK_WIDE // 2
            _key(image, pen, note, x, top, labels.get(note), middle_c)


def _key(
    image: Image.Image,
    pen: ImageDraw.ImageDraw,
    note: int,
    x: int,
    top: int,
    label: Label | None,
    middle_c: str,
) -> None:
    """One key; the name of its lamp runs up along it."""
    white = is_white(note)
    wide, tall = (WHITE_WIDE - 3, WHITE_TALL) if white else (BLACK_WIDE, BLACK_TALL)
    fill = (IVORY if white else EBONY) if label else (IVORY_IDLE if white else EBONY_IDLE)
    edge = STEEL if label and not white else RULE
    pen.rounded_rectangle((x, top, x + wide, top + tall), radius=5, fill=fill, outline=edge, width=2)
    if white and (label or note % 12 == 0):
        pen.text(
            (x + wide / 2, top + tall + 4), note_name(note, middle_c), font=font(12), fill=INK, anchor="ma"
        )
        pen.text((x + wide / 2, top + tall + 19), str(note), font=font(11), fill=FAINT, anchor="ma")
    if label is None:
        return
    ink, faint = (WRITING, WRITING_FAINT) if white else (INK, FAINT)
    foot = 12 if label.colour else 0
    if label.colour:
        middle, low = x + wide / 2, top + tall - 13
        _dot(image, middle, low, 6, label.colour, ink)
    # White keys are free of black ones below these only.
    length = (tall - BLACK_TALL - 12 if white else tall - 10) - foot - 8
    size, name = fitted(label.text, length, (15, 14, 13, 12, 11) if white else (13, 12, 11))
    lines = [(name, size, ink)]
    if label.more:
        small = 11 if white else 10
        lines.append((fitted(label.more, length, (small,))[1], small, faint))
    _upward(image, lines, x + wide / 2, top + tall - 8 - foot - 8)


def _upward(image: Image.Image, lines: Sequence[tuple[str, int, Colour]], middle: float, foot: int) -> None:
    """Lines of text that run upwards from `foot`, side by side about `middle`."""
    total = sum(size + 3 for _, size, _ in lines) - 3
    x = middle - total / 2
    for text, size, ink in lines:
        writing = font(size)
        long = max(1, round(writing.getlength(text)) + 2)
        mask = Image.new("L", (long, size + 6), 0)
        ImageDraw.Draw(mask).text((0, 1), text, font=writing, fill=255)
        turned = mask.rotate(90, expand=True)
        image.paste(Image.new("RGB", turned.size, ink), (round(x) - 2, foot - turned.height), turned)
        x += size + 3


def _pads(labels: dict[int, Label], middle_c: str) -> Image.Image:
    """Pads in rows, each with its note, its drum and what it lights."""
    rows = -(-len(labels) // PADS_ACROSS)
    image = Image.new("RGB", (WIDTH, rows * (PAD_TALL + PAD_GAP) + 8), GROUND)
    pen = ImageDraw.Draw(image)
    for place, (note, label) in enumerate(sorted(labels.items())):
        down, across = divmod(place, PADS_ACROSS)
        x, y = MARGIN + across * (PAD_WIDE + PAD_GAP), 8 + down * (PAD_TALL + PAD_GAP)
        pen.rounded_rectangle((x, y, x + PAD_WIDE, y + PAD_TALL), radius=12, fill=PAD, outline=STEEL, width=2)
        pen.text((x + 12, y + 9), f"{note_name(note, middle_c)}  {note}", font=font(13), fill=FAINT)
        if label.colour:
            _dot(image, x + PAD_WIDE - 19, y + 18, 7, label.colour, PAD)
        drum = percussion_name(note)
        if drum:
            pen.text((x + 12, y + 27), drum, font=font(12), fill=FAINT)
        said = wrapped(label.text, PAD_WIDE - 24, 16, 2)
        for line, text in enumerate(said):
            pen.text((x + 12, y + 46 + line * 20), text, font=font(16), fill=INK)
        below = wrapped(label.slots, PAD_WIDE - 24, 12, 3 - len(said))
        for line, text in enumerate(reversed(below)):
            pen.text((x + 12, y + PAD_TALL - 22 - line * 15), text, font=font(12), fill=FAINT)
    return image


def _dot(image: Image.Image, x: float, y: float, radius: int, fill: Colour, edge: Colour) -> None:
    """A round dot with an edge, smooth at any size: drawn four times as large."""
    large = Image.new("L", (8 * radius + 8, 8 * radius + 8), 0)
    ImageDraw.Draw(large).ellipse((4, 4, 8 * radius + 3, 8 * radius + 3), fill=255)
    mask = large.resize((2 * radius + 2, 2 * radius + 2), Image.Resampling.BOX)
    small = mask.resize((2 * radius, 2 * radius), Image.Resampling.BOX)
    left, top = round(x) - radius - 1, round(y) - radius - 1
    image.paste(Image.new("RGB", mask.size, edge), (left, top), mask)
    image.paste(Image.new("RGB", small.size, fill), (left + 1, top + 1), small)
