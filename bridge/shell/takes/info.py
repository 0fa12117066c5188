"""Knows: what a take is like, in lines for people.

Must never know: how it is stored, who prints the lines.
"""

from __future__ import annotations

from collections import Counter

import numpy as np

from bridge.parts.notes import note_name
from bridge.shell.draw import lamp_levels
from bridge.shell.files.mapping import middle_c_of
from bridge.shell.takes.gaps import Progress, quiet
from bridge.shell.takes.reader import Take
from bridge.shell.takes.recorder import LATE_WORD
from bridge.values.events import Do, Event, NewMapping, NoteOn, Picture, RealTime
from bridge.values.frame import SLOTS, Frame
from bridge.values.rig import Rig
from bridge.wire.take_frames import EARLY

MOST_NAMES = 12
"""Names in a line; the rest is counted."""


def info(take: Take, rig: Rig | None = None, progress: Progress = quiet) -> list[str]:
    """Length, how far it goes, notes, lamps, late and left-out frames, guards that acted, what is missing.

    Args:
        rig: the take's own rig, to name lamps; slots are named without one.
    """
    gaps = take.check(progress)
    header = take.header
    lines = [f"{take.path.name}: {_length(take.ends)} at {header.refresh_hz:g} frames a second, {take.reach}"]
    if header.title or header.made or header.program:
        lines.append(
            "recorded: " + ", ".join(text for text in (header.title, header.made, header.program) if text)
        )
    lines.append(f"rig: {header.rig_file or 'not kept'} ({header.rig_print})")
    lines.append(f"mapping: {header.mapping_file or 'not kept'} ({header.mapping_print})")
    if header.song:
        lines.append(f"song: {header.song} from {header.begins_at:g} s, offset {header.offset_ms:g} ms")
    lines += _played(take)
    lines += _shown(take, rig, progress)
    late = [
        float(remark.data) for remark in take.remarks() if remark.kind == LATE_WORD and _real(remark.data)
    ]
    if late:
        lines.append(f"late frames: {len(late)}, by {max(late):.1f} ms at most")
    acted = Counter(remark.kind for remark in take.remarks() if remark.kind != LATE_WORD)
    lines.append("guards and remarks: " + (_counted(acted) if acted else "none"))
    if gaps:
        lines.append("missing: " + "; ".join(str(gap) for gap in gaps))
    return lines


def _real(data: object) -> bool:
    return isinstance(data, int | float)


def _length(seconds: float) -> str:
    minutes, rest = divmod(seconds, 60.0)
    hours, minutes = divmod(int(minutes), 60)
    return f"{hours}:{minutes:02d}:{rest:04.1f}" if hours else f"{minutes}:{rest:04.1f}"


def _counted(counts: Counter[str]) -> str:
    shown = [
        f"{name} {count} times" if count > 1 else f"{name} once"
        for name, count in counts.most_common(MOST_NAMES)
    ]
    more = len(counts) - len(shown)
    return ", ".join(shown) + (f" and {more} more" if more > 0 else "")


def _played(take: Take) -> list[str]:
    """Notes by port and channel, and the other events."""
    notes: Counter[str] = Counter()
    others: Counter[str] = Counter()
    low, high, late = 127, 0, 0.0
    for k, _, event in take.events():
        if isinstance(event, NoteOn):
            notes[f"{event.port or 'no name'} {event.channel}"] += 1
            low, high = min(low, event.note), max(high, event.note)
            # A frame takes what came since the frame before; what waited longer came late.
            late = max(late, (k - 1) / take.header.refresh_hz - event.stamp)
        elif not isinstance(event, Picture):
            others[_kind(event)] += 1
    lines = ["notes: none"]
    if notes:
        by = ", ".join(f"{where}: {count}" for where, count in notes.most_common(MOST_NAMES))
        middle_c = middle_c_of(take.header.mapping)
        reach = f"{note_name(low, middle_c)} to {note_name(high, middle_c)}"
        lines = [f"notes: {sum(notes.values())} from {reach} ({by})"]
        if late > 1e-6:
            lines.append(f"the latest note waited {late * 1000:.1f} ms longer than a frame")
    if others:
        lines.append("other events: " + _counted(others))
    return lines


def _kind(event: Event) -> str:
    if isinstance(event, Do):
        return event.word
    if isinstance(event, RealTime):
        return event.kind
    if isinstance(event, NewMapping):
        return "new mapping"
    return "".join(f" {c.lower()}" if c.isupper() else c for c in type(event).__name__).strip()


def _shown(take: Take, rig: Rig | None, progress: Progress) -> list[str]:
    """Frames, those left out, and what was ever lit."""
    count = len(take.header.universes)
    peak = np.zeros((count, SLOTS), dtype=np.uint8)
    frames = changes = early = 0
    for row in take.frame_rows():
        frames += row.shown
        changes += len(row.changes)
        early += sum(1 for kind, _, _ in row.runs if kind == EARLY)
        for _, _, _, frame in take.unpack(row):
            np.maximum(peak, frame.slots, out=peak)
        progress(row.next_k, take.next_k)
    runs = list(take.skipped())
    left_out = sum(n for _, n in runs)
    line = f"frames: {frames}, {changes} pictures kept"
    line += f", {early} early" if early else ""
    if left_out:
        at = ", ".join(f"{k / take.header.refresh_hz:.2f} s" for k, _ in runs[:MOST_NAMES])
        line += f", {left_out} left out (at {at}{' …' if len(runs) > MOST_NAMES else ''})"
    else:
        line += ", none left out"
    line += f", {take.lost} lost to a slow disk" if take.lost else ""
    if rig is not None and rig.universes == take.header.universes:
        levels = lamp_levels(rig, Frame(0.0, rig.universes, peak))
        names = [lamp.name for lamp in rig.lamps if levels[lamp.index] > 0.0]
        used = f"lamps lit: {len(names)} of {len(rig.lamps)}"
    else:
        names = [f"{take.header.universes[row]}.{slot + 1}" for row, slot in np.argwhere(peak)]
        used = f"slots lit: {len(names)}"
    more = f" and {len(names) - MOST_NAMES} more" if len(names) > MOST_NAMES else ""
    return [line, used + (": " + ", ".join(names[:MOST_NAMES]) + more if names else "")]
