"""Knows: how a player is asked for soft and hard strokes, what is said of them, and what is written where.

Must never know: devices; how a curve is computed, or how a file's text is changed.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

from bridge.core.ports import PortNames
from bridge.parts.calibration import BOUNCE, Calibration, bounce, calibrate
from bridge.shell.calibrate_text import curve_line, own_curves, with_curve
from bridge.shell.files.report import Report
from bridge.shell.files.source import read_file
from bridge.shell.whole_file import whole_file
from bridge.values.errors import UsageError
from bridge.values.events import Event, NoteOn
from bridge.values.mapping import Mapping

STROKES = 8
"""Strokes of each kind."""

BOM = b"\xef\xbb\xbf"
"""What some editors put before the text."""

Say = Callable[[str], None]
Ask = Callable[[str], str]


class Sitting:
    """One player at one instrument: the strokes that came, and what bounced.

    Args:
        events: what arrives; None where nothing has arrived yet, so that a caller may wait. An iterator that
            ends means that the player has gone.
    """

    def __init__(self, events: Iterable[Event | None], say: Say) -> None:
        self._events: Iterator[Event | None] = iter(events)
        self._say = say
        self._last: dict[tuple[int, int], float] = {}
        self.port = ""
        """The port of the first stroke; strokes on other ports do not count."""
        self.gaps: list[float] = []
        """Seconds between a stroke and its bounce."""

    def strokes(self, kind: str) -> list[int]:
        """The velocities of so many strokes of one kind; fewer where the events end."""
        self._say(f"Play {STROKES} strokes as {kind} as you play in earnest, one at a time.")
        found: list[int] = []
        for event in self._events:
            if not isinstance(event, NoteOn) or not self._counts(event):
                continue
            found.append(event.velocity)
            self._say(f"  {kind} {len(found)} of {STROKES}: velocity {event.velocity}")
            if len(found) == STROKES:
                break
        return found

    def _counts(self, event: NoteOn) -> bool:
        self.port = self.port or event.port
        if event.port != self.port:
            return False
        key = (event.channel, event.note)
        gap = event.stamp - self._last.get(key, -1.0)
        self._last[key] = event.stamp
        if 0.0 <= gap < BOUNCE:
            self.gaps.append(gap)
            return False
        return True


def sit(events: Iterable[Event | None], say: Say, ask: Ask, path: Path, mapping: Mapping) -> bool:
    """Ask for strokes, say what they were like, and write the curve once the player agrees.

    Args:
        ask: puts a question and gives the answer.
        path: the mapping's file. mapping: what it says now.

    Returns:
        True if the file was changed.

    Raises:
        UsageError: too few strokes, strokes that no curve can tell apart, or a file we would spoil.
        DeviceError: the file cannot be written.
    """
    sitting = Sitting(events, say)
    soft = sitting.strokes("softly")
    hard = sitting.strokes("hard") if len(soft) == STROKES else []
    if len(hard) < STROKES:
        raise UsageError(f"{len(soft) + len(hard)} strokes of {2 * STROKES} came; nothing is changed")
    try:
        found = calibrate(soft, hard)
    except ValueError as error:
        remedy = "`curve: full` makes every stroke equally bright; nothing is changed"
        raise UsageError(f"{error}; {remedy}") from None
    old = _text(path)
    for line in measured(found, sitting, mapping, old):
        say(line)
    note = f"measured: soft strokes about {found.soft.middle}, hard about {found.hard.middle}"
    new = with_curve(old, found.points, note)
    say(f"\n{path} would change so:")
    changes = list(difflib.unified_diff(old.splitlines(), new.splitlines(), lineterm="", n=1))
    for line in changes[2:]:
        if not line.startswith("@@"):
            say(f"  {line}")
    if ask("Write it? [y/N] ").strip().casefold() not in ("y", "yes"):
        say("nothing is changed")
        return False
    if _text(path) != old:
        raise UsageError(f"{path} was changed meanwhile; nothing is written, calibrate again")
    mark = BOM if path.read_bytes().startswith(BOM) else b""
    with whole_file(path) as file:
        file.write(mark + new.encode())
    say(f"wrote {path}; a show that plays it has the new touch at its next frame")
    return True


def measured(found: Calibration, sitting: Sitting, mapping: Mapping, text: str) -> Iterator[str]:
    """What was measured, in words, and what the player may make of it."""
    soft, hard = found.soft, found.hard
    yield f"\n{sitting.port}: soft strokes at {soft.low} to {soft.high}, usually {soft.middle}"
    yield f"{' ' * len(sitting.port)}  hard strokes at {hard.low} to {hard.high}, usually {hard.middle}"
    yield "\nA curve that gives these the whole light, for every rule that names none:"
    yield f"  {curve_line(found.points)}"
    yield "In rules you can say further:"
    yield f"  velocity: 1..{found.split} for what soft strokes do"
    yield f"  velocity: {found.split + 1}..127 for what hard strokes do"
    yield "  between: [0.1, 1] where even the softest touch shall be seen"
    if found.least > 1:
        yield f"  min_velocity: {found.least} where an accidental touch shall not count"
    if pause := bounce(sitting.gaps):
        times = "once" if len(sitting.gaps) == 1 else f"{len(sitting.gaps)} times"
        yield f"  ignore_repeat_ms: {pause}, since a stroke sounded twice {times}"
    ports = PortNames(mapping.inputs)
    if own := own_curves(text):
        yield f"Rules on lines {', '.join(map(str, own))} have a curve of their own, which stays."
    others = sorted({rule.source for rule in mapping.keys if not ports.matches(sitting.port, rule.source)})
    if others:
        yield (
            f"Rules from {', '.join(others)} get it too, if they name no curve: to keep their touch, "
            "give them a curve of their own."
        )


def _text(path: Path) -> str:
    report = Report(str(path))
    text = read_file(path, report)
    report.finish()
    return text or ""
